package suspect

import (
	"cmp"
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
	// silentShort, in time, is a silence too short for anybody to act on.
	silentShort = 20 * 1000 * race.Millis(1)
	// silentAgain, in time, is how soon after a passing another of the same chip tells
	// nothing new: one who waits beside the line is hidden from an antenna all the while.
	silentAgain = 60 * 1000 * race.Millis(1)
)

// silentAt is a passing at a line and which systems saw it.
type silentAt struct {
	at    race.Instant
	came  int32 // its place before they are put in order of time
	again bool  // so soon after another of the same chip that it tells nothing new
	seen  [race.Systems]bool
}

// silentLog: a system reads nothing while its twin does, for longer than chance allows at
// this line's rate of misses.
func silentLog(f *field) []race.Suspect {
	lists := make([][]silentAt, len(f.plan.Lines))
	for l := range lists {
		lists[l] = make([]silentAt, 0, f.crossed[l])
	}
	odd := make([][]silentAt, len(lists)) // those that fit no split
	reads := make([][race.Systems]bool, len(lists))
	before := make([]race.Instant, len(lists))
	add := func(ps []race.Passing) {
		for l := range before {
			before[l] = race.NoInstant
		}
		for k := range ps {
			p := &ps[k]
			if !p.At.Known() || p.Fate == race.Voided {
				continue
			}
			x := silentAt{at: p.At, again: before[p.Line].Known() && p.At.Sub(before[p.Line]) < silentAgain}
			for s, b := range p.Bursts {
				x.seen[s] = b != nil && b.Witness == 0
				reads[p.Line][s] = reads[p.Line][s] || x.seen[s]
			}
			if p.Fate == race.StayedNear || p.Fate == race.Extra {
				odd[p.Line] = append(odd[p.Line], x)
				continue // somebody near the line is read by either system as they stand
			}
			before[p.Line] = p.At
			x.came = int32(len(lists[p.Line]))
			lists[p.Line] = append(lists[p.Line], x)
		}
	}
	for i := range f.st.Results {
		add(f.st.Results[i].Passings)
	}
	for i := range f.st.Strays {
		add(f.st.Strays[i].Passings)
	}
	var found []race.Suspect
	for l, ps := range lists {
		twin := race.Backup
		if !f.has(l, twin) {
			twin = race.Hand // who keys bibs goes on while a machine is dead
		}
		if !f.has(l, race.Main) || !f.has(l, twin) {
			continue
		}
		if !reads[l][race.Main] || !reads[l][twin] {
			ps = append(ps, odd[l]...) // the other's clock, held against nothing, may be what is odd
			for i := range ps {
				ps[i].came = int32(i)
			}
		}
		slices.SortFunc(ps, func(a, b silentAt) int { // stable, but faster
			if a.at != b.at {
				return cmp.Compare(a.at, b.at)
			}
			return cmp.Compare(a.came, b.came)
		})
		found = append(found, f.silences(l, ps, race.Main, twin)...)
		if twin == race.Backup {
			found = append(found, f.silences(l, ps, race.Backup, race.Main)...)
		}
	}
	return found
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

// silences are the runs of passings that only the twin saw which are too long for chance.
func (f *field) silences(line int, ps []silentAt, system, twin race.System) []race.Suspect {
	// The share of the twin's passings that this system sees, told from those right after
	// one that it saw: a silence touches that once, however long it is.
	after, hits, all, anyHit := 0, 0, 0, false
	prev := false
	for _, p := range ps {
		if !p.seen[twin] {
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
	rate := 0.5
	if after > 0 {
		rate = math.Min(float64(hits)/float64(after), silentBest)
	}
	need := silentLeast
	if rate > 0 {
		need = max(need, int(math.Ceil(math.Log(silentChance/float64(max(all, 1)))/math.Log(1-rate))))
	}
	if !anyHit {
		need = silentLeast
	}
	var found []race.Suspect
	last := race.NoInstant // this system's last passing before
	from, to, run := race.NoInstant, race.NoInstant, 0
	end := func(next race.Instant) {
		if run >= need && to.Sub(from) >= silentShort {
			found = append(found, f.silence(line, system, twin, last, next, from, to, run, rate))
		}
		run = 0
	}
	for _, p := range ps {
		switch {
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
