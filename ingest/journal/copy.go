package journal

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"sync"
	"time"
)

// CopyStatus is how the copy in a second folder stands.
type CopyStatus struct {
	Dir    string // "" : none was asked for
	Behind int    // rulings that are not there yet
	Err    error  // of the last try
}

// copier carries the journal to a second folder, a stick or a share. Rulings never wait for
// it: it works in a goroutine of its own, and tries again what failed.
type copier struct {
	disk disk
	dir  string
	wake chan struct{} // capacity 1
	done chan struct{} // closed by run

	mu      sync.Mutex // guards what follows
	want    []byte     // never changed in place
	seq     int        // last ruling in want
	there   int        // last ruling in the copy
	err     error
	closing bool
}

// copyAgain is how soon a copy that failed is tried again: a stick may have come back.
const copyAgain = 5 * time.Second

// closeWait is how long a closing journal waits for its copy: a stick that hangs must not
// keep the program.
const closeWait = 3 * time.Second

// CopyTo keeps a copy of the journal in a second folder from now on, and makes the first one
// before it returns. It replaces an earlier folder. A file of the same name that doesn't hold
// the beginning of these rulings is left alone, and is an error. The copy is a whole
// rulings.jsonl: with a copy of the race folder's other files it can be taken over.
func (j *Journal) CopyTo(dir string) error {
	if filepath.Clean(dir) == filepath.Dir(j.path) {
		return errors.New("a copy beside the rulings themselves is none")
	}
	c := &copier{disk: j.disk, dir: dir, wake: make(chan struct{}, 1), done: make(chan struct{})}
	kept, seq := j.now()
	if err := errors.Join(c.disk.mkdir(dir), c.write(kept, true)); err != nil { // a slow stick keeps no ruling waiting
		return fmt.Errorf("the copy in %s: %w", dir, err)
	}
	c.there, c.seq, c.want = seq, seq, kept
	j.mu.Lock()
	if j.closed {
		j.mu.Unlock()
		return errors.New("the journal is closed")
	}
	old := j.copy
	j.copy = c
	go c.run()
	j.mu.Unlock()
	if old != nil {
		old.close()
	}
	c.offer(j.now())
	return nil
}

// now is what is kept and the number of its last ruling.
func (j *Journal) now() ([]byte, int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	seq := 0
	if n := len(j.rulings); n > 0 {
		seq = j.rulings[n-1].Seq
	}
	return j.kept[:len(j.kept):len(j.kept)], seq
}

// Copy tells how the copy stands.
func (j *Journal) Copy() CopyStatus {
	j.mu.Lock()
	c := j.copy
	j.mu.Unlock()
	if c == nil {
		return CopyStatus{}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	return CopyStatus{c.dir, c.seq - c.there, c.err}
}

// offer hands over the journal as it now is; kept is only ever appended to.
func (c *copier) offer(kept []byte, seq int) {
	c.mu.Lock()
	if seq >= c.seq { // two may hand over at once
		c.want, c.seq = kept[:len(kept):len(kept)], seq
	}
	c.mu.Unlock()
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

func (c *copier) run() {
	defer close(c.done)
	again := time.NewTimer(copyAgain)
	defer again.Stop()
	for {
		select {
		case <-c.wake:
		case <-again.C:
		}
		c.mu.Lock()
		want, seq, behind, closing := c.want, c.seq, c.seq > c.there || c.err != nil, c.closing
		c.mu.Unlock()
		if behind {
			err := c.write(want, false)
			c.mu.Lock()
			if c.err = err; err == nil {
				c.there = seq
			}
			c.mu.Unlock()
		}
		if closing {
			return
		}
		again.Reset(copyAgain)
	}
}

func (c *copier) close() {
	c.mu.Lock()
	c.closing = true
	c.mu.Unlock()
	select {
	case c.wake <- struct{}{}:
	default:
	}
	select {
	case <-c.done:
	case <-time.After(closeWait):
	}
}

// write brings the copy to hold want. Only the first time it makes the file: where a stick
// was pulled out, its empty mount point must not be filled instead.
func (c *copier) write(want []byte, first bool) error {
	path := filepath.Join(c.dir, File)
	have, err := c.disk.read(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	made := err != nil
	if made && !first {
		return fmt.Errorf("the copy in %s is gone", c.dir)
	}
	if !bytes.HasPrefix(want, have) {
		if !c.tornCopy(have, want) {
			return fmt.Errorf("another %s stands there already", File)
		}
		have = have[:common(have, want)]
	}
	if !made && len(have) == len(want) {
		return nil
	}
	f, err := c.disk.open(path)
	if err != nil {
		return err
	}
	_, err = f.WriteAt(want[len(have):], int64(len(have)))
	err = errors.Join(err, f.Truncate(int64(len(want))), f.Sync(), f.Close())
	if err == nil && made {
		err = c.disk.syncDir(c.dir)
	}
	return err
}

// tornCopy tells whether a copy differs from the rulings only in a tail that is no whole
// record: what a stick that was pulled out leaves.
func (c *copier) tornCopy(have, want []byte) bool {
	s := scan(have)
	return len(s.report.Damage) == 0 && s.good < len(have) && bytes.HasPrefix(want, have[:s.good])
}

func common(a, b []byte) int {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}
