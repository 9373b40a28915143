package store

import (
	"github.com/mattn/go-sqlite3"
)

// SQLiteVersion is the version of the SQLite library in this program.
func SQLiteVersion() string {
	version, _, _ := sqlite3.Version()
	return version
}
