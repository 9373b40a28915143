package store

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/fstest"
	"time"

	"bandbell/scheduler/plan"
)

func TestPragmasHoldOnEveryConnection(t *testing.T) {
	db := open(t)
	// sqlite.org/pragma.html: synchronous 2 is FULL.
	for name, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "5000", "query_only": "0"} {
		var got string
		ok(t, db.writer.QueryRow("PRAGMA "+name).Scan(&got))
		if got != want {
			t.Errorf("writer: %s is %s, want %s", name, got, want)
		}
	}
	for range 4 {
		conn := must[*sql.Conn](t)(db.readers.Conn(ctx)) // held, so that the next is another one
		defer conn.Close()
		var got string
		ok(t, conn.QueryRowContext(ctx, "PRAGMA query_only").Scan(&got))
		if got != "1" {
			t.Errorf("reader: query_only is %s", got)
		}
		if _, err := conn.ExecContext(ctx, "DELETE FROM patient"); err == nil {
			t.Error("a reader can write")
		}
	}
}

func TestAConnectionWithOtherPragmasIsRefused(t *testing.T) {
	path := file(t)
	ok(t, must[*DB](t)(Open(path, Options{})).Close())
	opts := Options{BusyTimeout: defaultBusyTimeout}
	// Without the DSN's word the driver says NORMAL (1).
	loose := strings.Replace(dsn(path, writing, opts), "_synchronous=FULL", "_synchronuos=FULL", 1)
	pool := sql.OpenDB(connector{loose, writing.wants(opts)})
	defer pool.Close()
	if err := pool.Ping(); err == nil || !strings.Contains(err.Error(), "synchronous is 1 where 2") {
		t.Errorf("got %v", err)
	}
}

func TestFilesAreTheOwnersOnly(t *testing.T) {
	old := syscall.Umask(0) // the most open one there is
	defer syscall.Umask(old)
	path := file(t)
	db := must[*DB](t)(Open(path, Options{}))
	defer db.Close()
	enrol(t, db, somebody(1), "")
	copyPath := path + ".backup"
	ok(t, db.Backup(ctx, copyPath))
	release := must[func() error](t)(Lock(path))
	defer release()
	for _, name := range []string{path, path + "-wal", path + "-shm", path + ".lock", copyPath} {
		info := must[os.FileInfo](t)(os.Stat(name))
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %v", filepath.Base(name), info.Mode().Perm())
		}
	}
}

// otherApplication makes a database as another program would.
func otherApplication(t *testing.T, path string) {
	db := must[*sql.DB](t)(sql.Open("sqlite3", "file:"+(filepath.ToSlash(path))))
	defer db.Close()
	_, err := db.Exec("CREATE TABLE song (title TEXT); INSERT INTO song VALUES ('x'); PRAGMA user_version = 7")
	ok(t, err)
}

