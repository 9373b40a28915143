package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed migration/*.sql
var migrations embed.FS

// loadMigrations reads migration/0001.sql, 0002.sql and so on. The number of a
// file is the schema version it leads to; a gap is a fault of the build.
func loadMigrations(from fs.FS) ([]string, error) {
	names, err := fs.Glob(from, "migration/*.sql")
	if err != nil {
		return nil, fmt.Errorf("list migrations: %w", err)
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("no migrations in the program")
	}
	var list []string
	for i, name := range names {
		if want := fmt.Sprintf("migration/%04d.sql", i+1); name != want {
			return nil, fmt.Errorf("migration %s is missing: found %s", want, name)
		}
		text, err := fs.ReadFile(from, name)
		if err != nil {
			return nil, fmt.Errorf("read migration: %w", err)
		}
		list = append(list, string(text))
	}
	return list, nil
}

// migrate runs the migrations the file has not had, each in one transaction
// with its version number: a broken one leaves everything as it was.
func migrate(writer *sql.DB, list []string, program string) error {
	ctx := context.Background()
	for {
		done, err := migrateOne(ctx, writer, list, program)
		if err != nil || done {
			return err
		}
	}
}

func migrateOne(ctx context.Context, writer *sql.DB, list []string, program string) (done bool, err error) {
	// The version is read inside the transaction: another process may be at it.
	tx, err := writer.BeginTx(ctx, nil)
	if err != nil {
		return false, fmt.Errorf("begin migration: %w", err)
	}
	defer tx.Rollback()
	var version int
	if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return false, fmt.Errorf("read schema version: %w", err)
	}
	if version >= len(list) {
		return true, nil
	}
	step := version + 1
	if _, err := tx.ExecContext(ctx, list[version]); err != nil {
		return false, fmt.Errorf("migrate to schema %d: %w", step, err)
	}
	if _, err := tx.ExecContext(ctx,
		"INSERT INTO meta (key, value) VALUES ('program', ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value", program); err != nil {
		return false, fmt.Errorf("note program version: %w", err)
	}
	if broken, err := brokenKeys(ctx, tx); err != nil {
		return false, err
	} else if len(broken) > 0 {
		return false, fmt.Errorf("migrate to schema %d: rows point nowhere: %s", step, strings.Join(broken, "; "))
	}
	// Both PRAGMAs write the header inside the transaction.
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, step)); err != nil {
		return false, fmt.Errorf("note schema version: %w", err)
	}
	if err := tx.Commit(); err != nil {
		return false, fmt.Errorf("commit migration to schema %d: %w", step, err)
	}
	return false, nil
}

// SchemaVersion is the schema this program writes.
func SchemaVersion() int {
	list, err := loadMigrations(migrations)
	if err != nil {
		return 0
	}
	return len(list)
}
