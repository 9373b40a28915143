package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Backup writes a copy of the database to path while it is in use. The copy is
// made under a temporary name beside it (mode 0600), synced, opened, checked
// whole and counted table by table against the source, and only then takes the
// name. A file that stands at path already is replaced at that moment, and kept
// if anything fails before.
func (db *DB) Backup(ctx context.Context, path string) (err error) {
	if db.writer == nil {
		return fmt.Errorf("back up: %w", ErrReadOnly)
	}
	if same, err := sameFile(path, db.path); err != nil {
		return fmt.Errorf("back up: %w", err)
	} else if same {
		return fmt.Errorf("back up: %s is the database itself; name another file", path)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part") // mode 0600
	if err != nil {
		return fmt.Errorf("back up: %w", err)
	}
	temp := f.Name()
	defer func() {
		f.Close()
		if err != nil {
			os.Remove(temp)
		}
	}()
	if err := db.copyTo(ctx, temp); err != nil {
		return fmt.Errorf("back up: %w", explain(temp, err))
	}
	if err := f.Sync(); err != nil { // the same inode: SQLite wrote into this file
		return fmt.Errorf("back up: sync copy: %w", err)
	}
	if err := os.Rename(temp, path); err != nil {
		return fmt.Errorf("back up: %w", err)
	}
	return syncDir(filepath.Dir(path))
}

// copyTo copies the database into an empty file and holds the copy against it.
//
// It has a connection of its own, so that sending goes on meanwhile. Rows may
// come in between the copy and the counts, so every table of the copy must have
// no fewer rows than before it and no more than after it. Day records are the
// one kind that is ever taken away, for a moment; then it is copied anew.
func (db *DB) copyTo(ctx context.Context, temp string) error {
	pool := sql.OpenDB(connector{dsn(db.path, copying, Options{BusyTimeout: defaultBusyTimeout}), nil})
	defer pool.Close()
	conn, err := pool.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	var wrong string
	for range 3 {
		before, err := rowCounts(ctx, conn)
		if err != nil {
			return err
		}
		if err := os.Truncate(temp, 0); err != nil {
			return err
		}
		if _, err := conn.ExecContext(ctx, "VACUUM INTO ?", temp); err != nil {
			return err
		}
		after, err := rowCounts(ctx, conn)
		if err != nil {
			return err
		}
		got, err := verify(ctx, temp)
		if err != nil {
			return fmt.Errorf("the copy is not good: %w", err)
		}
		if wrong = differ(before, got, after); wrong == "" {
			return nil
		}
	}
	return fmt.Errorf("the copy is not good: %s", wrong)
}

// verify opens the copy by itself, checks it whole and counts its rows.
func verify(ctx context.Context, path string) (map[string]int, error) {
	ro := sql.OpenDB(connector{dsn(path, looking, Options{BusyTimeout: defaultBusyTimeout}), nil})
	defer ro.Close()
	if err := check(ctx, ro, path); err != nil {
		return nil, err
	}
	conn, err := ro.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	return rowCounts(ctx, conn)
}

func rowCounts(ctx context.Context, conn *sql.Conn) (map[string]int, error) {
	rows, err := conn.QueryContext(ctx, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
	if err != nil {
		return nil, fmt.Errorf("list tables: %w", err)
	}
	tables, err := texts(rows, 1)
	if err != nil {
		return nil, fmt.Errorf("list tables: %w", err)
	}
	counts := make(map[string]int, len(tables))
	for _, t := range tables {
		var n int
		if err := conn.QueryRowContext(ctx, `SELECT count(*) FROM "`+t+`"`).Scan(&n); err != nil {
			return nil, fmt.Errorf("count rows of %s: %w", t, err)
		}
		counts[t] = n
	}
	return counts, nil
}

// differ says in which table the copy has too few or too many rows, or "".
func differ(before, got, after map[string]int) string {
	for t, least := range before {
		n, ok := got[t]
		if most := max(least, after[t]); !ok || n < min(least, after[t]) || n > most {
			return fmt.Sprintf("table %s has %d rows in the copy and %d in the database", t, n, most)
		}
	}
	if len(got) != len(before) {
		return fmt.Sprintf("the copy has %d tables and the database %d", len(got), len(before))
	}
	return ""
}

func sameFile(a, b string) (bool, error) {
	ai, err := os.Stat(a)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	bi, err := os.Stat(b)
	if err != nil {
		return false, err
	}
	return os.SameFile(ai, bi), nil
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("back up: sync directory: %w", err)
	}
	defer d.Close()
	if err := d.Sync(); err != nil {
		return fmt.Errorf("back up: sync directory: %w", err)
	}
	return nil
}
