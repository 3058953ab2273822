package ready

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Mains at different lines never see the same crossing. Two things measure them against
// each other all the same: a box that serves two lines, whose one clock was measured
// against both; and, roughly, a test chip carried from one line to the other and back.

// measure is how a named clock stands to the reference of one line.
type measure struct {
	source, line int
	off, pm      float64 // seconds, that clock minus the reference's
}

// mains compares the references of lines that a shared clock ties together.
func (l *look) mains() {
	by := map[string][]measure{}
	var names []string
	for s := range l.Plan.Logs {
		g := &l.Plan.Logs[s]
		if g.Clock == "" || l.Reads[s] == nil {
			continue
		}
		m := measure{source: s, line: g.Line}
		if s != l.Plan.Reference(g.Line) {
			var ok bool
			if m.off, m.pm, ok = l.observed(s); !ok {
				continue
			}
		}
		if by[g.Clock] == nil {
			names = append(names, g.Clock)
		}
		by[g.Clock] = append(by[g.Clock], m)
	}
	for _, n := range names {
		ms := by[n]
		for i := 1; i < len(ms); i++ {
			if ms[i].line != ms[0].line {
				l.tie(n, ms[0], ms[i])
			}
		}
	}
}

// observed is how far a log's times lie after its reference's, as the crossings of both
// have it: no model between. A walk over a step or two of distance between the antennas is
// in it, which is what beside counts for.
func (l *look) observed(source int) (off, pm float64, ok bool) {
	rows := l.stretches(source)
	if len(rows) != 1 || rows[0].Pairs == 0 {
		return 0, 0, false
	}
	off, spread, n := l.apart(source, rows[0].Offset)
	const beside = 0.5 // seconds
	return off, math.Max(beside, spread), n > 0
}

// apart is the median of how far a log's crossings lie after its reference's, in seconds,
// and their median deviation from it. about is what their clocks differ by, roughly.
func (l *look) apart(source int, about float64) (median, deviation float64, n int) {
	ref := l.Plan.Reference(l.Plan.Logs[source].Line)
	mine := l.visits(source, race.NoInstant)
	by := l.Plan.Logs[ref].Offset.Fixed - l.Plan.Logs[source].Offset.Fixed
	var all []float64
	for t := range l.Reads[ref].Tags.All() {
		for _, at := range l.visitsOf(ref, t.Reads, race.NoInstant) {
			for _, m := range mine[t.Tag] {
				if d := m.Sub(at) - by; math.Abs(d.Seconds()-about) < walkedGap.Seconds()/2 {
					all = append(all, d.Seconds())
				}
			}
		}
	}
	if len(all) == 0 {
		return 0, 0, 0
	}
	slices.Sort(all)
	median = all[len(all)/2]
	away := make([]float64, len(all))
	for i, d := range all {
		away[i] = math.Abs(d - median)
	}
	slices.Sort(away)
	return median, away[len(away)/2], len(all)
}

// tie compares the references of two lines on which one clock was measured.
func (l *look) tie(name string, a, b measure) {
	ra, rb := l.Plan.Reference(a.line), l.Plan.Reference(b.line)
	if a.source == ra && b.source == rb {
		return // one box: there is nothing to compare
	}
	// A shared clock C is off after the reference: C − A = a.off, so B − A = a.off − b.off.
	apart := a.off - b.off
	wanted := (l.Plan.Logs[rb].Offset.Fixed - l.Plan.Logs[ra].Offset.Fixed).Seconds()
	pm := math.Hypot(a.pm, b.pm)
	says := fmt.Sprintf("%s is %s s to %s by test chips, through clock %s; ± %.3f s", l.name(rb), signed(apart), l.name(ra), name, pm)
	if off := apart - wanted; math.Abs(off) > max(1, 3*pm) {
		l.inPlan(l.say("clocks", Fault, fmt.Sprintf("set its clock, or say so: offset = \"%+.3fs\"", l.Plan.Logs[ra].Offset.Fixed.Seconds()+apart),
			"%s%s: the plan has it at %s s", says, named(race.Millis(math.Round(off*1000))), signed(wanted)), rb)
		return
	}
	l.say("clocks", Fine, "", "%s, as the plan has it", says)
}

const (
	// A test chip is back at a line within so long, or it was somewhere else in between.
	walkedLongest = race.Millis(45 * 60_000)
	walkedGap     = race.Millis(20_000) // parts two visits at a line
)

// walked lays the visits of test chips at one line between those at another: carried there
// and back, a chip must have been there in between.
func (l *look) walked() {
	gun := l.firstGun()
	var refs []int
	for line := range l.Plan.Lines {
		if len(l.Plan.Lines[line].Logs) > 0 {
			if s := l.Plan.Reference(line); l.Reads[s] != nil && l.Reads[s].Kept > 0 {
				refs = append(refs, s)
			}
		}
	}
	for k := 1; k < len(refs); k++ {
		l.between(refs[0], refs[k], gun)
	}
}

func (l *look) between(a, b int, gun race.Instant) {
	in := l.visits(b, gun)
	best, tag, held, seen := walkedLongest, "", 0, 0
	for x := range l.Reads[a].Tags.All() {
		there := in[x.Tag]
		here := l.visitsOf(a, x.Reads, gun)
		if len(there) == 0 || len(here) < 2 {
			continue
		}
		seen++
		within := false
		for i := 1; i < len(here); i++ {
			if d := here[i].Sub(here[i-1]); d <= walkedLongest && slices.ContainsFunc(there, func(t race.Instant) bool { return t > here[i-1] && t < here[i] }) {
				within = true
				if d < best || tag == "" {
					best, tag = d, x.Tag
				}
			}
		}
		if within {
			held++
		}
	}
	switch {
	case seen == 0:
	case held > 0:
		l.say("clocks", Fine, "", "%s fits %s: of %s carried there and back, %d passed in between, the closest (%s) within %s", l.name(b), l.name(a),
			race.Counted(seen, "test chip", "test chips"), held, tag, best)
	default:
		l.inPlan(l.say("clocks", Odd, "were they carried there and back? then one of the two clocks is wrong", "%s doesn't fit %s: of %s that came to %s more than once none was at %s in between",
			l.name(b), l.name(a), race.Counted(seen, "test chip", "test chips"), l.Plan.Lines[l.Plan.Logs[a].Line].ID, l.Plan.Lines[l.Plan.Logs[b].Line].ID), b)
	}
}

func (l *look) visits(source int, gun race.Instant) map[string][]race.Instant {
	out := map[string][]race.Instant{}
	for t := range l.Reads[source].Tags.All() {
		if v := l.visitsOf(source, t.Reads, gun); len(v) > 0 {
			out[t.Tag] = v
		}
	}
	return out
}

// visitsOf are the beginnings of a tag's visits at a line before the first gun, on the race
// clock as the plan has it.
func (l *look) visitsOf(source int, reads []race.Read, gun race.Instant) []race.Instant {
	out := visits(reads)
	for i := range out {
		if out[i] = out[i].Add(-l.Plan.Logs[source].Offset.Fixed); gun.Known() && out[i] >= gun {
			return out[:i]
		}
	}
	return out
}

// visits are the beginnings of a tag's visits at a line, on the log's own clock.
func visits(reads []race.Read) []race.Instant {
	var out []race.Instant
	last := race.NoInstant
	for _, r := range reads {
		if !last.Known() || r.At.Sub(last) >= walkedGap {
			out = append(out, r.At)
		}
		last = r.At
	}
	return out
}
