//go:build !windows

package follow

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"twinmat/reconcile/race"

	"twinmat/ingest/logs"
)

func row(i int) string {
	return fmt.Sprintf("A%d,2026-05-17 10:%02d:%02d.%03d,1,-50\n", i, i/60%60, i%60, i%1000)
}

func rowsTo(n int) string {
	var b strings.Builder
	b.WriteString(header)
	for i := range n {
		b.WriteString(row(i))
	}
	return b.String()
}

type rig struct {
	*testing.T
	dir string
	now time.Time
	l   *Log
}

func newRig(t *testing.T, glob string) *rig {
	g := &rig{T: t, dir: t.TempDir(), now: time.Unix(1e9, 0)}
	if err := os.Mkdir(filepath.Join(g.dir, "logs"), 0o755); err != nil {
		t.Fatal(err)
	}
	g.open(glob)
	t.Cleanup(func() { g.l.Close() })
	return g
}

func (g *rig) open(glob string) {
	l, err := New(g.dir, planOf(glob), 0, Options{Keep: true, Clock: func() time.Time { return g.now }})
	if err != nil {
		g.Fatal(err)
	}
	g.l = l
}

func (g *rig) path(name string) string { return filepath.Join(g.dir, "logs", name) }

func (g *rig) write(name, content string) {
	g.Helper()
	if err := os.WriteFile(g.path(name), []byte(content), 0o644); err != nil {
		g.Fatal(err)
	}
}

func (g *rig) poll() *race.Reads {
	g.Helper()
	if _, err := g.l.Poll(); err != nil {
		g.Fatal(err)
	}
	return g.l.Reads()
}

// A half line is never a read, wherever it is cut, and is exactly one when it is whole.
func TestEverySplitOfAFile(t *testing.T) {
	g := newRig(t, "logs/*.csv")
	text := rowsTo(200)
	for i := range len(text) {
		name := fmt.Sprintf("%d.csv", i%100)
		if i%100 == 0 {
			g.l.Close()
			os.RemoveAll(filepath.Join(g.dir, "kept"))
			for j := range 100 {
				os.Remove(g.path(fmt.Sprintf("%d.csv", j)))
			}
		}
		g.open("logs/" + name)
		g.write(name, text[:i])
		if r := g.poll(); r.Kept+r.BadLines != max(0, strings.Count(text[:i], "\n")-1) {
			t.Fatalf("cut at %d: %d reads, %d bad", i, r.Kept, r.BadLines)
		}
		g.write(name, text)
		if r := g.poll(); r.Kept != 200 || r.BadLines+r.Repeated != 0 {
			t.Fatalf("cut at %d, then whole: %+v", i, r)
		}
		g.l.Close()
	}
}

// A writer that lets nobody else open its file, as Windows allows: it is told and tried
// again, what was read stays, and all is read once the file is let go, also one that was
// replaced meanwhile. The other files of the log are read all the time.
func TestALockedFileIsTriedAgain(t *testing.T) {
	t.Cleanup(func() { openFile = logs.Open })
	for cycle := range 50 {
		g := newRig(t, "logs/*.csv")
		locked := false
		openFile = func(path string) (*os.File, error) {
			if locked && filepath.Base(path) == "a.csv" {
				return nil, &os.PathError{Op: "open", Path: path, Err: errors.New("in use by another process")}
			}
			return logs.Open(path)
		}
		g.write("a.csv", rowsTo(10))
		g.write("b.csv", header+row(1000))
		if r := g.poll(); r.Kept != 11 {
			t.Fatalf("cycle %d: %d reads before", cycle, r.Kept)
		}
		locked = true
		for look := range 1 + cycle%5 {
			g.write("a.csv", rowsTo(20+look))
			if cycle%2 == 1 {
				g.write("a.csv", header+row(500+look)) // what no look sees is known to nobody
			}
			g.write("b.csv", header+row(1000)+row(1001+look))
			g.now = g.now.Add(3 * time.Second)
			if r := g.poll(); r.Kept < 12 || r.Kept > 12+look {
				t.Fatalf("cycle %d, look %d: %d reads while it is locked", cycle, look, r.Kept)
			}
			if s := g.l.Status(); !strings.Contains(s.Fault, "a.csv: in use") {
				t.Fatalf("cycle %d: told %q", cycle, s.Fault)
			}
		}
		locked = false
		looks := cycle % 5 // of b.csv, past the first
		want := 20 + looks + 2 + looks
		if cycle%2 == 1 {
			want = 10 + 1 + 2 + looks // the ten that were read stay
		}
		if r := g.poll(); r.Kept != want {
			t.Fatalf("cycle %d: %d reads once it is let go, want %d", cycle, r.Kept, want)
		}
		if s := g.l.Status(); s.Fault != "" {
			t.Fatalf("cycle %d: still told %q", cycle, s.Fault)
		}
	}
}

// Deleting and creating gives the same number to the new file: it is known by its content.
func TestDeletedAndCreated(t *testing.T) {
	g := newRig(t, "logs/a.csv")
	for i := range 200 {
		os.Remove(g.path("a.csv"))
		g.write("a.csv", header+row(2*i)+row(2*i+1))
		if r := g.poll(); r.Kept != 2*i+2 {
			t.Fatalf("cycle %d: %d reads", i, r.Kept)
		}
	}
}

