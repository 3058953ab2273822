package live

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"twinmat/ingest/follow"
	"twinmat/reconcile/race"
)

const (
	behindAfter  = 30 * 1000 * race.Millis(1) // its newest reads are so much older than the others' when they come
	clockAfter   = 60 * time.Second           // all logs' newest reads are so far from the laptop's clock
	anotherDay   = 48 * time.Hour             // but not so far: then it is no clock that is wrong
	lately       = 30 * time.Second           // what came within it tells how a log is doing
	nearlyFull   = int64(256) << 20           // bytes left on the disk
	unknownSpace = int64(-1)
)

var ( // shorter where a test waits for them
	healthEvery = time.Second
	staleAfter  = 10 * time.Second // a look at a log takes longer: its share hangs
)

// Health is how one log is doing.
type Health struct {
	follow.Status
	Path    string
	LastNew time.Time     // laptop's clock: when reads came that it hadn't; zero: none since the start
	LastAt  race.Instant  // its newest read, on its own clock; NoInstant: none
	OnRace  race.Instant  // likewise on the race clock; NoInstant: none, or how its clock goes isn't known
	Late    []race.Millis // how much older than the race's now the newest read was, the last times that some came; lateOf of them
	reads   int           // so many, when LastNew was told
	Looked  time.Time     // laptop's clock: when the last look at it ended
	Lately  Tally         // its last lines, spoiltOf of them or some more
	before  []Tally       // its lines so far as earlier looks found them, the oldest that Lately needs first
}

// Tally counts lines, and those of them that can't be read.
type Tally struct{ Lines, Bad int }

// Among so many last lines, more bad ones than one in spoiltShare, and than few by chance,
// tell that a box was set up anew or writes nonsense.
const (
	spoiltOf    = 200
	spoiltShare = 100
	spoiltFew   = 3
)

// lateOf times in a row reads must have come late: one look may fall between two logs that are
// written at once, and a race that is played fast goes on meanwhile.
const lateOf = 3

// came notes how late the reads are that a look found; now is the race's.
func (h *Health) came(now race.Instant) {
	if h.OnRace == race.NoInstant || now == race.NoInstant {
		h.Late = nil
		return
	}
	from := max(0, len(h.Late)-lateOf+1)
	h.Late = append(slices.Clone(h.Late[from:]), now.Sub(h.OnRace)) // copies of h share what was
}

// behind is how late a log's reads come, where they do.
func (h *Health) behind(now time.Time) (race.Millis, bool) {
	if len(h.Late) < lateOf || now.Sub(h.LastNew) > lately {
		return 0, false
	}
	least := slices.Min(h.Late)
	return least, least > behindAfter
}

// tally notes a log's lines as a look found them.
func (h *Health) tally(now Tally) {
	for len(h.before) > 1 && now.Lines-h.before[1].Lines >= spoiltOf {
		h.before = h.before[1:]
	}
	var from Tally
	if len(h.before) > 0 && now.Lines >= h.before[0].Lines {
		from = h.before[0]
	} else {
		h.before = []Tally{{}} // the first look, or the log was begun again
	}
	h.Lately = Tally{now.Lines - from.Lines, now.Bad - from.Bad}
	n := len(h.before)
	if n > 1 && h.before[n-1].Lines == now.Lines { // half a line that grows
		n--
	}
	h.before = append(h.before[:n:n], now) // copies of h share the rest
}

func (h *Health) spoilt() bool {
	return h.Lately.Bad >= spoiltFew && h.Lately.Bad*spoiltShare > h.Lately.Lines
}

// Trip is something about the running that somebody should be told once.
type Trip struct{ Key, Text string }

// stays tells whether somebody must hear of it even when it is over: lines were lost, or nothing
// has been read lately that could tell.
func (t Trip) stays() bool { return t.Key == "clock" || strings.HasPrefix(t.Key, "spoilt ") }

// trips tells what is wrong with the running at a moment. free is what the disk has left in
// bytes, negative: not known.
func trips(now time.Time, logs []Health, free int64) []Trip {
	var out []Trip
	if free >= 0 && free < nearlyFull {
		out = append(out, Trip{"disk", fmt.Sprintf("the disk is nearly full: %d MB left; rulings and exports will fail without room", free>>20)})
	}
	for i := range logs {
		if h := &logs[i]; h.spoilt() {
			out = append(out, Trip{"spoilt " + h.Path, fmt.Sprintf("%s: %d of its last %d lines can't be read; was the box set up anew? Its row among the systems shows some", h.Path, h.Lately.Bad, h.Lately.Lines)})
		}
	}
	var late []time.Duration // how much later than its time each log's newest read came
	for i := range logs {
		h := &logs[i]
		if d := now.Sub(h.Looked); d > staleAfter {
			out = append(out, Trip{"stale " + h.Path, fmt.Sprintf("%s: its folder hasn't answered for %d s; the other logs go on", h.Path, int(d.Seconds()))})
		}
		if d, ok := h.behind(now); ok {
			out = append(out, Trip{"behind " + h.Path, fmt.Sprintf("%s is behind: what it tells is %d s older than what the other logs tell; look at its link or its download", h.Path, d/1000)})
		}
		if d, ok := h.lateness(now); ok {
			late = append(late, d)
		}
	}
	if len(late) == 0 {
		return out
	}
	least := slices.Min(late)
	if (least > clockAfter || least < -clockAfter) && least < anotherDay && least > -anotherDay { // a race of another day is practice
		out = append(out, Trip{"clock", fmt.Sprintf("the newest reads are %s: check this laptop's clock, and the boxes'", aside(least))})
	}
	return out
}

