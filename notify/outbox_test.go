package notify

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"sort"
	"sync"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// shelf is an outbox in memory that writes down every step and refuses the
// impossible ones, as the real one must.
type shelf struct {
	t  *testing.T
	mu sync.Mutex

	rows  map[int64]*plan.Job
	spent map[int64]bool // the resend of an uncertain row was used
	steps []string
	next  map[int64]time.Time
	dead  bool // the process that used it is gone: writes have no effect
	fail  map[string]error
}

func newShelf(t *testing.T, jobs ...plan.Job) *shelf {
	s := &shelf{t: t, rows: map[int64]*plan.Job{}, spent: map[int64]bool{}, next: map[int64]time.Time{}, fail: map[string]error{}}
	for _, j := range jobs {
		s.rows[j.ID] = &j
	}
	return s
}

var errDead = errors.New("the process is gone")

func (s *shelf) note(verb string, id int64) error {
	if s.dead {
		return errDead
	}
	if err := s.fail[verb]; err != nil {
		s.steps = append(s.steps, fmt.Sprintf("%s! %d", verb, id))
		return err
	}
	s.steps = append(s.steps, fmt.Sprintf("%s %d", verb, id))
	return nil
}

func (s *shelf) move(verb string, id int64, to plan.State, reason string, from ...plan.State) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.note(verb, id); err != nil {
		return err
	}
	row := s.rows[id]
	for _, f := range from {
		if row.State == f {
			row.State, row.Reason = to, reason
			return nil
		}
	}
	s.t.Errorf("%s of message %d from state %s", verb, id, row.State)
	return fmt.Errorf("impossible step")
}

func (s *shelf) Claim(ctx context.Context, now time.Time, limit int) ([]plan.Job, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.dead {
		return nil, errDead
	}
	if err := s.fail["claim"]; err != nil {
		return nil, err
	}
	var out []plan.Job
	ids := make([]int64, 0, len(s.rows))
	for id := range s.rows {
		ids = append(ids, id)
	}
	sort.Slice(ids, func(i, j int) bool { return ids[i] < ids[j] })
	for _, id := range ids {
		row := s.rows[id]
		open := row.State == plan.Planned || row.State == plan.Retry && !now.Before(s.next[id]) ||
			row.State == plan.Uncertain && !s.spent[id]
		if !open || len(out) == limit || now.Before(row.Due) || !row.Until.IsZero() && !now.Before(row.Until) {
			continue
		}
		if row.State == plan.Uncertain {
			s.spent[id] = true
		}
		row.State = plan.Claimed
		row.Attempt++
		s.steps = append(s.steps, fmt.Sprintf("claim %d", id))
		out = append(out, *row)
	}
	return out, nil
}

func (s *shelf) Composed(ctx context.Context, id int64, c plan.Composed) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.note("composed", id); err != nil {
		return err
	}
	row := s.rows[id]
	if row.State != plan.Claimed || row.Bytes != nil {
		s.t.Errorf("composed message %d in state %s, bytes on file: %v", id, row.State, row.Bytes != nil)
	}
	row.Bytes, row.MessageID, row.Version = bytes.Clone(c.Bytes), c.MessageID, c.Version
	return nil
}

func (s *shelf) DotSent(ctx context.Context, id int64, now time.Time) error {
	return s.move("dot", id, plan.DotSent, "", plan.Claimed)
}

func (s *shelf) Accepted(ctx context.Context, id int64, now time.Time) error {
	return s.move("accepted", id, plan.Accepted, "", plan.DotSent)
}

func (s *shelf) Retry(ctx context.Context, id int64, next time.Time, reason string, now time.Time) error {
	s.mu.Lock()
	if row := s.rows[id]; !row.Until.IsZero() && !next.Before(row.Until) {
		s.t.Errorf("message %d is put off to or beyond the end of its window", id)
	}
	if !s.dead {
		s.next[id] = next
	}
	s.mu.Unlock()
	return s.move("retry", id, plan.Retry, reason, plan.Claimed, plan.DotSent)
}

func (s *shelf) Uncertain(ctx context.Context, id int64, reason string, now time.Time) error {
	return s.move("uncertain", id, plan.Uncertain, reason, plan.DotSent)
}

func (s *shelf) Fail(ctx context.Context, id int64, reason string, now time.Time) error {
	return s.move("fail", id, plan.Failed, reason, plan.Claimed, plan.DotSent)
}

func (s *shelf) FailAddress(ctx context.Context, id int64, reason string, now time.Time) error {
	return s.move("dead", id, plan.Failed, reason, plan.Claimed, plan.DotSent)
}

func (s *shelf) Lapse(ctx context.Context, id int64, reason string, now time.Time) error {
	return s.move("lapse", id, plan.Lapsed, reason, plan.Claimed, plan.DotSent)
}

func (s *shelf) Recover(ctx context.Context, now time.Time) (n int, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, row := range s.rows {
		switch row.State {
		case plan.Claimed:
			row.State = plan.Retry
			s.next[row.ID] = now
			n++
		case plan.DotSent:
			row.State = plan.Uncertain
			n++
		}
	}
	return n, nil
}

// row is a copy of one row.
func (s *shelf) row(id int64) plan.Job {
	s.mu.Lock()
	defer s.mu.Unlock()
	return *s.rows[id]
}

func (s *shelf) log() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string{}, s.steps...)
}

func (s *shelf) breakOn(verb string, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fail[verb] = err
}
