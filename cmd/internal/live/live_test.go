package live

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

func tables(t testing.TB, st *race.State) string {
	t.Helper()
	var b bytes.Buffer
	for _, f := range export.Files {
		fmt.Fprintf(&b, "== %s\n", f.Name)
		if err := f.Write(&b, st, export.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	return b.String()
}

// course is an invented race whose lines wait to be fed.
type course struct {
	t     testing.TB
	dir   string
	rng   *rand.Rand
	files []string
	lines map[string][][]byte
	feed  []fed // all lines, as they are written
	run   *Race
	stop  context.CancelFunc
	ended chan struct{}
}

// fed is one line of a log as its box writes it.
type fed struct {
	path string
	at   time.Time
}

func newCourse(t testing.TB, seed uint64, athletes int) *course {
	t.Helper()
	return newCourseOf(t, "demo", seed, athletes)
}

func newCourseOf(t testing.TB, kind string, seed uint64, athletes int) *course {
	t.Helper()
	c := &course{t: t, dir: t.TempDir(), rng: rand.New(rand.NewPCG(seed, 3)), lines: map[string][][]byte{}}
	m, err := invent.Make(invent.Options{Kind: kind, Seed: seed, Athletes: athletes})
	if err != nil {
		t.Fatal(err)
	}
	if err := m.WriteLists(c.dir); err != nil {
		t.Fatal(err)
	}
	if err := m.Feed(func(path string, line []byte, at time.Time) error {
		if c.lines[path] == nil {
			c.files = append(c.files, path)
		}
		c.lines[path] = append(c.lines[path], bytes.Clone(line))
		c.feed = append(c.feed, fed{path, at})
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return c
}

func (c *course) open() {
	c.t.Helper()
	r, err := Open(c.dir, "test", Options{Poll: 10 * time.Millisecond, NoEvents: c.rng.IntN(2) == 0})
	if err != nil {
		c.t.Fatal(err)
	}
	c.begin(r)
}

// watch opens it beside somebody who rules.
func (c *course) watch() {
	c.t.Helper()
	r, err := Open(c.dir, "test", Options{Poll: 10 * time.Millisecond})
	if err != nil {
		c.t.Fatal(err)
	}
	if r.ReadOnly() == "" {
		c.t.Fatal("two rule in one race")
	}
	c.start(r)
}

// begin runs a race that was opened to rule in.
func (c *course) begin(r *Race) {
	c.t.Helper()
	if r.ReadOnly() != "" {
		c.t.Fatal(r.ReadOnly())
	}
	c.start(r)
}

func (c *course) start(r *Race) {
	ctx, stop := context.WithCancel(context.Background())
	c.run, c.stop, c.ended = r, stop, make(chan struct{})
	go func() {
		defer close(c.ended)
		r.Run(ctx, func(x any, stack []byte) { panic(fmt.Sprint(x, string(stack))) })
	}()
}

func (c *course) close() {
	c.stop()
	<-c.ended
	c.run.Close()
}

// append gives a file its next n lines.
func (c *course) append(path string, n int) {
	c.t.Helper()
	n = min(n, len(c.lines[path]))
	if n == 0 {
		return
	}
	full := filepath.Join(c.dir, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		c.t.Fatal(err)
	}
	f, err := os.OpenFile(full, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o644)
	if err != nil {
		c.t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.Write(bytes.Join(c.lines[path][:n], nil)); err != nil {
		c.t.Fatal(err)
	}
	c.lines[path] = c.lines[path][n:]
}

// until writes what the boxes write up to a moment, but for one whose link is down.
func (c *course) until(at time.Time, down string) {
	c.t.Helper()
	n := map[string]int{}
	for len(c.feed) > 0 && !c.feed[0].at.After(at) {
		n[c.feed[0].path]++
		c.feed = c.feed[1:]
	}
	for _, path := range c.files {
		if path != down {
			c.append(path, n[path])
		}
	}
}

// rule tries a ruling; refusals are the engine's to make.
func (c *course) rule() {
	c.t.Helper()
	st := c.run.State()
	if len(st.Results) == 0 {
		return
	}
	bib := c.run.folder.Athletes[c.rng.IntN(len(c.run.folder.Athletes))].Bib
	line := ""
	switch k := c.rng.IntN(5); {
	case k == 0:
		line = fmt.Sprintf("adjust-time --bib %s --by +%ds --why late", bib, 1+c.rng.IntN(90))
	case k == 1:
		line = fmt.Sprintf("set-status --bib %s --status %s --why told", bib, []string{"dnf", "dsq", "none"}[c.rng.IntN(3)])
	case k == 2 && c.run.Rulings() > 0:
		line = fmt.Sprintf("undo --seq %d --why wrong", 1+c.rng.IntN(c.run.Rulings()))
	case k >= 3 && len(st.Suspects) > 0:
		line = fmt.Sprintf("accept --suspect %s --why seen", st.Suspects[c.rng.IntN(len(st.Suspects))].ID)
	default:
		return
	}
	x, err := ruling.ParseLine(line, st.Plan)
	if err != nil {
		c.t.Fatalf("%s: %v", line, err)
	}
	if _, err := c.run.Rule(x, "tester"); err != nil && !strings.Contains(err.Error(), "refused") {
		c.t.Fatal(err)
	}
}

// rest waits until all that is on disk is read, and compares with the folder read once.
func (c *course) rest(what string) {
	c.t.Helper()
	f, err := ingest.Read(c.dir)
	if err != nil {
		c.t.Fatal(err)
	}
	want := tables(c.t, reconcile.Compute(f.Input()))
	got := ""
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if in := c.run.input(); !equalReads(in.Reads, f.Reads) {
			continue
		}
		if got = tables(c.t, c.run.Compute()); got == want {
			return
		}
	}
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(w), len(g)) {
		if w[i] != g[i] {
			c.t.Fatalf("%s: line %d\nonce %s\nlive %s", what, i, w[i], g[i])
		}
	}
	c.t.Fatalf("%s: live has %d lines, once %d", what, len(g), len(w))
}

func equalReads(a, b []*race.Reads) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range b {
		if a[i] == nil || a[i].Lines != b[i].Lines || a[i].Kept != b[i].Kept {
			return false
		}
	}
	return true
}

// liveKinds: sessions has boxes that move from line to line and write one file for both, relay and
// triathlon chips in pairs, hand somebody who keys, day clocks that show no date.
var liveKinds = []string{"demo", "sessions", "relay", "hand", "triathlon", "time-trial", "flagged", "two-courses", "day", "steps-main"}

// Reads in random pieces, whole files late, rulings and undos in between and restarts: what
// is live is what the folder read once gives, at every rest. The seeds are the numbers from 0, and
// go through kinds of race whose plans ask for something else of those who follow logs.
func TestLiveIsBatch(t *testing.T) {
	schedules := 12
	if testing.Short() {
		schedules = 3
	}
	fmt.Sscan(os.Getenv("TWINMAT_SCHEDULES"), &schedules)
	rests, restarts, rulings := 0, 0, 0
	for seed := range schedules {
		c := newCourseOf(t, liveKinds[seed%len(liveKinds)], uint64(seed), 40)
		c.open()
		late := c.files[c.rng.IntN(len(c.files))]
		for range 25 {
			switch path := c.files[c.rng.IntN(len(c.files))]; c.rng.IntN(6) {
			case 0, 1, 2:
				if path != late {
					c.append(path, 1+c.rng.IntN(60))
				}
			case 3, 4:
				c.rule()
			case 5:
				if c.rng.IntN(2) == 0 {
					c.close()
					c.open()
					restarts++
				}
				c.rest(fmt.Sprintf("seed %d, on the way", seed))
				rests++
			}
		}
		for _, path := range c.files {
			c.append(path, 1<<30)
		}
		for range 5 {
			c.rule()
		}
		c.rest(fmt.Sprintf("seed %d, at the end", seed))
		rulings += c.run.Rulings()
		c.close()
		c.open()
		c.rest(fmt.Sprintf("seed %d, after a restart", seed))
		rests += 2
		c.close()
	}
	t.Logf("%d schedules, %d rests, %d restarts on the way, %d rulings on disk", schedules, rests, restarts, rulings)
}

// A burst comes at once and is there soon.
func TestBurst(t *testing.T) {
	c := newCourse(t, 1, 40)
	c.open()
	defer c.close()
	var b bytes.Buffer
	b.WriteString("tag,time,antenna,rssi\n")
	for i := range 50_000 {
		fmt.Fprintf(&b, "B%d,%s,1,-50\n", i%700, time.UnixMilli(1_779_000_000_000+int64(i)*37).UTC().Format(time.RFC3339Nano))
	}
	path := filepath.Join(c.dir, filepath.FromSlash(c.run.folder.Plan.Logs[0].Path))
	if strings.ContainsAny(path, "*") {
		path = strings.ReplaceAll(path, "*", "-1")
	}
	os.MkdirAll(filepath.Dir(path), 0o755)
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	c.rest("after a burst")
	t.Logf("50,000 lines: read, computed and compared with the folder read once after %v", time.Since(start))
}

// Plan and lists are taken in when sound, kept out when not, and asked about when dangerous.
func TestPlanChanges(t *testing.T) {
	c := newCourse(t, 2, 40)
	c.open()
	defer c.close()
	for _, path := range c.files {
		c.append(path, 1<<30)
	}
	c.rest("before")
	toml := filepath.Join(c.dir, "race.toml")
	sound, err := os.ReadFile(toml)
	if err != nil {
		t.Fatal(err)
	}
	put := func(b []byte, what string) {
		t.Helper()
		if err := os.WriteFile(toml, b, 0o644); err != nil {
			t.Fatal(err)
		}
		waitFor(t, c.run, what)
	}
	name := c.run.Name()
	put(append([]byte("nonsense = [\n"), sound...), "can't be used")
	if c.run.Name() != name {
		t.Error("an unsound plan was taken in")
	}
	if !standsNotice(c.run, "can't be used") {
		t.Error("it isn't said while it is so")
	}
	put(bytes.Replace(sound, []byte(name), []byte("Another Name"), 1), "taken in anew")
	if c.run.Name() != "Another Name" {
		t.Errorf("the name is %q", c.run.Name())
	}
	if standsNotice(c.run, "can't be used") {
		t.Error("a plan that was mended is still said to be unsound")
	}
	c.rest("another name")
	list := filepath.Join(c.dir, "athletes.csv")
	all, err := os.ReadFile(list)
	if err != nil {
		t.Fatal(err)
	}
	rows := bytes.SplitAfter(all, []byte("\n"))
	if err := os.WriteFile(list, bytes.Join(append(rows[:1:1], rows[8:]...), nil), 0o644); err != nil {
		t.Fatal(err)
	}
	waitFor(t, c.run, "wait for a yes")
	if c.run.Pending() == "" || len(c.run.State().Results) == 0 {
		t.Error("nothing is asked")
	}
	n := len(c.run.folder.Athletes)
	if err := c.run.TakePlan(context.Background()); err != nil {
		t.Fatal(err)
	}
	if len(c.run.folder.Athletes) != n-7 {
		t.Errorf("%d athletes after, %d before", len(c.run.folder.Athletes), n)
	}
	c.rest("after a yes")
}

// standsNotice tells whether a notice with a text in it still holds.
func standsNotice(r *Race, text string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.ContainsFunc(r.notices, func(n Notice) bool { return !n.Over && strings.Contains(n.Text, text) })
}

func waitFor(t *testing.T, r *Race, text string) {
	t.Helper()
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		r.mu.Lock()
		for _, n := range r.notices {
			if strings.Contains(n.Text, text) {
				r.mu.Unlock()
				return
			}
		}
		r.mu.Unlock()
	}
	t.Fatalf("never told: %s", text)
}
