package follow

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A copy that can't be written for want of room is written when there is some; nothing read
// meanwhile is lost, not even what the log itself has lost since.
func TestKeptOnAFullDisk(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("NOT TESTED: a full disk wants root, to mount a small one")
	}
	for _, cut := range []bool{false, true} {
		g := newRig(t, "logs/a.csv")
		kept := filepath.Join(g.dir, "kept")
		if err := os.Mkdir(kept, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := syscall.Mount("tmpfs", kept, "tmpfs", 0, "size=64k"); err != nil {
			t.Skip("NOT TESTED: no small disk can be mounted: ", err)
		}
		t.Cleanup(func() { syscall.Unmount(kept, 0) })
		ballast := filepath.Join(kept, "ballast")
		if err := os.WriteFile(ballast, make([]byte, 40<<10), 0o600); err != nil {
			t.Fatal(err)
		}
		for n := 200; n <= 1000; n += 200 { // 33 KB at the end
			g.write("a.csv", rowsTo(n))
			if r := g.poll(); r.Kept != n {
				t.Fatalf("%d reads of %d", r.Kept, n)
			}
		}
		s := g.l.Status()
		if s.Owed == 0 || !strings.Contains(s.Fault, "kept") {
			t.Fatalf("the disk is full and it isn't told: %+v", s)
		}
		if cut {
			g.write("a.csv", header+row(5000))
			g.poll()
			g.now = g.now.Add(2 * secondLook)
			g.poll()
		}
		os.Remove(ballast)
		r := g.poll()
		if s := g.l.Status(); s.Owed != 0 || s.Fault != "" {
			t.Errorf("there is room again: %+v", s)
		}
		g.l.Close()
		os.Remove(g.path("a.csv"))
		g.open("logs/a.csv")
		if again := g.l.Reads(); again.Kept != r.Kept || r.Kept < 1000 {
			t.Errorf("cut %v: %d reads; after a restart, from the copy alone, %d", cut, r.Kept, again.Kept)
		}
		g.l.Close()
	}
}

// What is past the bound of memory is copied again from the log.
func TestOwedPastTheBound(t *testing.T) {
	var k kept
	piece := make([]byte, 1<<20)
	for range 200 {
		k.owe(piece)
	}
	if !k.short || k.owes() > maxOwed {
		t.Errorf("%d bytes wait in memory", k.owes())
	}
}
