package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

const (
	// silentChance is how likely a line may be, in the whole race, to show a silence by
	// chance that is told as one.
	silentChance = 1e-3
	// silentLeast is the fewest passings of the twin in a silence: a group that shields one
	// another's chips is smaller (common practice).
	silentLeast = 5
	// silentBest caps what a system is trusted to see: misses come in clusters, so that
	// four missed in a row are likelier than independence tells.
	silentBest = 0.95
	// silentShort, in time, is a silence too short for anybody to act on, and silentCrowd how
	// many times as many passings as tell one make it matter all the same.
	silentShort = 20 * 1000 * race.Millis(1)
	silentCrowd = 4
	// silentUnheard, in time, is how long a system may have been dead about a bunch that it missed
	// as one, where nobody else came then; silentBunch times as many as tell a silence are more than
	// a bunch that hides its chips from one antenna and not from the other.
	silentUnheard = 60 * 1000 * race.Millis(1)
	silentBunch   = 2
	// silentAgain, in time, is how soon after a passing another of the same chip tells
	// nothing new: one who waits beside the line is hidden from an antenna all the while.
	silentAgain = 60 * 1000 * race.Millis(1)
)

// silentLog: a system reads nothing while its twin does, for longer than chance allows at
// this line's rate of misses.
func silentLog(f *field) []race.Suspect {
	n := len(f.plan.Lines)
	before := make([]race.Instant, n)
	more := make([][]seenAt, n) // of tags that nobody owns
	for i := range f.st.Strays {
		ps := f.st.Strays[i].Passings
		seenOf(len(f.st.Results)+i, ps, before, func(l int, x seenAt) {
			if !lies(ps, l) {
				more[l] = append(more[l], x)
			}
		})
	}
	if len(f.quiet) != n {
		f.quiet = make([]quiet, n)
	}
	var found []race.Suspect
	for l, there := range f.byLine() {
		slices.SortFunc(more[l], seenAt.compare)
		if q := &f.quiet[l]; q.at != f.there.moves[l] || !slices.Equal(q.more, more[l]) || !slices.Equal(q.voided, f.in.Voided) {
			*q = quiet{f.there.moves[l], more[l], f.in.Voided, f.silentAtLine(l, f.withMore(there, more[l]))}
		}
		found = append(found, f.quiet[l].found...)
	}
	return found
}

// quiet is what a line's passings told of silences.
type quiet struct {
	at     int // moves of the line's list, 0: it was never looked at
	more   []seenAt
	voided []Voided
	found  []race.Suspect
}

// silentAtLine looks for silences of each system of a line that has two.
func (f *field) silentAtLine(l int, ps []seenAt) []race.Suspect {
	twin := race.Backup
	if !f.has(l, twin) {
		twin = race.Hand // who keys bibs goes on while a machine is dead
	}
	if !f.has(l, race.Main) || !f.has(l, twin) {
		return nil
	}
	var reads [race.Systems]bool
	for k := range ps {
		for s, seen := range ps[k].seen {
			reads[s] = reads[s] || seen
		}
	}
	// Where one read nobody, the other's clock, held against nothing, may be what is odd.
	odd := !reads[race.Main] || !reads[twin]
	found := f.silences(l, ps, odd, race.Main, twin)
	if twin == race.Backup {
		found = append(found, f.silences(l, ps, odd, race.Backup, race.Main)...)
	}
	return found
}

// withMore is a line's list with the passings of tags that nobody owns, good until it is asked for
// again; the list is left as it is.
func (f *field) withMore(there, more []seenAt) []seenAt {
	if len(more) == 0 {
		return there
	}
	room := f.room[:0]
	for _, x := range more {
		at, _ := slices.BinarySearchFunc(there, x, seenAt.compare)
		room, there = append(append(room, there[:at]...), x), there[at:]
	}
	f.room = append(room, there...)
	return f.room
}

// has tells whether the plan gives a line a log of a system that isn't its twin's again.
func (f *field) has(line int, system race.System) bool {
	for _, s := range f.plan.Lines[line].Logs {
		if f.plan.Logs[s].System == system && !slices.ContainsFunc(f.in.TwinLogs, func(t TwinLog) bool { return t.Source == s }) {
			return true
		}
	}
	return false
}

