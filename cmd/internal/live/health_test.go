package live

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// Each trip by itself, and none where all is well.
func TestTrips(t *testing.T) {
	now := time.Date(2026, 5, 17, 11, 0, 0, 0, time.UTC)
	at := func(d time.Duration) race.Instant { return race.Instant(now.Add(d).UnixMilli()) }
	well := func(path string) Health {
		return Health{Path: path, Looked: now, LastNew: now, OnRace: at(-2 * time.Second), Late: []race.Millis{100, 0, 400}}
	}
	for _, c := range []struct {
		name string
		free int64
		turn func(a, b *Health)
		want string
	}{
		{"well", 1 << 40, func(a, b *Health) {}, ""},
		{"unknown space", unknownSpace, func(a, b *Health) {}, ""},
		{"disk", 10 << 20, func(a, b *Health) {}, "disk"},
		{"stale", 1 << 40, func(a, b *Health) { a.Looked = now.Add(-11 * time.Second) }, "stale a"},
		{"behind", 1 << 40, func(a, b *Health) { b.Late = []race.Millis{45_000, 31_000, 90_000} }, "behind b"},
		{"just not behind", 1 << 40, func(a, b *Health) { b.Late = []race.Millis{45_000, 30_000, 90_000} }, ""},
		{"late twice", 1 << 40, func(a, b *Health) { b.Late = []race.Millis{45_000, 45_000} }, ""},
		{"was behind", 1 << 40, func(a, b *Health) {
			b.Late, b.LastNew = []race.Millis{45_000, 45_000, 45_000}, now.Add(-time.Minute)
		}, ""},
		{"clock late", 1 << 40, func(a, b *Health) { a.OnRace, b.OnRace = at(-time.Hour), at(-time.Hour) }, "clock"},
		{"clock early", 1 << 40, func(a, b *Health) { a.OnRace, b.OnRace = at(time.Hour), at(time.Hour) }, "clock"},
		{"lines that can't be read", 1 << 40, func(a, b *Health) { a.Lately = Tally{200, 3} }, "spoilt a"},
		{"one in a hundred", 1 << 40, func(a, b *Health) { a.Lately = Tally{300, 3} }, ""},
		{"two of a few", 1 << 40, func(a, b *Health) { a.Lately = Tally{10, 2} }, ""},
		{"quiet for an hour", 1 << 40, func(a, b *Health) { a.LastNew, a.OnRace = now.Add(-time.Hour), at(-time.Hour) }, ""},
		{"nothing yet", 1 << 40, func(a, b *Health) { a.LastNew, a.OnRace = time.Time{}, race.NoInstant }, ""},
		{"a clock that isn't known", 1 << 40, func(a, b *Health) { a.OnRace = race.NoInstant }, ""},
	} {
		logs := []Health{well("a"), well("b")}
		c.turn(&logs[0], &logs[1])
		var keys []string
		for _, trip := range trips(now, logs, c.free) {
			keys = append(keys, trip.Key)
		}
		if got := strings.Join(keys, ", "); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// A log is behind when what it tells is old on the race clock, time after time: a box whose clock is
// an hour off makes no other log late, and is late itself when its link was down.
func TestABoxWhoseClockIsOffPutsNobodyBehind(t *testing.T) {
	c := newCourse(t, 41, 60) // its backup at 10k is an hour off
	begin := c.feed[0].at
	now := begin.Add(70 * time.Minute) // the field comes by there
	c.until(now, "")
	c.open()
	defer c.close()
	c.rest("the first part")
	in, st := c.run.input(), c.run.State()
	off := slices.IndexFunc(in.Plan.Logs, func(l race.Log) bool { return strings.HasSuffix(l.Path, "10k-backup.csv") })
	if k := st.Stretch(off, st.Now); k == nil || k.Offset < 3000 {
		t.Fatal("its clock is not an hour off in this race")
	}
	behind := func() (paths []string) {
		c.run.mu.Lock()
		defer c.run.mu.Unlock()
		for _, h := range c.run.health {
			if _, ok := h.behind(h.LastNew); ok {
				paths = append(paths, h.Path)
			}
		}
		return paths
	}
	looks := 0
	for range 30 {
		now = now.Add(20 * time.Second)
		c.until(now, "")
		c.rest("all links are up")
		c.run.mu.Lock()
		looks += len(c.run.health[off].Late)
		c.run.mu.Unlock()
		if got := behind(); len(got) > 0 {
			t.Fatalf("behind: %v", got)
		}
	}
	if looks == 0 {
		t.Fatal("the box whose clock is off read nobody meanwhile")
	}
	path := in.Plan.Logs[off].Path
	now = now.Add(5 * time.Minute)
	c.until(now, path)
	c.rest("its link is down")
	c.told()
	for range 2 * lateOf {
		c.append(path, 5)
		c.rest("it comes back, minutes late")
	}
	if got := behind(); !slices.Equal(got, []string{path}) {
		t.Errorf("behind: %v, want %s", got, path)
	}
}

// told waits until the race has told its newest now, by which logs are judged.
func (c *course) told() {
	c.t.Helper()
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		c.run.mu.Lock()
		now := c.run.now
		c.run.mu.Unlock()
		if now == c.run.State().Now {
			return
		}
	}
	c.t.Fatal("the race doesn't tell its now")
}

// A trip is told once while it lasts, and again when it comes back.
func TestTripsAreToldOnce(t *testing.T) {
	r := &Race{wake: make(chan struct{}, 1)}
	full := []Trip{{"disk", "full"}, {"disk", "full"}} // as of a file that two lines have
	for _, trips := range [][]Trip{full, full, full, nil, full} {
		r.trip(trips)
	}
	if len(r.notices) != 2 {
		t.Errorf("told %d times", len(r.notices))
	}
}

// A trip that is over is told to nobody any more, but where something was lost while it lasted;
// one that comes again takes the place of what was told before.
func TestTripsThatAreOverAreTakenBack(t *testing.T) {
	for _, c := range []struct {
		key         string
		after, next string // which of its notices hold: once it is over, and when it has come again
	}{{"disk", "-", "-+"}, {"behind a", "-", "-+"}, {"rulings changed", "-", "-+"}, {"spoilt a", "+", "-+"}, {"clock", "+", "-+"}} {
		r := &Race{wake: make(chan struct{}, 1)}
		hold := func() (s string) {
			for _, n := range r.notices {
				if s += "+"; n.Over {
					s = s[:len(s)-1] + "-"
				}
			}
			return s
		}
		r.trip([]Trip{{c.key, "so it is"}})
		if got := hold(); got != "+" {
			t.Errorf("%s: %s while it lasts", c.key, got)
		}
		r.trip(nil)
		if got := hold(); got != c.after {
			t.Errorf("%s: %s when it is over, want %s", c.key, got, c.after)
		}
		r.trip([]Trip{{c.key, "so it is again"}})
		if got := hold(); got != c.next {
			t.Errorf("%s: %s when it has come again, want %s", c.key, got, c.next)
		}
	}
}

// The last lines are counted over looks of any size: trouble is told while it is among them,
// and no longer.
func TestTheLastLinesAreTallied(t *testing.T) {
	for _, step := range []int{1, 7, 64, 500} {
		var h Health
		var all Tally
		feed := func(lines, bad int) {
			for n := 0; n < lines; n += step {
				now := min(step, lines-n)
				all.Lines += now
				all.Bad += min(now, bad)
				bad -= min(now, bad)
				h.tally(all)
				if h.Lately.Lines > all.Lines || all.Lines >= spoiltOf && h.Lately.Lines < spoiltOf || h.Lately.Lines > spoiltOf+2*step {
					t.Fatalf("%d at a time: %d lines are tallied of %d", step, h.Lately.Lines, all.Lines)
				}
			}
		}
		feed(10_000, 0)
		if h.spoilt() {
			t.Errorf("%d at a time: sound lines", step)
		}
		for range 1000 {
			h.tally(all)
		}
		if len(h.before) > spoiltOf+2 {
			t.Errorf("%d looks are remembered", len(h.before))
		}
		feed(100, 50)
		if !h.spoilt() {
			t.Errorf("%d at a time: 50 of 100 lines are bad, and %v of them is all that is told", step, h.Lately)
		}
		feed(2_000, 0)
		if h.spoilt() {
			t.Errorf("%d at a time: told when it was long over", step)
		}
		h.tally(Tally{20, 1}) // begun again
		if h.Lately != (Tally{20, 1}) {
			t.Errorf("%d at a time: begun again, %v", step, h.Lately)
		}
	}
}

// A log's newest read is told by what came as by all of it, also where a day is laid anew, a tag turns out to be
// another, or the list begins again; seeds 0 to 199.
func TestTheNewestReadIsToldByWhatCame(t *testing.T) {
	fell := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 3))
		x := &race.Reads{}
		last := race.NoInstant
		for range 30 {
			e := x.Tags.Edit()
			switch n := e.Len(); {
			case n == 0 || rng.IntN(4) == 0:
				e.Grow(n + 1)
				*e.At(n) = race.TagReads{Tag: fmt.Sprint(n), Reads: []race.Read{{At: race.Instant(rng.IntN(1000))}}}
			case rng.IntN(12) == 0:
				e.At(rng.IntN(n)).Tag = "another"
			case rng.IntN(12) == 0:
				all := e.At(rng.IntN(n))
				all.Reads = []race.Read{{At: race.Instant(rng.IntN(100))}}
			default:
				all := e.At(rng.IntN(n))
				all.Reads = append(slices.Clip(all.Reads), race.Read{At: lastOf(all) + race.Instant(rng.IntN(100))})
			}
			y := &race.Reads{Tags: e.List()}
			if rng.IntN(15) == 0 {
				y = &race.Reads{}
			}
			was := last
			if last = latestSince(y, x, last); last != latest(y) {
				t.Fatalf("seed %d: %d by what came, %d of all", seed, last, latest(y))
			}
			if last < was {
				fell++
			}
			x = y
		}
	}
	if fell < 50 {
		t.Errorf("the newest read fell %d times: too seldom to tell", fell)
	}
}
