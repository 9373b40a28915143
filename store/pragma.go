package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"io"
	"maps"
	"net/url"
	"slices"
	"strconv"

	"github.com/mattn/go-sqlite3"
)

// mode is what a connection is for.
type mode int

const (
	writing mode = iota // the one connection that writes
	reading             // refuses to write
	looking             // looks at a file that may not be ours
	copying             // reads ours to write a copy beside it, which query_only would forbid
)

// dsn is the one place that makes a data source name. The driver ignores keys
// it does not know and, without the file: scheme, drops mode=ro; a # or ? in a
// path would cut it. So the path is escaped and every setting is read back.
func dsn(path string, m mode, opts Options) string {
	q := url.Values{}
	q.Set("_busy_timeout", strconv.FormatInt(opts.BusyTimeout.Milliseconds(), 10))
	switch m {
	case writing:
		q.Set("mode", "rw")
		q.Set("_journal_mode", "WAL")
		q.Set("_synchronous", "FULL") // the driver's own default would lose the last commits in a power cut
		q.Set("_foreign_keys", "on")
		q.Set("_txlock", "immediate")
	case reading:
		q.Set("mode", "rw") // a reader of a WAL database may have to make the -shm file
		if opts.ReadOnly {
			q.Set("mode", "ro")
		}
		q.Set("_query_only", "true")
		q.Set("_foreign_keys", "on")
	case copying:
		q.Set("mode", "rw")
	case looking:
		q.Set("mode", "ro")
		q.Set("_query_only", "true")
		if !exists(path + "-wal") {
			// Nobody has it open, so all of it is in the file; without this
			// even a look would leave -wal and -shm beside it.
			q.Set("immutable", "1")
		}
	}
	return (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: q.Encode()}).String()
}

// wants lists what the connection's PRAGMAs must say when read back.
func (m mode) wants(opts Options) map[string]string {
	want := map[string]string{
		"busy_timeout": strconv.FormatInt(opts.BusyTimeout.Milliseconds(), 10),
		"foreign_keys": "1",
		"journal_mode": "wal",
	}
	switch m {
	case writing:
		want["synchronous"] = "2" // FULL
		want["query_only"] = "0"
	case reading:
		want["query_only"] = "1"
	}
	return want
}

// connector opens connections and refuses one whose PRAGMAs are not as asked:
// they hold for a connection, not for a file, so each new one is checked.
type connector struct {
	dsn  string
	want map[string]string
}

// Driver is the SQLite driver.
func (c connector) Driver() driver.Driver { return &sqlite3.SQLiteDriver{} }

// Connect opens one connection and reads its PRAGMAs back.
func (c connector) Connect(context.Context) (driver.Conn, error) {
	conn, err := c.Driver().Open(c.dsn)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	for _, name := range slices.Sorted(maps.Keys(c.want)) {
		got, err := pragma(conn, name)
		if err == nil && got != c.want[name] {
			err = fmt.Errorf("PRAGMA %s is %s where %s was asked for; refusing to run", name, got, c.want[name])
		}
		if err != nil {
			conn.Close()
			return nil, err
		}
	}
	return conn, nil
}

// pragma reads one PRAGMA of a connection as text.
func pragma(conn driver.Conn, name string) (string, error) {
	rows, err := conn.(driver.QueryerContext).QueryContext(context.Background(), "PRAGMA "+name, nil)
	if err != nil {
		return "", fmt.Errorf("read PRAGMA %s: %w", name, err)
	}
	defer rows.Close()
	v := make([]driver.Value, len(rows.Columns()))
	if err := rows.Next(v); err == io.EOF || len(v) == 0 {
		return "", fmt.Errorf("PRAGMA %s says nothing", name)
	} else if err != nil {
		return "", fmt.Errorf("read PRAGMA %s: %w", name, err)
	}
	if b, ok := v[0].([]byte); ok {
		return string(b), nil
	}
	return fmt.Sprint(v[0]), nil
}