func TestWhatIsNotOursIsRefusedAndLeftAlone(t *testing.T) {
	ours := func(t *testing.T, path string) {
		db := must[*DB](t)(Open(path, Options{Program: "9.8.7"}))
		for i := range 200 {
			must[plan.Patient](t)(db.AddPatient(ctx, somebody(i), "desk:ines", noon))
		}
		ok(t, db.Close())
	}
	for name, c := range map[string]struct {
		make       func(t *testing.T, path string)
		opts       Options
		what, hint string
	}{
		"text": {func(t *testing.T, path string) {
			ok(t, os.WriteFile(path, []byte("patients: none of your business\n"), 0o600))
		}, Options{}, "not a database", "check the path"},
		"shorter than a header": {func(t *testing.T, path string) { ok(t, os.WriteFile(path, []byte("SQLite"), 0o600)) },
			Options{}, "not a database", "check the path"},
		"another program's": {otherApplication, Options{}, "another program's database", "check the path"},
		"truncated": {func(t *testing.T, path string) {
			ours(t, path)
			size := must[os.FileInfo](t)(os.Stat(path)).Size()
			ok(t, os.Truncate(path, size/2))
		}, Options{}, "damaged", "restore the last backup"},
		"newer": {func(t *testing.T, path string) {
			ours(t, path)
			db := must[*sql.DB](t)(sql.Open("sqlite3", "file:"+path))
			defer db.Close()
			_, err := db.Exec("PRAGMA user_version = 4711")
			ok(t, err)
		}, Options{}, "schema 4711, written by version 9.8.7", "run that version"},
		"empty though it must exist": {func(t *testing.T, path string) { ok(t, os.WriteFile(path, nil, 0o600)) },
			Options{MustExist: true}, "is empty", "restore a backup"},
		"empty with a log beside it": {func(t *testing.T, path string) {
			ok(t, os.WriteFile(path, nil, 0o600))
			ok(t, os.WriteFile(path+"-wal", []byte("x"), 0o600))
		}, Options{}, "is empty", "restore a backup"},
		"missing though it must exist": {func(*testing.T, string) {}, Options{MustExist: true}, "does not exist", "run init"},
		"missing and only to be read":  {func(*testing.T, string) {}, Options{ReadOnly: true}, "does not exist", "run init"},
		"a directory":                  {func(t *testing.T, path string) { ok(t, os.Mkdir(path, 0o700)) }, Options{}, "is a directory", "inside it"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "clinic.db")
			c.make(t, path)
			before := contents(t, filepath.Dir(path))
			db, err := Open(path, c.opts)
			if err == nil {
				db.Close()
				t.Fatal("opened")
			}
			var refused *RefusedError
			if !errors.As(err, &refused) {
				t.Fatalf("got %T: %v", err, err)
			}
			if !strings.Contains(refused.What, c.what) || !strings.Contains(refused.Hint, c.hint) || !strings.HasPrefix(err.Error(), path+": ") {
				t.Errorf("got %v", err)
			}
			if after := contents(t, filepath.Dir(path)); after != before {
				t.Errorf("the directory was changed\n%s\n%s", before, after)
			}
		})
	}
}

// contents is every file below a directory with a hash of what is in it.
func contents(t *testing.T, dir string) string {
	t.Helper()
	var b bytes.Buffer
	ok(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		fmt.Fprintf(&b, "%s %x\n", filepath.Base(path), sha256.Sum256(text))
		return err
	}))
	return b.String()
}

func TestMigrationIsWholeOrNothing(t *testing.T) {
	path := file(t)
	first := `CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT; CREATE TABLE a (x INTEGER) STRICT`
	good := fstest.MapFS{"migration/0001.sql": {Data: []byte(first)}}
	ok(t, must[*DB](t)(openWith(path, Options{Program: "1"}, good)).Close())

	broken := fstest.MapFS{
		"migration/0001.sql": {Data: []byte(first)},
		"migration/0002.sql": {Data: []byte("CREATE TABLE b (y INTEGER) STRICT; INSERT INTO a VALUES (1); CREATE TABL c")},
	}
	if _, err := openWith(path, Options{Program: "2"}, broken); err == nil || !strings.Contains(err.Error(), "schema 2") {
		t.Fatalf("got %v", err)
	}
	db := must[*DB](t)(openWith(path, Options{Program: "1"}, good))
	if v := number(t, db, "PRAGMA user_version"); v != 1 {
		t.Errorf("schema is %d after a broken migration", v)
	}
	if n := number(t, db, "SELECT count(*) FROM sqlite_schema WHERE name = 'b'") + number(t, db, "SELECT count(*) FROM a"); n != 0 {
		t.Error("half of a broken migration stayed")
	}
	if n := number(t, db, "SELECT count(*) FROM meta WHERE value = '1'"); n != 1 {
		t.Error("the program's version was changed")
	}
	ok(t, db.Close())

	dangling := fstest.MapFS{
		"migration/0001.sql": {Data: []byte(first)},
		"migration/0002.sql": {Data: []byte("CREATE TABLE b (a INTEGER REFERENCES d (id)); CREATE TABLE d (id INTEGER PRIMARY KEY); PRAGMA defer_foreign_keys = 1; INSERT INTO b VALUES (5)")},
	}
	if _, err := openWith(path, Options{}, dangling); err == nil {
		t.Error("a migration that leaves rows pointing nowhere was taken")
	}

	mended := fstest.MapFS{"migration/0001.sql": {Data: []byte(first)}, "migration/0002.sql": {Data: []byte("CREATE TABLE b (y INTEGER) STRICT")}}
	db = must[*DB](t)(openWith(path, Options{Program: "2"}, mended))
	defer db.Close()
	if v := number(t, db, "PRAGMA user_version"); v != 2 {
		t.Errorf("schema is %d", v)
	}
	if v := number(t, db, "PRAGMA application_id"); v != applicationID {
		t.Errorf("application_id is %#x", v)
	}
	// The way back: what was there before, as it was.
	old := must[*DB](t)(openWith(beforeSchema(path, 2), Options{MustExist: true}, good))
	defer old.Close()
	if v := number(t, old, "PRAGMA user_version"); v != 1 {
		t.Errorf("the backup has schema %d", v)
	}
}

