package outbox

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// A file that a spreadsheet holds open can't be replaced on some systems: it is tried for so
// long, then the new one gets another name.
var (
	holdPatience = 2 * time.Second
	heldOpen     = func(error) bool { return runtime.GOOS == "windows" }
)

const (
	otherNames = 99 // times (1).csv … times (99).csv
	// What a killed export left half-written is taken away by a later one; a younger one may
	// still be at work.
	leftOver = 10 * time.Minute
	unborn   = ".export-*.part"
)

// Replace puts data in a file's place, whole or not at all. It gives the name of the file
// that was written: another one where the old is held open and can't be replaced.
func Replace(path string, data []byte) (string, error) {
	name := filepath.Base(path)
	other, err := replace(filepath.Dir(path), []string{name}, map[string]content{name: bytesOf(data)})
	if o := other[name]; o != "" {
		path = filepath.Join(filepath.Dir(path), o)
	}
	return path, err
}

// content writes what a file is to hold.
type content func(io.Writer) error

func bytesOf(b []byte) content {
	return func(w io.Writer) error {
		_, err := w.Write(b)
		return err
	}
}

// replace puts files in place of those of the same names, each whole or not at all. They are
// filled at once, so their contents must not touch each other, but one may wait for another;
// all are on disk before the first is replaced: a disk without room leaves everything as it was.
// other tells which went under which other name, the old being held open.
func replace(dir string, names []string, files map[string]content) (other map[string]string, err error) {
	sweep(dir)
	parts, errs := make([]*os.File, 0, len(names)), make([]error, len(names))
	defer func() {
		for _, p := range parts {
			p.Close()
			os.Remove(p.Name()) // those that took their place are gone from here
		}
	}()
	for _, n := range names { // all, before any is filled: nobody waits for what can't be made
		p, err := os.CreateTemp(dir, unborn) // for its owner's eyes only
		if err != nil {
			return nil, unwritten(n, err)
		}
		parts = append(parts, p)
	}
	var all sync.WaitGroup
	var broken atomic.Pointer[any]
	for i, n := range names {
		all.Go(func() { keepPanic(&broken, func() { errs[i] = fill(parts[i], files[n]) }) })
	}
	all.Wait()
	raise(&broken)
	for i, n := range names {
		if errs[i] != nil {
			return nil, unwritten(n, errs[i])
		}
	}
	for i, n := range names {
		as, err := put(parts[i].Name(), dir, n)
		if err != nil {
			return other, fmt.Errorf("%s was not replaced, what stood there still does: %w", n, err)
		}
		if as != n {
			if other == nil {
				other = map[string]string{}
			}
			other[n] = as
		}
	}
	return other, syncFolder(dir)
}

// keepPanic keeps a panic for who waits for f: it is the caller's, who knows how to leave the
// terminal whole.
func keepPanic(broken *atomic.Pointer[any], f func()) {
	defer func() {
		if x := recover(); x != nil {
			broken.Store(&x)
		}
	}()
	f()
}

// raise panics as what was kept did.
func raise(broken *atomic.Pointer[any]) {
	if x := broken.Load(); x != nil {
		panic(*x)
	}
}

func unwritten(name string, err error) error {
	return fmt.Errorf("%s was not written, what stood there still does: %w", name, err)
}

// fill writes a new file whole, to the disk, and closes it.
func fill(f *os.File, c content) error {
	err := c(f)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// put gives a part its name, and tells it: where the file of that name is held open, the
// first other one that can be had.
func put(from, dir, name string) (string, error) {
	var err error
	for end := time.Now().Add(holdPatience); ; time.Sleep(holdPatience / 20) {
		if err = os.Rename(from, filepath.Join(dir, name)); err == nil {
			return name, nil
		}
		if !heldOpen(err) {
			return "", err
		}
		if time.Now().After(end) {
			break
		}
	}
	ext := filepath.Ext(name)
	for n := 1; n <= otherNames; n++ {
		other := fmt.Sprintf("%s (%d)%s", strings.TrimSuffix(name, ext), n, ext)
		if os.Rename(from, filepath.Join(dir, other)) == nil {
			return other, nil
		}
	}
	return "", err
}

func sweep(dir string) {
	old, _ := filepath.Glob(filepath.Join(dir, unborn))
	for _, p := range old {
		if info, err := os.Stat(p); err == nil && time.Since(info.ModTime()) > leftOver {
			os.Remove(p)
		}
	}
}

// syncFolder makes the new names last through a loss of power, where folders can be synced.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