// lateness is how long after its time the newest read of a log came, where one came lately.
func (h *Health) lateness(now time.Time) (time.Duration, bool) {
	if h.LastNew.IsZero() || h.OnRace == race.NoInstant || now.Sub(h.LastNew) > lately {
		return 0, false
	}
	return h.LastNew.Sub(time.UnixMilli(int64(h.OnRace))), true
}

func aside(d time.Duration) string {
	if d < 0 {
		return lasting(-d) + " ahead of this laptop's clock"
	}
	return lasting(d) + " behind this laptop's clock"
}

// lasting is a length of time in the unit that says most.
func lasting(d time.Duration) string {
	switch {
	case d < 10*time.Minute:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < 10*time.Hour:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case d < 10*24*time.Hour:
		return fmt.Sprintf("%d h", int(d.Hours()))
	}
	return fmt.Sprintf("%d days", int(d.Hours()/24))
}

// latest is a log's newest read. A tag's reads are in order of time.
func latest(r *race.Reads) race.Instant {
	last := race.NoInstant
	for t := range r.Tags.All() {
		last = max(last, lastOf(t))
	}
	return last
}

// latestSince is latest's, of a log whose newest read was this before it grew. It costs what came.
func latestSince(r, before *race.Reads, last race.Instant) race.Instant {
	n, goneOn := before.Tags.Len(), before.Tags.Len() <= r.Tags.Len()
	newest := last
	r.Tags.Since(&before.Tags, func(i int, t *race.TagReads) bool {
		if i < n { // the same tag's, but for what came
			old := before.Tags.At(i)
			goneOn = goneOn && old.Tag == t.Tag && lastOf(old) <= lastOf(t)
		}
		newest = max(newest, lastOf(t))
		return goneOn
	})
	if !goneOn {
		return latest(r)
	}
	return newest
}

func lastOf(t *race.TagReads) race.Instant {
	if len(t.Reads) == 0 {
		return race.NoInstant
	}
	return t.Reads[len(t.Reads)-1].At
}

// ahead is how far a log's clock is ahead of the race clock.
type ahead struct {
	known bool // it is the one of its line, the plan says how it goes, or pairs do
	by    race.Millis
}

// clocksOf notes how the logs' clocks go by a state, and its now; r.mu is held.
func (r *Race) clocksOf(st *race.State) {
	r.now = st.Now
	r.ahead = make([]ahead, len(st.Plan.Logs))
	if !st.Now.Known() {
		return
	}
	for s, l := range st.Plan.Logs {
		r.ahead[s] = ahead{st.Plan.Reference(l.Line) == s || !l.Offset.Auto || st.Stretch(s, st.Now) != nil, st.Own(s, st.Now).Sub(st.Now)}
	}
}

// onRace lays a moment of a log's clock on the race clock; r.mu is held.
func (r *Race) onRace(s int, at race.Instant) race.Instant {
	if s >= len(r.ahead) || !r.ahead[s].known || at == race.NoInstant {
		return race.NoInstant
	}
	return at.Add(-r.ahead[s].by)
}

// watchHealth tells each trip once, and again only after it was over.
func (r *Race) watchHealth(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(healthEvery):
		}
		r.mu.Lock()
		logs := append([]Health(nil), r.health...)
		r.mu.Unlock()
		r.trip(slices.Concat(r.folderTrips(), trips(time.Now(), logs, freeSpace(r.dir)), r.journalTrips()))
	}
}

// folderTrips tells of a folder that was pulled out or locked before somebody rules in vain.
func (r *Race) folderTrips() []Trip {
	if r.readOnly != "" {
		return nil
	}
	if err := unwritable(r.dir); err != nil {
		return []Trip{{"folder", fmt.Sprintf("the race folder can't be written to (%v): no ruling, no export and no copy of a log is saved until that is put right", err)}}
	}
	return nil
}

// journalTrips tells of rulings that no longer lie on disk as they were written, and of a
// copy of them that fails.
func (r *Race) journalTrips() []Trip {
	if r.journal == nil {
		return nil
	}
	var out []Trip
	if err := r.journal.Standing(); err != nil {
		out = append(out, Trip{"rulings " + err.Error(), err.Error()}) // cut first, then changed: each is told
	}
	s := r.journal.Copy()
	if s.Err == nil {
		return out
	}
	return append(out, Trip{"copy", fmt.Sprintf("the copy of the rulings in %s lacks %s: %v; it is tried again", s.Dir, race.Counted(s.Behind, "ruling", "rulings"), s.Err)})
}

func (r *Race) trip(trips []Trip) {
	now := map[string]Trip{}
	for _, t := range trips {
		if _, twice := now[t.Key]; twice { // two lines have one file
			continue
		}
		now[t.Key] = t
		if t.Key == "clock" && r.invented {
			continue
		}
		if _, told := r.tripped[t.Key]; !told {
			r.noteUntil(t.Key, "%s", t.Text)
			r.nudge()
		}
	}
	for key, t := range r.tripped {
		if _, lasts := now[key]; !lasts && !t.stays() {
			r.over(key)
			r.nudge()
		}
	}
	r.tripped = now
}
