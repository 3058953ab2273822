package journal

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// On a disk of 64 KiB that fills up, each ruling is saved or said not to be, the file ends
// where the last saved one does, and when there is room again rulings are taken again.
func TestAFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64k"); err != nil {
		t.Skip("SKIPPED, a small disk can't be mounted here: ", err)
	}
	defer func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	}()
	filler := filepath.Join(dir, "filler")
	if err := os.WriteFile(filler, make([]byte, 20<<10), 0o600); err != nil {
		t.Fatal(err)
	}
	j, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	}()
	saved, refused := 0, 0
	try := func() {
		r := made(saved + 1)
		switch err := j.Append(&r); {
		case err == nil:
			saved++
		case errors.Is(err, syscall.ENOSPC) && errors.As(err, new(*NotSaved)):
			refused++
		default:
			t.Fatal(err)
		}
		if rs, report, err := Read(dir); err != nil || report.String() != "" || len(rs) != saved {
			t.Fatalf("saved %d, there %d, %s, %v", saved, len(rs), report, err)
		}
	}
	for refused < 10 {
		try()
	}
	full := saved
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	for range 20 {
		try()
	}
	if saved != full+20 {
		t.Fatalf("with room again only %d of 20 were saved", saved-full)
	}
	t.Logf("%d saved until it was full, %d refused, %d saved after", full, refused, saved-full)
}
