package outbox

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"time"
)

const (
	// A file that a spreadsheet holds open can't be replaced on some systems: it is tried for
	// so long.
	holdPatience = 2 * time.Second
	// What a killed export left half-written is taken away by a later one; a younger one may
	// still be at work.
	leftOver = 10 * time.Minute
	unborn   = ".export-*.part"
)

// Replace puts data in a file's place, whole or not at all.
func Replace(path string, data []byte) error {
	name := filepath.Base(path)
	return replace(filepath.Dir(path), []string{name}, map[string][]byte{name: data})
}

// replace puts files in place of those of the same names, each whole or not at all. All are
// on disk before the first is replaced: a disk without room leaves everything as it was.
func replace(dir string, names []string, files map[string][]byte) error {
	sweep(dir)
	parts := make([]string, 0, len(names))
	defer func() {
		for _, p := range parts {
			os.Remove(p) // those that took their place are gone from here
		}
	}()
	for _, n := range names {
		p, err := write(dir, files[n])
		if p != "" {
			parts = append(parts, p)
		}
		if err != nil {
			return fmt.Errorf("%s was not written, what stood there still does: %w", n, err)
		}
	}
	for i, n := range names {
		if err := put(parts[i], filepath.Join(dir, n)); err != nil {
			return fmt.Errorf("%s was not replaced, what stood there still does: %w", n, err)
		}
	}
	return syncFolder(dir)
}

// write makes a new file with a passing name, which is given even when it isn't whole.
func write(dir string, b []byte) (string, error) {
	f, err := os.CreateTemp(dir, unborn) // for its owner's eyes only
	if err != nil {
		return "", err
	}
	_, err = f.Write(b)
	if err == nil {
		err = f.Sync()
	}
	return f.Name(), errors.Join(err, f.Close())
}

func put(from, to string) error {
	for end := time.Now().Add(holdPatience); ; time.Sleep(100 * time.Millisecond) {
		err := os.Rename(from, to)
		if err == nil || runtime.GOOS != "windows" || time.Now().After(end) {
			return err
		}
	}
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
