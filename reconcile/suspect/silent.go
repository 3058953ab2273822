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
		seenOf(len(f.st.Results)+i, f.st.Strays[i].Passings, before, func(l int, x seenAt) { more[l] = append(more[l], x) })
	}
	if len(f.quiet) != n {
		f.quiet = make([]quiet, n)
	}
	var found []race.Suspect
	for l, there := range f.byLine() {
		slices.SortFunc(more[l], seenAt.compare)
		if q := &f.quiet[l]; q.at != f.there.moves[l] || !slices.Equal(q.more, more[l]) {
			*q = quiet{f.there.moves[l], more[l], f.silentAtLine(l, mergedAt(there, more[l]))}
		}
		found = append(found, f.quiet[l].found...)
	}
	return found
}

// quiet is what a line's passings told of silences.
type quiet struct {
	at    int // moves of the line's list, 0: it was never looked at
	more  []seenAt
	found []race.Suspect
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

// mergedAt is both lists in one, in order; the first is left as it is.
func mergedAt(a, b []seenAt) []seenAt {
	if len(b) == 0 {
		return a
	}
	out := make([]seenAt, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if a[0].compare(b[0]) < 0 {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
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
// tells whether those that fit no split count.
func (f *field) silences(line int, ps []seenAt, odd bool, system, twin race.System) []race.Suspect {
	rate, need := silentRate(ps, odd, system, twin)
	var found []race.Suspect
	last := race.NoInstant // this system's last passing before
	from, to, run := race.NoInstant, race.NoInstant, 0
	end := func(next race.Instant) {
		if run >= need && (to.Sub(from) >= silentShort || run >= silentCrowd*need) {
			found = append(found, f.silence(line, system, twin, last, next, from, to, run, rate))
		}
		run = 0
	}
	for _, p := range ps {
		switch {
		case p.odd && !odd:
		case p.seen[system]:
			end(p.at)
			last = p.at
		case p.seen[twin]:
			if run == 0 {
				from = p.at
			}
			to = p.at
			if !p.again || run == 0 {
				run++
			}
		}
	}
	end(race.NoInstant)
	return found
}

// silentRate is the share of the twin's passings that a system sees, told from those right
// after one that it saw: a silence touches that once, however long it is. need is how many
// missed in a row are too many for chance at that rate.
func silentRate(ps []seenAt, odd bool, system, twin race.System) (rate float64, need int) {
	after, hits, all, anyHit := 0, 0, 0, false
	prev := false
	for _, p := range ps {
		if !p.seen[twin] || p.odd && !odd {
			continue
		}
		all++
		anyHit = anyHit || p.seen[system]
		if prev {
			after++
			if p.seen[system] {
				hits++
			}
		}
		prev = p.seen[system]
	}
	rate = 0.5
	if after > 0 {
		rate = math.Min(float64(hits)/float64(after), silentBest)
	}
	need = silentLeast
	if rate > 0 && anyHit {
		need = max(need, int(math.Ceil(math.Log(silentChance/float64(max(all, 1)))/math.Log(1-rate))))
	}
	return rate, need
}

func (f *field) silence(line int, system, twin race.System, last, next, from, to race.Instant, run int, rate float64) race.Suspect {
	s := suspect(race.SilentLog, race.Look, "")
	s.ID = fmt.Sprintf("%s:%s/%s@%s", race.SilentLog, f.line(line), system, f.minute(from))
	s.Line, s.At = f.line(line), from
	s.Says = fmt.Sprintf("%s at %s read nobody from %s to %s while %s read %d", title(system.String()), f.line(line), f.clock(from), f.clock(to), twin, run)
	switch {
	case !last.Known() && !next.Known():
		s.Says += "; it has read nobody at all"
	case !next.Known():
		s.Says += fmt.Sprintf("; it still does, its last passing was at %s", f.clock(last))
	default:
		s.Says += fmt.Sprintf("; it reads again from %s", f.clock(next))
	}
	if last.Known() || next.Known() {
		s.Says += fmt.Sprintf("; it usually sees %.0f of 100", 100*rate)
	}
	s.Says += "."
	s.Proposes = accept(s.ID)
	s.Evidence = "from " + f.minute(from)
	if next.Known() {
		s.Evidence += " to " + f.minute(next)
	} else {
		s.Urgency = urgentNow // it goes on: somebody must run
	}
	return s
}
