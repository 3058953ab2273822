package live

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"twinmat/cmd/internal/outbox"
	"twinmat/ingest/follow"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

// Rulings that somebody changes under the console are told before the next one is refused,
// and are no trouble once they are as they were.
func TestRulingsChangedUnderTheConsole(t *testing.T) {
	defer func(d time.Duration) { healthEvery = d }(healthEvery)
	healthEvery = 10 * time.Millisecond
	c := newCourse(t, 31, 20)
	c.open()
	defer c.close()
	path := filepath.Join(c.dir, "rulings.jsonl")
	bib := c.run.State().Results[0].Bib
	rule := func() error {
		_, err := c.run.Rule(race.Ruling{Rule: race.SetStatus, Bib: bib, Status: "dnf", Why: "seen"}, "me")
		return err
	}
	if err := rule(); err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	put := func(b []byte) {
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put(nil) // as an editor begins to save
	waitFor(t, c.run, "rulings.jsonl was cut")
	put(append([]byte("x"), kept...))
	waitFor(t, c.run, "rulings.jsonl was changed by somebody else")
	if err := rule(); err == nil {
		t.Error("ruled into a file that isn't ours")
	}
	put(kept)
	if err := rule(); err != nil {
		t.Error(err)
	}
}

// A race folder that is gone, as on a disk that was pulled out, is not made anew in its
// place: an export is refused, and when the folder is back all goes on.
func TestTheRaceFolderIsGone(t *testing.T) {
	defer func(d time.Duration) { healthEvery = d }(healthEvery)
	healthEvery = 10 * time.Millisecond
	c := newCourse(t, 32, 20)
	for _, p := range c.files {
		c.append(p, 40)
	}
	c.open()
	defer c.close()
	c.rest("before")
	away := c.dir + "-away"
	if err := os.Rename(c.dir, away); err != nil {
		t.Skip("a folder in use can't be moved here: ", err)
	}
	waitFor(t, c.run, "no longer there")
	waitFor(t, c.run, "the race folder can't be written to")
	c.run.mu.Lock()
	for _, n := range c.run.notices {
		if n.Bad && strings.Contains(n.Text, "no longer there") {
			t.Errorf("told beside the log's own trouble: %s", n.Text)
		}
	}
	c.run.mu.Unlock()
	time.Sleep(200 * time.Millisecond) // several looks
	if _, err := c.run.Export("", export.Options{}); err == nil {
		t.Error("exported into a folder that is gone")
	}
	if _, err := os.Stat(c.dir); err == nil {
		t.Error("a folder was made in its place")
	}
	if err := os.Rename(away, c.dir); err != nil {
		t.Fatal(err)
	}
	for _, p := range c.files {
		c.append(p, 40)
	}
	c.rest("after")
	for end := time.Now().Add(60 * time.Second); standsNotice(c.run, "can't be written to"); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("said of a folder that is back")
		}
	}
}

// A console that only looks writes nothing, and isn't told that it couldn't.
func TestOnlyWhoRulesMindsAFolderThatCantBeWritten(t *testing.T) {
	for why, want := range map[string]int{"": 1, "looking": 0} {
		r := &Race{dir: filepath.Join(t.TempDir(), "gone"), readOnly: why}
		if got := len(r.folderTrips()); got != want {
			t.Errorf("read only %q: told %d times", why, got)
		}
	}
}

