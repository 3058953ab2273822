package journal

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// disk is what the journal asks of a file system, so that tests can let it fail.
type disk interface {
	open(path string) (handle, error)                     // for writing; made if it isn't there
	read(path string) ([]byte, error)                     // whole
	create(path string, b []byte) error                   // whole and synced; fs.ErrExist if there is one
	same(f handle, path string, size int64) (bool, error) // the file at the path is f, and so long
	syncDir(dir string) error
	mkdir(dir string) error // one level; none if it is there
}

// handle is a file open for writing. WriteAt, not appending: a file opened to append can't
// be cut on every system.
type handle interface {
	WriteAt(b []byte, at int64) (int, error)
	Truncate(size int64) error
	Sync() error
	Close() error
}

type osDisk struct{}

// Rulings name people: only their owner reads them.
const private = 0o600

func (osDisk) open(path string) (handle, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, private)
	if err != nil {
		return nil, err
	}
	return f, nil
}

// maxFile bounds what is taken into memory: a million rulings are far less.
const maxFile = 1 << 30

func (osDisk) read(path string) ([]byte, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() { // a pipe would never end
		return nil, fmt.Errorf("%s is no ordinary file", filepath.Base(path))
	}
	if st.Size() > maxFile {
		return nil, fmt.Errorf("%s has %d bytes; want at most %d", filepath.Base(path), st.Size(), maxFile)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxFile))
}

func (osDisk) create(path string, b []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, private)
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	return errors.Join(err, f.Sync(), f.Close())
}

func (osDisk) same(h handle, path string, size int64) (bool, error) {
	f, ok := h.(*os.File)
	if !ok {
		return false, nil
	}
	ours, err := f.Stat()
	if err != nil {
		return false, err
	}
	there, err := os.Stat(path)
	if err != nil {
		return false, err
	}
	return os.SameFile(ours, there) && there.Size() == size, nil
}

func (osDisk) syncDir(dir string) error {
	if runtime.GOOS == "windows" { // folders can't be synced there; the file system logs their changes
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func (osDisk) mkdir(dir string) error {
	if err := os.Mkdir(dir, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}

// saveTorn keeps the bytes of a torn tail in a file of their own and gives its name.
func saveTorn(d disk, path string, b []byte) (string, error) {
	for n := 1; ; n++ {
		name := fmt.Sprintf("%s.torn-%d", path, n)
		if there, err := d.read(name); err == nil {
			if bytes.Equal(there, b) { // a crash came between saving and cutting
				return filepath.Base(name), nil
			}
			continue
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		if err := d.create(name, b); err != nil {
			return "", err
		}
		return filepath.Base(name), d.syncDir(filepath.Dir(path))
	}
}