func TestFiftyReplacementsInARow(t *testing.T) {
	g := newRig(t, "logs/a.csv")
	for i := range 50 {
		g.write("new", rowsTo(i+1))
		if err := os.Rename(g.path("new"), g.path("a.csv")); err != nil {
			t.Fatal(err)
		}
		if r := g.poll(); r.Kept != i+1 || r.Repeated != 0 {
			t.Fatalf("replacement %d: %+v", i, r)
		}
	}
	if s := g.l.Status(); s.Begun != 0 {
		t.Errorf("a file that only grew was begun again %d times", s.Begun)
	}
}

// Two files with the same first KB are two; files that come later are found.
func TestSameFirstKilobyte(t *testing.T) {
	g := newRig(t, "logs/a*.csv")
	same := rowsTo(60)
	g.write("a1.csv", same+row(100))
	if r := g.poll(); r.Kept != 61 {
		t.Fatalf("%d reads", r.Kept)
	}
	g.write("a2.csv", same+row(200))
	if r := g.poll(); r.Kept != 62 || r.Repeated != 60 {
		t.Errorf("%d reads, %d repeated; want 62, 60", r.Kept, r.Repeated)
	}
}

// A size that a share tells too small for less than two seconds costs nothing.
func TestStaleSize(t *testing.T) {
	g := newRig(t, "logs/a.csv")
	text := rowsTo(300)
	g.write("a.csv", text)
	g.poll()
	for i := range 50 {
		g.write("a.csv", text[:len(text)-100*(i+1)])
		g.now = g.now.Add(time.Second)
		g.poll()
		text += row(1000 + i)
		g.write("a.csv", text)
		g.now = g.now.Add(900 * time.Millisecond)
		if r := g.poll(); r.Kept != 301+i || r.Repeated != 0 {
			t.Fatalf("stall %d: %+v", i, r)
		}
	}
	if s := g.l.Status(); s.Begun != 0 || s.Fault != "" {
		t.Errorf("%+v", s)
	}
}

// A row changed in the middle, at the same length, between growth is found.
func TestChangedInTheMiddle(t *testing.T) {
	g := newRig(t, "logs/a.csv")
	text := rowsTo(1000)
	g.write("a.csv", text)
	g.poll()
	g.write("a.csv", strings.Replace(text, "A500,", "B500,", 1)+row(2000))
	g.poll()
	g.now = g.now.Add(secondLook)
	if r := g.poll(); r.Kept != 1002 || r.Files[0].Gone != 1 {
		t.Errorf("%d reads, %d gone; want 1002, 1", r.Kept, r.Files[0].Gone)
	}
	r, err := Read(g.dir, planOf("logs/a.csv"), 0)
	if err != nil || r.Kept != 1002 {
		t.Errorf("read once: %v %+v", err, r)
	}
}

// What is no file is told and neither opened nor waited for; the others go on.
func TestWhatIsNoFile(t *testing.T) {
	g := newRig(t, "logs/a*.csv")
	if err := syscall.Mkfifo(g.path("a-pipe.csv"), 0o644); err != nil {
		t.Skip("no pipes here: ", err)
	}
	for name, to := range map[string]string{"a-zero.csv": "/dev/zero", "a-self.csv": "a-self.csv"} {
		if err := os.Symlink(to, g.path(name)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(g.path("a-folder.csv"), 0o755); err != nil {
		t.Fatal(err)
	}
	g.write("a.csv", rowsTo(3))
	done := make(chan *race.Reads, 1)
	go func() { done <- g.poll() }()
	select {
	case r := <-done:
		if r.Kept != 3 {
			t.Errorf("%d reads", r.Kept)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("it waits for a pipe or reads a device")
	}
	if s := g.l.Status(); !strings.Contains(s.Fault, "this is no file but") {
		t.Errorf("told %q", s.Fault)
	}
	for _, name := range []string{"a-pipe.csv", "a-zero.csv"} {
		if _, err := Read(g.dir, planOf("logs/"+name), 0); err == nil || !strings.Contains(err.Error(), "this is no file but") {
			t.Errorf("%s read once: %v", name, err)
		}
	}
	os.Remove(g.path("a-pipe.csv"))
	g.write("a-pipe.csv", header+row(9))
	if r := g.poll(); r.Kept != 4 {
		t.Errorf("a file where the pipe was: %d reads", r.Kept)
	}
	g.open("logs/a-folder.csv")
	g.poll()
	if s := g.l.Status(); !strings.Contains(s.Fault, "a folder") {
		t.Errorf("a folder: told %q", s.Fault)
	}
}

// A race folder whose own name looks like a pattern.
func TestFolderNamedLikeAPattern(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race [1]*")
	if err := os.MkdirAll(filepath.Join(dir, "logs"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "logs", "a1.csv"), []byte(rowsTo(5)), 0o644); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		l, err := New(dir, planOf("logs/a*.csv"), 0, Options{Keep: true})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := l.Poll(); err != nil {
			t.Fatal(err)
		}
		if r := l.Reads(); r.Kept != 5 || r.Repeated != 0 {
			t.Errorf("%+v", r)
		}
		l.Close()
		os.Remove(filepath.Join(dir, "logs", "a1.csv")) // the copy must be found as well
	}
}
