package outbox

import (
	"os"
	"path/filepath"
	"time"
)

// Replace puts data in a file's place, whole or not at all. A program that holds the file
// open keeps it from being replaced for a while: that is waited for.
func Replace(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	if _, err = f.Write(data); err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	for range 20 {
		if err = os.Rename(f.Name(), path); err == nil {
			return nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return err
}
