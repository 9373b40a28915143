package store

import (
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/mattn/go-sqlite3"
)

// RefusedError says why a file is not opened as a database, and what to do.
// The file is as it was.
type RefusedError struct {
	Path string
	What string
	Hint string
}

// Error is the path, what is wrong, and the hint on a line of its own.
func (e *RefusedError) Error() string {
	return fmt.Sprintf("%s: %s\n  hint: %s", e.Path, e.What, e.Hint)
}

// applicationID marks a database as ours in its header (PRAGMA application_id):
// the letters BdBl.
const applicationID = 0x4264426c

// magic begins every SQLite 3 file (sqlite.org/fileformat2.html, section 1.3).
const magic = "SQLite format 3\x00"

const (
	hintForeign = "check the path; bandbell makes its own file and does not open another program's"
	hintDamaged = "stop the daemon, keep a copy of the file with its -wal and -shm, then restore the last backup"
)

// inspect looks at the file without changing it and returns its schema
// version, 0 for an empty file.
func inspect(path string, opts Options, newest int) (int, error) {
	head, err := header(path)
	switch {
	case err != nil:
		return 0, err
	case len(head) == 0:
		return 0, nil
	case string(head) != magic:
		return 0, &RefusedError{path, "is not a database: it does not begin as an SQLite file does", hintForeign}
	}
	ro := sql.OpenDB(connector{dsn(path, looking, opts), nil})
	defer ro.Close()
	ro.SetMaxOpenConns(1)
	var id, version, tables int
	for q, to := range map[string]*int{
		"PRAGMA application_id":              &id,
		"PRAGMA user_version":                &version,
		"SELECT count(*) FROM sqlite_schema": &tables,
	} {
		if err := ro.QueryRow(q).Scan(to); err != nil {
			return 0, explain(path, err)
		}
	}
	switch {
	case id == 0 && version == 0 && tables == 0:
		return 0, nil // made, and left before its first migration
	case id != applicationID:
		return 0, &RefusedError{path, fmt.Sprintf("is another program's database (application_id %#x)", uint32(id)), hintForeign}
	case version > newest:
		by := "a newer version"
		var program string
		if err := ro.QueryRow("SELECT value FROM meta WHERE key = 'program'").Scan(&program); err == nil {
			by = "version " + program
		}
		return 0, &RefusedError{path,
			fmt.Sprintf("has schema %d, written by %s of bandbell; this program knows schemas up to %d", version, by, newest),
			"run that version or a newer one, or restore a backup made before the upgrade"}
	}
	return version, nil
}

// header reads as much of the file as tells what it is.
func header(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	defer f.Close()
	b := make([]byte, len(magic))
	n, err := io.ReadFull(f, b)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, fmt.Errorf("read database: %w", err)
	}
	return b[:n], nil
}

// explain turns what SQLite says of a bad file into something to act on.
func explain(path string, err error) error {
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code {
	case sqlite3.ErrNotADB:
		return &RefusedError{path, "is not a database SQLite can read", hintForeign}
	case sqlite3.ErrCorrupt:
		return &RefusedError{path, "is damaged: " + e.Error(), hintDamaged}
	case sqlite3.ErrReadonly, sqlite3.ErrCantOpen, sqlite3.ErrPerm:
		return &RefusedError{path, "cannot be opened for this: " + e.Error(),
			"the file and its directory must be writable by this user, with room on the disk"}
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		return fmt.Errorf("%s: another program holds the database: %w", path, err)
	}
	return err
}
