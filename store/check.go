package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// Check asks SQLite whether the file is whole and every row points to one that
// exists. It reads the whole file.
func (db *DB) Check(ctx context.Context) error {
	return check(ctx, db.readers, db.path)
}

func check(ctx context.Context, pool *sql.DB, path string) error {
	rows, err := pool.QueryContext(ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		return explain(path, err)
	}
	said, err := texts(rows, 1)
	if err != nil {
		return explain(path, err)
	}
	if len(said) != 1 || said[0] != "ok" {
		return &RefusedError{path, "is damaged: " + strings.Join(said, "; "), hintDamaged}
	}
	broken, err := brokenKeys(ctx, pool)
	if err != nil {
		return err
	}
	if len(broken) > 0 {
		return &RefusedError{path, "has rows that point nowhere: " + strings.Join(broken, "; "), hintDamaged}
	}
	return nil
}

// brokenKeys lists the rows that point to a row that does not exist.
func brokenKeys(ctx context.Context, q interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}) ([]string, error) {
	rows, err := q.QueryContext(ctx, "PRAGMA foreign_key_check")
	if err != nil {
		return nil, fmt.Errorf("check foreign keys: %w", err)
	}
	broken, err := texts(rows, 4)
	if err != nil {
		return nil, fmt.Errorf("check foreign keys: %w", err)
	}
	return broken, nil
}

// texts reads rows of so many columns as lines of text.
func texts(rows *sql.Rows, columns int) ([]string, error) {
	defer rows.Close()
	var out []string
	for rows.Next() {
		v := make([]sql.NullString, columns)
		to := make([]any, columns)
		for i := range v {
			to[i] = &v[i]
		}
		if err := rows.Scan(to...); err != nil {
			return nil, err
		}
		words := make([]string, columns)
		for i := range v {
			words[i] = v[i].String
		}
		out = append(out, strings.Join(words, " "))
	}
	return out, rows.Err()
}
