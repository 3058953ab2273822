package live

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/fsnotify/fsnotify"

	"twinmat/ingest/follow"
	"twinmat/ingest/journal"
	"twinmat/reconcile/race"
)

// A share that hangs stops its own log only: the others' reads come in and are computed, it
// is told, and when it answers again everything is there.
func TestAShareThatHangs(t *testing.T) {
	stale, every, poll := staleAfter, healthEvery, pollLog
	t.Cleanup(func() { staleAfter, healthEvery, pollLog = stale, every, poll })
	staleAfter, healthEvery = 500*time.Millisecond, 50*time.Millisecond
	var hangs atomic.Int64 // the source that does, plus one
	release := make(chan struct{})
	pollLog = func(l *follow.Log) (bool, error) {
		if hangs.Load() == int64(l.Status().Source)+1 {
			<-release
		}
		return poll(l)
	}
	c := newCourse(t, 4, 40)
	c.open()
	defer c.close()
	for _, path := range c.files {
		c.append(path, 40)
	}
	c.rest("before")
	hung := c.files[0]
	for s, l := range c.run.folder.Plan.Logs {
		if l.Path == hung {
			hangs.Store(int64(s) + 1)
		}
	}
	if hangs.Load() == 0 {
		t.Fatalf("no log is %s alone", hung)
	}
	waitFor(t, c.run, "hasn't answered")
	for _, path := range c.files {
		c.append(path, 1<<30)
	}
	got := func() int {
		n := 0
		for s, x := range c.run.State().Inputs {
			if x != nil && int64(s)+1 != hangs.Load() {
				n += x.Lines
			}
		}
		return n
	}
	want := 0
	for _, path := range c.files[1:] {
		b, err := os.ReadFile(filepath.Join(c.dir, filepath.FromSlash(path)))
		if err != nil {
			t.Fatal(err)
		}
		want += strings.Count(string(b), "\n")
	}
	for end := time.Now().Add(60 * time.Second); got() < want/2; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("the other logs stand at %d of some %d lines", got(), want)
		}
	}
	hangs.Store(0)
	close(release)
	c.rest("when it answers again")
}

