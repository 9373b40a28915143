package store

import (
	"context"
	"fmt"

	"github.com/mattn/go-sqlite3"
)

// SQLiteVersion is the version of the SQLite library in this program.
func SQLiteVersion() string {
	version, _, _ := sqlite3.Version()
	return version
}

// Ping asks the database for a sign of life.
func (db *DB) Ping(ctx context.Context) error {
	if err := db.readers.PingContext(ctx); err != nil {
		return fmt.Errorf("ask the database: %w", err)
	}
	return nil
}
