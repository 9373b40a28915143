package store

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// LockedError says that another process holds the daemon's lock.
type LockedError struct {
	Path string // of the lock file
	PID  int    // who holds it; 0: not known
}

// Error says who holds the lock and what to do.
func (e *LockedError) Error() string {
	who := "another process"
	if e.PID > 0 {
		who = fmt.Sprintf("process %d", e.PID)
	}
	return fmt.Sprintf("%s: %s already runs on this database\n  hint: stop it first; two daemons on one database would send twice", e.Path, who)
}

// Lock takes the exclusive lock of the database at path: the one right to send.
// It is a lock of the operating system on path.lock, so it ends with the
// process however that dies; the file itself stays. Where another process
// holds it the error is a [*LockedError]. release may be called once.
func Lock(path string) (release func() error, err error) {
	name := path + ".lock"
	f, err := os.OpenFile(name, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open lock: %w", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		defer f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, &LockedError{Path: name, PID: holder(f)}
		}
		return nil, fmt.Errorf("lock %s: %w", name, err)
	}
	// The number is for the message only; the lock does not rest on it.
	err = f.Truncate(0)
	if err == nil {
		_, err = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	}
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("write lock: %w", err)
	}
	return f.Close, nil
}

func holder(f *os.File) int {
	b, err := io.ReadAll(io.LimitReader(f, 32))
	if err != nil {
		return 0
	}
	pid, err := strconv.Atoi(strings.TrimSpace(string(b)))
	if err != nil {
		return 0
	}
	return pid
}