// Where the system gives no file events it is said once, and polling finds everything.
func TestNoFileEvents(t *testing.T) {
	make := newWatcher
	t.Cleanup(func() { newWatcher = make })
	newWatcher = func() (*fsnotify.Watcher, error) { return nil, errors.New("too many open files") }
	c := newCourse(t, 5, 40)
	r, err := Open(c.dir, "test", Options{Poll: 10 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	c.begin(r)
	defer c.close()
	waitFor(t, c.run, "no file events here")
	for _, path := range c.files {
		c.append(path, 1<<30)
	}
	c.rest("by polling alone")
	c.run.mu.Lock()
	defer c.run.mu.Unlock()
	n := 0
	for _, x := range c.run.notices {
		if strings.Contains(x.Text, "no file events") {
			n++
		}
	}
	if n != 1 {
		t.Errorf("told %d times", n)
	}
}

// More events than the system's queue holds: told once, however often, and nothing is missed.
func TestTooManyFileEvents(t *testing.T) {
	make := newWatcher
	t.Cleanup(func() { newWatcher = make })
	got := newest{}
	newWatcher = func() (*fsnotify.Watcher, error) {
		w, err := make()
		got.Store(w)
		return w, err
	}
	c := newCourse(t, 7, 40)
	r, err := Open(c.dir, "test", Options{Poll: 10 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	c.begin(r)
	defer c.close()
	for end := time.Now().Add(60 * time.Second); got.Load() == nil; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("no file events are asked for")
		}
	}
	for range 50 {
		got.Load().Errors <- fsnotify.ErrEventOverflow
		c.append(c.files[c.rng.IntN(len(c.files))], 3)
	}
	for _, path := range c.files {
		c.append(path, 1<<30)
	}
	waitFor(t, c.run, "more file events than could be taken")
	c.rest("after too many events")
	c.run.mu.Lock()
	defer c.run.mu.Unlock()
	n := 0
	for _, x := range c.run.notices {
		if strings.Contains(x.Text, "more file events") {
			n++
		}
	}
	if n != 1 {
		t.Errorf("told %d times", n)
	}
}

type newest = atomic.Pointer[fsnotify.Watcher]

// A ruling that is made and taken back leaves every table as it was, to the byte; put in
// force again it does what it did. Reads come in between the pairs.
func TestAnUndoGivesTheTablesBack(t *testing.T) {
	seeds := uint64(1)
	fmt.Sscan(os.Getenv("TWINMAT_SCHEDULES"), &seeds)
	made := 0
	for seed := range seeds {
		c := newCourse(t, 100+seed, 40)
		c.open()
		for _, path := range c.files {
			c.append(path, len(c.lines[path])/2)
		}
		c.rest("before")
		for range 40 {
			if c.rng.IntN(4) == 0 {
				c.append(c.files[c.rng.IntN(len(c.files))], 1+c.rng.IntN(20))
				c.rest("on the way")
			}
			before, n := tables(t, c.run.Compute()), c.run.Rulings()
			c.rule()
			if c.run.Rulings() == n {
				continue // refused
			}
			made++
			does := tables(t, c.run.Compute())
			for k, want := range []string{before, does, before} {
				x := race.Ruling{Rule: race.Undo, UndoneSeq: n + 1 + k, Why: "wrong"}
				if _, err := c.run.Rule(x, "tester"); err != nil {
					t.Fatalf("seed %d: undo of %d: %v", 100+seed, n+1+k, err)
				}
				if got := tables(t, c.run.Compute()); got != want {
					t.Fatalf("seed %d, undo %d of ruling %d: %d bytes, %d wanted", 100+seed, k+1, n+1, len(got), len(want))
				}
			}
		}
		c.close()
	}
	t.Logf("seeds 100 to %d: %d rulings, each taken back, put in force and taken back again", 99+seeds, made)
	if made == 0 {
		t.Error("no ruling was made")
	}
}

// A log that is copied away and cut may have had lines that no look saw: nobody can know,
// so it is said, each time.
func TestACutLogTellsOfAGap(t *testing.T) {
	for seed := range uint64(10) {
		c := newCourse(t, 20+seed, 40)
		c.open()
		path := c.files[c.rng.IntN(len(c.files))]
		c.append(path, 30)
		c.rest("before")
		c.append(path, 5) // and, before the next look perhaps
		full := filepath.Join(c.dir, filepath.FromSlash(path))
		if err := os.Truncate(full, 0); err != nil {
			t.Fatal(err)
		}
		c.append(path, 20)
		waitFor(t, c.run, "a gap is possible")
		c.close()
	}
}

// A file that two lines of the plan have, for a box that moved, is copied once, and what becomes
// of it is told once.
func TestAFileOfTwoLinesIsKeptAndToldOnce(t *testing.T) {
	c := newCourseOf(t, "sessions", 61, 40)
	for _, path := range c.files {
		c.append(path, 1<<30)
	}
	c.open()
	defer c.close()
	c.rest("all of it")
	const file = "logs/box-4-main.csv"
	path := filepath.Join(c.dir, filepath.FromSlash(file))
	all, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(filepath.Join(c.dir, "kept", filepath.FromSlash(file)+".g1"))
	if err != nil || !bytes.Equal(kept, all) {
		t.Errorf("the copy has %d bytes, the file %d: %v", len(kept), len(all), err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	waitFor(t, c.run, "no longer there")
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		c.run.mu.Lock()
		lost, told := 0, 0
		for _, h := range c.run.health {
			if h.Path == file && strings.Contains(h.Fault, "no longer there") {
				lost++
			}
		}
		for _, n := range c.run.notices {
			if strings.Contains(n.Text, "no longer there") {
				told++
			}
		}
		c.run.mu.Unlock()
		if lost < 2 {
			continue
		}
		if told != 1 {
			t.Errorf("told %d times", told)
		}
		return
	}
	t.Error("not both lines know that their file is gone")
}

// A second folder gets every ruling, and the race can be taken over from it.
func TestTheCopyOfTheRulingsTakesOver(t *testing.T) {
	c := newCourse(t, 6, 40)
	stick := filepath.Join(t.TempDir(), "stick")
	r, err := Open(c.dir, "test", Options{Poll: 10 * time.Millisecond, Copy: stick})
	if err != nil {
		t.Fatal(err)
	}
	c.begin(r)
	for _, path := range c.files {
		c.append(path, 1<<30)
	}
	c.rest("before")
	for range 30 {
		c.rule()
	}
	n := c.run.Rulings()
	if n == 0 {
		t.Fatal("no ruling was made")
	}
	want := tables(t, c.run.Compute())
	for end := time.Now().Add(60 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		if rs, _, err := journal.Read(stick); err == nil && len(rs) == n {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("the copy never had %d rulings", n)
		}
	}
	c.close()
	for _, name := range []string{"race.toml", "athletes.csv", "chips.csv"} {
		b, err := os.ReadFile(filepath.Join(c.dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(stick, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.CopyFS(filepath.Join(stick, "logs"), os.DirFS(filepath.Join(c.dir, "logs"))); err != nil {
		t.Fatal(err)
	}
	c.dir = stick
	c.open()
	defer c.close()
	c.rest("taken over")
	if got := tables(t, c.run.Compute()); got != want {
		t.Error("the race taken over is another one")
	}
	if _, err := c.run.Rule(race.Ruling{Rule: race.SetStatus, Bib: c.run.folder.Athletes[0].Bib, Status: "dnf", Why: "goes on"}, "tester"); err != nil {
		t.Error(err)
	}
}
