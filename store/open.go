package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"bandbell/store/compliance"
)

// Options say how a database is opened. The zero value is the daemon's.
type Options struct {
	ReadOnly    bool                // no write at all; the file must exist and have this program's schema
	MustExist   bool                // refuse to make a new file: a volume that is not mounted must not start an empty clinic
	Readers     int                 // connections that read at once; 0: 4
	BusyTimeout time.Duration       // how long a write waits for another process; 0: 5 s
	Program     string              // version of this program, kept with the schema it writes; empty: "unknown"
	Settings    compliance.Settings // of the figures; zero: compliance.DefaultSettings
}

// Defaults. Common practice, no source.
const (
	defaultReaders     = 4
	defaultBusyTimeout = 5 * time.Second
)

// DB is an open database. Its methods are safe for concurrent use.
type DB struct {
	path     string
	readOnly bool
	writer   *sql.DB // one connection; nil where ReadOnly
	readers  *sql.DB // query_only
	plans    planCache
	settings compliance.Settings
}

// Errors that callers look for.
var (
	// ErrNotFound says that no such patient, reply or message is on file.
	ErrNotFound = errors.New("not found")
	// ErrReadOnly says that the database was opened for reading.
	ErrReadOnly = errors.New("database is open for reading only")
)

// Open opens the database at path, making it (mode 0600) where there is none,
// and brings its schema up to this program's, after a backup beside it named
// PATH.before-schema-N. A file that is not a bandbell
// database, is damaged, or was written by a newer program is refused with a
// [*RefusedError] and left as it was.
func Open(path string, opts Options) (*DB, error) {
	return openWith(path, opts, migrations)
}

func openWith(path string, opts Options, steps fs.FS) (_ *DB, err error) {
	if opts.Readers <= 0 {
		opts.Readers = defaultReaders
	}
	if opts.BusyTimeout <= 0 {
		opts.BusyTimeout = defaultBusyTimeout
	}
	if opts.Program == "" {
		opts.Program = "unknown"
	}
	if opts.Settings == (compliance.Settings{}) {
		opts.Settings = compliance.DefaultSettings()
	}
	list, err := loadMigrations(steps)
	if err != nil {
		return nil, err
	}
	if err := prepareFile(path, opts); err != nil {
		return nil, err
	}
	version, err := inspect(path, opts, len(list))
	if err != nil {
		return nil, err
	}
	db := &DB{path: path, readOnly: opts.ReadOnly, settings: opts.Settings}
	defer func() {
		if err != nil {
			db.Close()
		}
	}()
	if opts.ReadOnly {
		if version < len(list) {
			return nil, &RefusedError{path, fmt.Sprintf("has schema %d, and this program reads schema %d", version, len(list)),
				"start the daemon once, or run check, to bring it up to date"}
		}
	} else {
		db.writer = sql.OpenDB(connector{dsn(path, writing, opts), writing.wants(opts)})
		db.writer.SetMaxOpenConns(1)
		if version > 0 && version < len(list) {
			if err := db.Backup(context.Background(), beforeSchema(path, version+1)); err != nil {
				return nil, fmt.Errorf("before the schema is changed: %w", err)
			}
		}
		if err := migrate(db.writer, list, opts.Program); err != nil {
			return nil, explain(path, err)
		}
	}
	db.readers = sql.OpenDB(connector{dsn(path, reading, opts), reading.wants(opts)})
	db.readers.SetMaxOpenConns(opts.Readers)
	db.readers.SetMaxIdleConns(opts.Readers)
	if err := db.readers.PingContext(context.Background()); err != nil {
		return nil, explain(path, err)
	}
	return db, nil
}

// beforeSchema names the backup made before a migration to schema n.
func beforeSchema(path string, n int) string { return fmt.Sprintf("%s.before-schema-%d", path, n) }

// Close closes all connections. Work in progress is finished first.
func (db *DB) Close() error {
	var errs []error
	if db.readers != nil {
		errs = append(errs, db.readers.Close())
	}
	if db.writer != nil {
		errs = append(errs, db.writer.Close())
	}
	return errors.Join(errs...)
}

// Path is the file the database was opened from.
func (db *DB) Path() string { return db.path }

// prepareFile makes an empty file that only its owner can read, before SQLite
// would make one that everybody can. SQLite gives -wal and -shm the same mode.
func prepareFile(path string, opts Options) error {
	info, err := os.Stat(path)
	switch {
	case err == nil && info.IsDir():
		return &RefusedError{path, "is a directory", "name the database file inside it"}
	case err == nil && info.Size() == 0 && (opts.MustExist || opts.ReadOnly || exists(path+"-wal")):
		return &RefusedError{path, "is empty",
			"a database never shrinks to nothing by itself: restore a backup, or remove the empty file and run init"}
	case err == nil:
		return nil
	case !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("look for database: %w", err)
	case opts.MustExist || opts.ReadOnly:
		return &RefusedError{path, "does not exist", "run init to make one, or check the path and that its disk is mounted"}
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err != nil {
		return fmt.Errorf("create database: %w", err)
	}
	return f.Close()
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
