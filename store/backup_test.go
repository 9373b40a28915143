package store

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"bandbell/scheduler/plan"
)

func TestBackup(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	sent(t, db, p, change(today, "PCD", noon))
	dir := t.TempDir()
	path := filepath.Join(dir, "copy #1?.db")
	ok(t, os.WriteFile(path, []byte("yesterday's"), 0o644))
	// The log has not been brought into the file, so a copy of the file alone
	// would lack most of it.
	ok(t, db.Backup(ctx, path))
	if names := must[[]os.DirEntry](t)(os.ReadDir(dir)); len(names) != 1 || names[0].Name() != filepath.Base(path) {
		t.Errorf("left behind: %v", names)
	}
	again := must[*DB](t)(Open(path, Options{MustExist: true}))
	defer again.Close()
	ok(t, again.Check(ctx))
	got, want := must[Counts](t)(again.Counts(ctx)), must[Counts](t)(db.Counts(ctx))
	if got.Nudges[plan.BandChange][plan.Accepted] != 1 || got.Patients != want.Patients {
		t.Errorf("the copy has %+v, the database %+v", got, want)
	}
	// What the copy knows as sent is not sent again.
	if jobs := must[[]plan.Job](t)(again.Claim(ctx, noon, 5)); len(jobs) != 0 {
		t.Errorf("the copy would send %+v", jobs)
	}
}

func TestBackupWhileWriting(t *testing.T) {
	db := open(t)
	c, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := 0; c.Err() == nil; i++ {
			if _, err := db.AddPatient(ctx, somebody(i), "desk:ines", noon); err != nil {
				t.Error(err)
			}
		}
	})
	for range 5 {
		ok(t, db.Backup(ctx, db.Path()+".backup"))
	}
	cancel()
	wg.Wait()
}

func TestAFailedBackupKeepsTheOldOne(t *testing.T) {
	db := open(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "copy.db")
	ok(t, os.WriteFile(path, []byte("yesterday's"), 0o600))
	// A row that points nowhere: no copy of it is a good one.
	loose := must[*sql.DB](t)(sql.Open("sqlite3", strings.Replace(dsn(db.Path(), writing, Options{}), "_foreign_keys=on", "_foreign_keys=off", 1)))
	defer loose.Close()
	_, err := loose.Exec("INSERT INTO plan_version (patient_id, number, first, zone, created, by, plan) VALUES (99, 1, '', '', 0, '', '{}')")
	ok(t, err)
	if err := db.Backup(ctx, path); err == nil || !strings.Contains(err.Error(), "point nowhere") {
		t.Errorf("got %v", err)
	}
	if err := db.Check(ctx); err == nil || !strings.Contains(err.Error(), "plan_version") {
		t.Errorf("check: %v", err)
	}
	if b := must[[]byte](t)(os.ReadFile(path)); string(b) != "yesterday's" {
		t.Error("the old backup is gone")
	}
	if names := must[[]os.DirEntry](t)(os.ReadDir(dir)); len(names) != 1 {
		t.Errorf("left behind: %v", names)
	}
	if err := db.Backup(ctx, db.Path()); err == nil || !strings.Contains(err.Error(), "the database itself") {
		t.Errorf("onto itself: %v", err)
	}
	if err := db.Backup(ctx, filepath.Join(dir, "no", "such", "place")); err == nil {
		t.Error("into a directory that does not exist")
	}
}

func TestDiffer(t *testing.T) {
	for name, c := range map[string]struct {
		before, got, after map[string]int
		fine               bool
	}{
		"the same":             {map[string]int{"a": 2}, map[string]int{"a": 2}, map[string]int{"a": 2}, true},
		"grown before":         {map[string]int{"a": 2}, map[string]int{"a": 3}, map[string]int{"a": 3}, true},
		"grown after":          {map[string]int{"a": 2}, map[string]int{"a": 2}, map[string]int{"a": 3}, true},
		"one row lost":         {map[string]int{"a": 2}, map[string]int{"a": 1}, map[string]int{"a": 2}, false},
		"one row too many":     {map[string]int{"a": 2}, map[string]int{"a": 3}, map[string]int{"a": 2}, false},
		"a table lost":         {map[string]int{"a": 2, "b": 0}, map[string]int{"a": 2}, map[string]int{"a": 2, "b": 0}, false},
		"a table from nowhere": {map[string]int{"a": 2}, map[string]int{"a": 2, "b": 0}, map[string]int{"a": 2}, false},
	} {
		if said := differ(c.before, c.got, c.after); (said == "") != c.fine {
			t.Errorf("%s: %q", name, said)
		}
	}
}
