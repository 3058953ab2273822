//go:build unix

package logs

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"twinmat/reconcile/race"
)

// A pipe would never end, and a device is no log: each is an error that names it, and the
// other files are read all the same.
func TestOnlyRegularFilesAreRead(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "a.csv", oneLine)
	if err := syscall.Mkfifo(filepath.Join(dir, "b.csv"), 0o644); err != nil {
		t.Skipf("SKIPPED: %v", err)
	}
	if err := os.Symlink("/dev/zero", filepath.Join(dir, "c.csv")); err != nil {
		t.Skipf("SKIPPED: %v", err)
	}
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "*.csv"})
	r, err := newScratch().readFiles(dir, p, 0)
	if err == nil || !strings.Contains(err.Error(), "b.csv: this is no file but a pipe") || !strings.Contains(err.Error(), "c.csv: this is no file but a device") {
		t.Errorf("error: %v", err)
	}
	if r.Kept != 1 {
		t.Errorf("%d reads", r.Kept)
	}
}
