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
		if s != l.reference(g.Line) {
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

// observed is how a log's clock stands to its reference by the crossings themselves: what a
// model borrows from another log on the same clock is left out again.
func (l *look) observed(source int) (off, pm float64, ok bool) {
	rows := l.stretches(source)
	if len(rows) != 1 || len(l.st.Points[source]) == 0 {
		return 0, 0, false
	}
	var res []float64
	for _, p := range l.st.Points[source] {
		res = append(res, p.Residual)
	}
	slices.Sort(res)
	return rows[0].Offset + res[len(res)/2], math.Max(rows[0].PlusMinus, rows[0].Spread), true
}

// tie compares the references of two lines on which one clock was measured.
func (l *look) tie(name string, a, b measure) {
	ra, rb := l.reference(a.line), l.reference(b.line)
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
			if s := l.reference(line); l.Reads[s] != nil && l.Reads[s].Kept > 0 {
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
	for _, x := range l.Reads[a].Tags {
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
			count(seen, "test chip"), held, tag, best)
	default:
		l.inPlan(l.say("clocks", Odd, "were they carried there and back? then one of the two clocks is wrong", "%s doesn't fit %s: of %s that came to %s more than once none was at %s in between",
			l.name(b), l.name(a), count(seen, "test chip"), l.Plan.Lines[l.Plan.Logs[a].Line].ID, l.Plan.Lines[l.Plan.Logs[b].Line].ID), b)
	}
}

func (l *look) visits(source int, gun race.Instant) map[string][]race.Instant {
	out := map[string][]race.Instant{}
	for _, t := range l.Reads[source].Tags {
		if v := l.visitsOf(source, t.Reads, gun); len(v) > 0 {
			out[t.Tag] = v
		}
	}
	return out
}

// visitsOf are the beginnings of a tag's visits at a line before the first gun, on the race
// clock as the plan has it.
func (l *look) visitsOf(source int, reads []race.Read, gun race.Instant) []race.Instant {
	by := -l.Plan.Logs[source].Offset.Fixed
	var out []race.Instant
	last := race.NoInstant
	for _, r := range reads {
		at := r.At.Add(by)
		if gun.Known() && at >= gun {
			break
		}
		if !last.Known() || at.Sub(last) >= walkedGap {
			out = append(out, at)
		}
		last = at
	}
	return out
}