// A box that begins to write what can't be read is told, and the lines are all counted.
func TestABoxThatWritesNonsenseIsTold(t *testing.T) {
	defer func(d time.Duration) { healthEvery = d }(healthEvery)
	healthEvery = 10 * time.Millisecond
	c := newCourse(t, 33, 20)
	for _, p := range c.files {
		c.append(p, 300)
	}
	c.open()
	defer c.close()
	c.rest("before")
	f, err := os.OpenFile(filepath.Join(c.dir, filepath.FromSlash(c.files[0])), os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(strings.Repeat("\x00\x01??;;\n", 10)); err != nil {
		t.Fatal(err)
	}
	waitFor(t, c.run, "lines can't be read")
	c.rest("after")
	if bad := c.run.State().Sums.Bad; bad < 10 {
		t.Errorf("%d bad lines", bad)
	}
}

// Somebody's reads come when all has been exported: it is told whose cells would be others
// now, the next export writes what changed, and then nothing has.
func TestALateReadIsToldAfterAnExport(t *testing.T) {
	c := newCourse(t, 34, 30)
	late := map[string][][]byte{}
	c.open()
	defer func() { c.close() }()
	chip := c.run.folder.Chips[3]
	for _, p := range c.files {
		all := c.lines[p]
		c.lines[p] = nil
		for _, line := range all {
			if strings.Contains(string(line), chip.Tag) {
				late[p] = append(late[p], line)
			} else {
				c.lines[p] = append(c.lines[p], line)
			}
		}
		c.append(p, len(c.lines[p]))
	}
	if len(late) == 0 {
		t.Fatalf("chip %s of bib %s was never read", chip.Tag, chip.Bib)
	}
	c.rest("without " + chip.Bib)
	since := func() []string {
		bibs, exported, err := outbox.Since(c.dir, "", c.run.Compute())
		if err != nil || !exported {
			t.Fatalf("exported %v, %v", exported, err)
		}
		return bibs
	}
	write := func() *outbox.Report {
		r, err := c.run.Export("", export.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	write()
	if bibs := since(); len(bibs) > 0 {
		t.Fatalf("changed since a moment ago: %v", bibs)
	}
	for p, lines := range late {
		c.lines[p] = lines
		c.append(p, len(lines))
	}
	c.rest("with " + chip.Bib)
	if bibs := since(); !slices.Contains(bibs, chip.Bib) {
		t.Errorf("changed are %v, and %s isn't among them", bibs, chip.Bib)
	}
	if r := write(); !slices.ContainsFunc(r.Changes, func(x export.Change) bool { return x.Bib == chip.Bib }) {
		t.Errorf("the export tells of %v, and not of %s", r.Changes, chip.Bib)
	}
	if bibs := since(); len(bibs) > 0 {
		t.Errorf("still changed: %v", bibs)
	}
}

// A log that only shows its header, is written full of rubbish or is downloaded once more has
// read nobody: the time of its last read is that of a read.
func TestOnlyReadsAreNews(t *testing.T) {
	r := &Race{wake: make(chan struct{}, 1)}
	health := make([]Health, 1)
	reads := make([]*race.Reads, 1)
	for _, c := range []struct {
		now   race.Reads
		first bool
		news  bool
	}{
		{race.Reads{}, true, false},
		{race.Reads{}, false, false},                                      // a header
		{race.Reads{Lines: 3, BadLines: 3}, false, false},                 // rubbish
		{race.Reads{Lines: 5, BadLines: 4, Waiting: 1}, false, false},     // half a line
		{race.Reads{Lines: 5, BadLines: 4}, false, true},                  // whole
		{race.Reads{Lines: 6, BadLines: 4, Repeated: 1}, false, false},    // downloaded again
		{race.Reads{Lines: 8, BadLines: 4, Repeated: 2}, false, true},     // and one more
		{race.Reads{Lines: 1000, BadLines: 4, Repeated: 2}, true, false},  // another plan: read anew
		{race.Reads{Lines: 1000, BadLines: 4, Repeated: 2}, false, false}, // as it was
		{race.Reads{Lines: 1001, BadLines: 4, Repeated: 2}, false, true},
	} {
		health[0].LastNew = time.Time{}
		r.seen(0, follow.Status{}, &c.now, c.first, reads, health)
		if got := !health[0].LastNew.IsZero(); got != c.news {
			t.Errorf("%+v: news %v", c, got)
		}
	}
}

// A log of which there is no file yet, and that can't be looked for, is told until it can.
func TestALogThatCantBeLookedForIsToldUntilItCan(t *testing.T) {
	r := &Race{wake: make(chan struct{}, 1)}
	health, reads := make([]Health, 1), make([]*race.Reads, 1)
	look := func(st follow.Status) {
		was, last := r.seen(0, st, nil, false, reads, health)
		r.tellOf("a", st, was, nil, false, last)
	}
	look(follow.Status{})
	for range 2 {
		look(follow.Status{Fault: "a: permission denied"})
		if !standsNotice(r, "permission denied") {
			t.Error("not told")
		}
		look(follow.Status{})
		if standsNotice(r, "permission denied") {
			t.Error("told of a log that is being read")
		}
	}
}

// While reads pour in, what is tried is held against the same reads without it: what came in
// meanwhile is no effect of a ruling.
func TestAPreviewIsOfTheSameReads(t *testing.T) {
	c := newCourse(t, 33, 60)
	c.open()
	defer c.close()
	poured, tries := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(poured)
		for n, more := 0, true; more; n++ {
			more = false
			for _, path := range c.files {
				c.append(path, 15)
				more = more || len(c.lines[path]) > 0
			}
			if n%10 == 0 { // so that they come in between tries on a slow machine too
				<-tries
			}
			time.Sleep(time.Millisecond)
		}
	}()
	grew, last := 0, 0
	for pouring := true; pouring; {
		select {
		case <-poured:
			pouring = false
		case tries <- struct{}{}:
		default:
		}
		x := race.Ruling{Rule: race.SetStatus, Bib: c.run.State().Results[0].Bib, Status: race.DSQ, Why: "tried"}
		before, after, err := c.run.Preview(x)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(before.Inputs, after.Inputs) {
			t.Fatal("the two rest on other reads")
		}
		if after.Results[0].State != race.DSQ || before.Results[0].State == race.DSQ {
			t.Fatalf("%s before, %s after", before.Results[0].State, after.Results[0].State)
		}
		for i := range before.Results[1:] {
			if a, b := before.Results[i+1], after.Results[i+1]; !slices.EqualFunc(a.Passings, b.Passings, func(p, q race.Passing) bool { return p.At == q.At && p.Split == q.Split }) {
				t.Fatalf("%s has other passings", a.Bib)
			}
		}
		if n := before.Sums.Kept; n > last {
			grew, last = grew+1, n
		}
	}
	if grew < 5 {
		t.Errorf("reads came in only %d times meanwhile", grew)
	}
}

// Rulings that are tried together come to what they come to when they are made, and taken back
// together they give the tables back.
func TestWhatIsTriedTogetherIsWhatIsMade(t *testing.T) {
	c := newCourse(t, 35, 60)
	c.open()
	defer c.close()
	for _, path := range c.files {
		c.append(path, len(c.lines[path]))
	}
	c.rest("all in")
	st := c.run.Compute()
	before := tables(t, st)
	var rs []race.Ruling
	for i := range st.Suspects {
		if s := &st.Suspects[i]; !s.Settled && s.Weight == race.Hold && len(s.Bibs) == 1 {
			rs = append(rs, race.Ruling{Rule: race.Accept, Suspect: s.ID, Evidence: s.Evidence, Why: "seen"})
		}
	}
	if len(rs) < 3 {
		t.Fatalf("only %d cases", len(rs))
	}
	_, after, err := c.run.Preview(rs...)
	if err != nil {
		t.Fatal(err)
	}
	if got := tables(t, c.run.Compute()); got != before {
		t.Error("what was only tried has changed the tables")
	}
	var back []race.Ruling
	for _, x := range rs {
		made, err := c.run.Rule(x, "tester")
		if err != nil {
			t.Fatal(err)
		}
		back = slices.Insert(back, 0, race.Ruling{Rule: race.Undo, UndoneSeq: made.Seq, Why: "wrong"})
	}
	now := c.run.Compute()
	for i, r := range now.Results {
		if a := after.Results[i]; r.State != a.State || r.Official != a.Official || !slices.Equal(r.HeldFor, a.HeldFor) {
			t.Errorf("%s is %s %v, tried %s %v", r.Bib, r.State, r.HeldFor, a.State, a.HeldFor)
		}
	}
	if tables(t, now) == before {
		t.Error("the rulings changed nothing")
	}
	for _, x := range back {
		if _, err := c.run.Rule(x, "tester"); err != nil {
			t.Fatal(err)
		}
	}
	if got := tables(t, c.run.Compute()); got != before {
		t.Error("taken back together they don't give the tables back")
	}
	wrong := race.Ruling{Rule: race.SetStatus, Bib: "no-such-bib", Status: race.DNF, Why: "tried"}
	if _, _, err := c.run.Preview(rs[0], wrong); err == nil || !strings.Contains(err.Error(), "no-such-bib is DNF") {
		t.Errorf("one of two can't apply, and is told so: %v", err)
	}
}