// silences are the runs of passings that only the twin saw which are too long for chance; odd
// tells whether those that fit no split count. Those that began in one minute of the day have one
// id, and are one thing to settle.
func (f *field) silences(line int, ps []seenAt, odd bool, system, twin race.System) []race.Suspect {
	runs, rate, need := silentRuns(ps, odd, system, twin)
	var found []race.Suspect
	for _, x := range runs {
		if x.n < need*x.timesAsMany() || f.in.silenced(line, system, &x) {
			continue
		}
		s := f.silence(line, system, twin, x, rate)
		k := slices.IndexFunc(found, func(o race.Suspect) bool { return o.ID == s.ID })
		if k < 0 {
			found = append(found, s)
			continue
		}
		o := &found[k]
		o.Says, o.Evidence, o.Urgency = o.Says+" "+s.Says, o.Evidence+", "+s.Evidence, max(o.Urgency, s.Urgency)
	}
	return found
}

// silenced tells whether a run lies where a person let no read of the system count: that it has none
// is no news. The two systems' crossings at its ends may be some seconds apart.
func (in *Input) silenced(line int, system race.System, x *silentRun) bool {
	return slices.ContainsFunc(in.Voided, func(v Voided) bool {
		return v.Line == line && (v.All || v.System == system) && x.from >= v.From.Add(-silentShort) && x.to <= v.To.Add(silentShort)
	})
}

// silentRun is a run of passings that only the twin saw.
type silentRun struct {
	last, next race.Instant // the system's passings before and after
	from, to   race.Instant
	n          int
}

// timesAsMany is how many times as many passings as chance asks for make a run one that matters.
func (x *silentRun) timesAsMany() int {
	if x.to.Sub(x.from) >= silentShort {
		return 1
	}
	from, to := x.from, x.to
	if x.last.Known() {
		from = x.last
	}
	if x.next.Known() {
		to = x.next
	}
	if to.Sub(from) >= silentUnheard {
		return silentBunch
	}
	return silentCrowd
}

// silentRuns are those that may be too long, with the share of the twin's passings that a system
// sees, told from those right after one that it saw: a silence touches that once, however long it
// is. need is how many missed in a row are too many for chance at that rate.
func silentRuns(ps []seenAt, odd bool, system, twin race.System) (runs []silentRun, rate float64, need int) {
	after, hits, all, anyHit, prev := 0, 0, 0, false, false
	x := silentRun{last: race.NoInstant}
	end := func(next race.Instant) {
		if x.n >= silentLeast {
			x.next = next
			runs = append(runs, x)
		}
		x.n, x.last = 0, next
	}
	for k := range ps {
		p := &ps[k]
		if p.odd && !odd {
			continue
		}
		if p.seen[twin] {
			all++
			if anyHit = anyHit || p.seen[system]; prev {
				after, hits = after+1, hits+tally(p.seen[system])
			}
			prev = p.seen[system]
		}
		switch {
		case p.seen[system]:
			end(p.at)
		case p.seen[twin]:
			if x.n == 0 {
				x.from = p.at
			}
			if x.to = p.at; !p.again || x.n == 0 {
				x.n++
			}
		}
	}
	end(race.NoInstant)
	rate = 0.5
	if after > 0 {
		rate = math.Min(float64(hits)/float64(after), silentBest)
	}
	need = silentLeast
	if rate > 0 && anyHit {
		need = max(need, int(math.Ceil(math.Log(silentChance/float64(max(all, 1)))/math.Log(1-rate))))
	}
	return runs, rate, need
}

func (f *field) silence(line int, system, twin race.System, x silentRun, rate float64) race.Suspect {
	s := suspect(race.SilentLog, race.Look, "")
	s.ID = fmt.Sprintf("%s:%s/%s@%s", race.SilentLog, f.line(line), system, f.minute(x.from))
	s.Line, s.At = f.line(line), x.from
	s.Says = fmt.Sprintf("%s at %s read nobody from %s to %s while %s read %d", title(system.String()), f.line(line), f.clock(x.from), f.clock(x.to), twin, x.n)
	switch {
	case !x.last.Known() && !x.next.Known():
		s.Says += "; it has read nobody at all"
	case !x.next.Known():
		s.Says += fmt.Sprintf("; it still does, its last passing was at %s", f.clock(x.last))
	default:
		s.Says += fmt.Sprintf("; it reads again from %s", f.clock(x.next))
	}
	if x.last.Known() || x.next.Known() {
		s.Says += fmt.Sprintf("; it usually sees %.0f of 100", 100*rate)
	}
	s.Says += "."
	s.Proposes = accept(s.ID)
	s.Evidence = "from " + f.minute(x.from)
	if x.next.Known() {
		s.Evidence += " to " + f.minute(x.next)
	} else {
		s.Urgency = urgentNow // it goes on: somebody must run
	}
	return s
}