func TestMigrationsMustBeNumberedWithoutAGap(t *testing.T) {
	for name, from := range map[string]fstest.MapFS{
		"none": {},
		"gap":  {"migration/0001.sql": {}, "migration/0003.sql": {}},
	} {
		if _, err := loadMigrations(from); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestAReaderRefusesAnOlderSchema(t *testing.T) {
	path := file(t)
	old := fstest.MapFS{"migration/0001.sql": {Data: []byte("CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL)")}}
	ok(t, must[*DB](t)(openWith(path, Options{}, old)).Close())
	two := fstest.MapFS{"migration/0001.sql": old["migration/0001.sql"], "migration/0002.sql": {Data: []byte("CREATE TABLE b (y)")}}
	_, err := openWith(path, Options{ReadOnly: true}, two)
	var refused *RefusedError
	if !errors.As(err, &refused) || !strings.Contains(refused.What, "schema 1") {
		t.Errorf("got %v", err)
	}
}

func TestReadOnlyWritesNothing(t *testing.T) {
	path := file(t)
	db := must[*DB](t)(Open(path, Options{}))
	p := enrol(t, db, somebody(1), "")
	ok(t, db.Close())
	ro := must[*DB](t)(Open(path, Options{ReadOnly: true}))
	defer ro.Close()
	if got := must[plan.Patient](t)(ro.Patient(ctx, p.Ref)); got.Ref != p.Ref {
		t.Errorf("read %q", got.Ref)
	}
	if err := ro.Stop(ctx, p.Ref, "desk:ines", noon); !errors.Is(err, ErrReadOnly) {
		t.Errorf("Stop: %v", err)
	}
	if err := ro.Backup(ctx, path+".b"); !errors.Is(err, ErrReadOnly) {
		t.Errorf("Backup: %v", err)
	}
}

func TestOneDaemonADatabase(t *testing.T) {
	if path := os.Getenv("STORE_TEST_LOCK"); path != "" {
		_, err := Lock(path) // the other process
		fmt.Printf("got: %v\n", err)
		return
	}
	path := file(t)
	release := must[func() error](t)(Lock(path))
	var locked *LockedError
	if _, err := Lock(path); !errors.As(err, &locked) || locked.PID != os.Getpid() {
		t.Errorf("second lock in this process: %v", err)
	}
	cmd := exec.Command(os.Args[0], "-test.run=^TestOneDaemonADatabase$", "-test.v")
	cmd.Env = append(os.Environ(), "STORE_TEST_LOCK="+path)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), fmt.Sprintf("process %d already runs on this database", os.Getpid())) {
		t.Errorf("second lock in another process: %v\n%s", err, out)
	}
	ok(t, release())
	again := must[func() error](t)(Lock(path))
	ok(t, again())
}

func TestABusyDatabaseIsWaitedForAndNothingIsLost(t *testing.T) {
	path := file(t)
	db := must[*DB](t)(Open(path, Options{BusyTimeout: 50 * time.Millisecond}))
	defer db.Close()
	other := must[*sql.DB](t)(sql.Open("sqlite3", dsn(path, writing, Options{BusyTimeout: time.Second})))
	defer other.Close()
	tx := must[*sql.Tx](t)(other.Begin()) // BEGIN IMMEDIATE by another process
	if _, err := db.AddPatient(ctx, somebody(1), "desk:ines", noon); err == nil {
		t.Fatal("wrote through another's lock")
	}
	ok(t, tx.Rollback())
	must[plan.Patient](t)(db.AddPatient(ctx, somebody(1), "desk:ines", noon))
	if n := number(t, db, "SELECT count(*) FROM patient"); n != 1 {
		t.Errorf("%d patients", n)
	}
}
