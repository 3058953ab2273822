package journal

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/gofrs/flock"
)

// ErrLocked says that somebody else holds the journal for writing.
var ErrLocked = errors.New("somebody else rules in this race")

// keeper is the right to write.
type keeper interface {
	held() error // nil while it is ours
	release() error
}

// fileLock is an advisory lock on a file beside the journal. The system frees it when its
// process ends, however that ends. The file is never deleted: who deletes it lets a second
// writer in.
type fileLock struct {
	path     string
	lock     *flock.Flock
	unsigned error // why others aren't told who holds it: a full disk; it holds all the same
}

func takeLock(path string) (*fileLock, error) {
	l := &fileLock{path: path}
	if err := l.take(); err != nil {
		return nil, err
	}
	return l, nil
}

func (l *fileLock) take() error {
	k := flock.New(l.path, flock.SetPermissions(private))
	ok, err := k.TryLock()
	if err != nil {
		return fmt.Errorf("the race can't be locked: %w", err)
	}
	if !ok {
		return fmt.Errorf("%w: %s", ErrLocked, holder(l.path))
	}
	l.lock, l.unsigned = k, sign(l.path)
	return nil
}

// held makes sure that the file at the path is still the one that is locked; one that was
// deleted is made and locked anew, if nobody else was quicker.
func (l *fileLock) held() error {
	ours, err := l.lock.Stat()
	if err == nil && l.lock.Locked() {
		if there, err := os.Stat(l.path); err == nil && os.SameFile(ours, there) {
			return nil
		}
	}
	old := l.lock
	if err := l.take(); err != nil {
		return err
	}
	return old.Unlock()
}

func (l *fileLock) release() error { return l.lock.Unlock() }

// The first byte of the file is the one that some systems lock; who holds it stands behind it.
const signLength = 120

// sign writes who holds the lock, for others to read.
func sign(path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY, private)
	if err != nil {
		return err
	}
	text := fmt.Sprintf("process %d", os.Getpid())
	if host, err := os.Hostname(); err == nil {
		text += " on " + host
	}
	_, err = fmt.Fprintf(io.NewOffsetWriter(f, 1), "%-*.*s\n", signLength-1, signLength-1, text)
	return errors.Join(err, f.Close())
}

// holder tells who holds the lock.
func holder(path string) string {
	f, err := os.Open(path)
	if err != nil {
		return "another process"
	}
	defer f.Close()
	b := make([]byte, signLength)
	n, _ := f.ReadAt(b, 1)
	if s := strings.TrimSpace(strings.ToValidUTF8(string(b[:n]), "?")); s != "" {
		return s
	}
	return "another process"
}
