package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"bandbell/scheduler/plan"
)

// tx is one transaction with its prepared statements: a batch of a hundred
// rows prepares each query once.
type tx struct {
	ctx   context.Context
	sql   *sql.Tx
	stmts map[string]*sql.Stmt
}

// write runs f in one BEGIN IMMEDIATE transaction and commits it, or rolls
// everything back at the first error. Once begun it is not cancelled: SQLite
// rolls a cancelled transaction back by itself, and what the driver ran after
// that would be committed alone.
func (db *DB) write(ctx context.Context, what string, f func(*tx) error) error {
	if db.writer == nil {
		return fmt.Errorf("%s: %w", what, ErrReadOnly)
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return run(context.WithoutCancel(ctx), db.writer, what, f)
}

// read runs f in one transaction on a reader, so that all it sees is of one
// moment.
func (db *DB) read(ctx context.Context, what string, f func(*tx) error) error {
	return run(ctx, db.readers, what, f)
}

func run(ctx context.Context, pool *sql.DB, what string, f func(*tx) error) error {
	t, err := pool.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("%s: begin: %w", what, err)
	}
	defer t.Rollback() // after a commit it does nothing
	x := &tx{ctx: ctx, sql: t, stmts: map[string]*sql.Stmt{}}
	if err := f(x); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	if err := t.Commit(); err != nil {
		return fmt.Errorf("%s: commit: %w", what, err)
	}
	return nil
}

// stmt prepares a query once and refuses a wrong number of arguments: the
// driver takes too many without a word. No query here holds a ? in a text.
func (x *tx) stmt(query string, args []any) (*sql.Stmt, error) {
	if n := strings.Count(query, "?"); n != len(args) {
		return nil, fmt.Errorf("query wants %d arguments and got %d: %s", n, len(args), query)
	}
	s, ok := x.stmts[query]
	if !ok {
		var err error
		if s, err = x.sql.PrepareContext(x.ctx, query); err != nil {
			return nil, err
		}
		x.stmts[query] = s
	}
	return s, nil
}

// exec runs a statement and returns how many rows it touched.
func (x *tx) exec(query string, args ...any) (int, error) {
	s, err := x.stmt(query, args)
	if err != nil {
		return 0, err
	}
	r, err := s.ExecContext(x.ctx, args...)
	if err != nil {
		return 0, err
	}
	n, err := r.RowsAffected()
	return int(n), err
}

// insert runs an INSERT and returns the new row's id; 0 where an ON CONFLICT
// DO NOTHING found the row on file.
func (x *tx) insert(query string, args ...any) (int64, error) {
	s, err := x.stmt(query, args)
	if err != nil {
		return 0, err
	}
	r, err := s.ExecContext(x.ctx, args...)
	if err != nil {
		return 0, err
	}
	// The last id alone is that of whatever was inserted before.
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return 0, err
	}
	return r.LastInsertId()
}

// one scans the only row of a query; ErrNotFound where there is none.
func (x *tx) one(query string, args []any, to ...any) error {
	s, err := x.stmt(query, args)
	if err != nil {
		return err
	}
	err = s.QueryRowContext(x.ctx, args...).Scan(to...)
	if errors.Is(err, sql.ErrNoRows) {
		return ErrNotFound
	}
	return err
}

// scanner is a row, of one or of many.
type scanner interface{ Scan(...any) error }

// list collects the rows of a query. All are read before it returns: a second
// query on the same connection must not run between two rows.
func list[T any](x *tx, scan func(scanner) (T, error), query string, args ...any) ([]T, error) {
	s, err := x.stmt(query, args)
	if err != nil {
		return nil, err
	}
	rows, err := s.QueryContext(x.ctx, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}

// column scans a row of one value.
func column[T any](row scanner) (v T, err error) { return v, row.Scan(&v) }

// ms is an instant as it is stored; NULL for the zero time.
func ms(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixMilli()
}

// instant scans a stored instant; NULL is the zero time.
type instant struct{ to *time.Time }

// Scan takes what the driver read.
func (i instant) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*i.to = time.Time{}
	case int64:
		*i.to = time.UnixMilli(v).UTC()
	default:
		return fmt.Errorf("an instant is stored as %T", v)
	}
	return nil
}

// day is a date as it is stored; NULL for the zero date.
func day(d plan.Date) any {
	if d.IsZero() {
		return nil
	}
	return d.String()
}

// date scans a stored local day; NULL is the zero date.
type date struct{ to *plan.Date }

// Scan takes what the driver read.
func (d date) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*d.to = plan.Date{}
		return nil
	case string:
		return d.to.UnmarshalText([]byte(v))
	case []byte:
		return d.to.UnmarshalText(v)
	}
	return fmt.Errorf("a local day is stored as %T", v)
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}
