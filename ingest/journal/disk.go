package journal

import (
	"io"
	"os"
	"path/filepath"
	"runtime"
)

// disk is what the journal asks of the file system: the seam where tests put a failing one.
type disk interface {
	ReadFile(path string) ([]byte, error)
	OpenAppend(path string) (file, error)
	WriteNew(path string, data []byte) error // refuses to overwrite; synced
	SyncDir(dir string) error
}

type file interface {
	io.Writer
	Sync() error
	Truncate(size int64) error
	Close() error
}

type realDisk struct{}

func (realDisk) ReadFile(path string) ([]byte, error) { return os.ReadFile(path) }

func (realDisk) OpenAppend(path string) (file, error) {
	return os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
}

func (realDisk) WriteNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if _, err = f.Write(data); err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// SyncDir makes a new name in a folder last. Windows has no such call and needs none.
func (realDisk) SyncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if cerr := d.Close(); err == nil {
		err = cerr
	}
	return err
}

func journalPath(dir string) string { return filepath.Join(dir, "rulings.jsonl") }
