package reconcile

import (
	"math"
	"strings"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/race"
)

// ascribe lists the steps, and where a ruling says that it was the reference that jumped,
// moves the reference's own times on the side that isn't right.
func (r *run) ascribe() {
	seen := r.sightings()
	names := clock.Ascribe(seen)
	for s := range r.src {
		x := &r.src[s]
		if x.model == nil {
			continue
		}
		for n, st := range x.model.Steps() {
			k := step{source: s, Step: st}
			switch names[s][n] {
			case "":
			case seen[s].Main:
				k.told = "main"
			default:
				k.told = "other"
			}
			for i := len(r.fx.Clocks) - 1; i >= 0; i-- {
				c := r.fx.Clocks[i]
				if c.Line == x.line && c.System == x.system && c.From.Known() && c.From >= st.Before && c.From <= st.After {
					k.seq = c.Seq // the offset from there on is ruled
					break
				}
				if c.Line == x.line && c.Stepped != "" {
					k.seq, k.main = c.Seq, strings.EqualFold(c.Stepped, r.src[r.refs[x.line]].system.String())
					if k.main {
						r.moveLine(s, st, c.Right)
					}
					break
				}
			}
			r.steps = append(r.steps, k)
		}
	}
}

// sightings are the comparisons of two clocks that the logs make: logs of one name, or of
// one file, have one clock.
func (r *run) sightings() []clock.Sighting {
	name := func(s int) string {
		if l := &r.plan.Logs[s]; l.Clock != "" {
			return "clock " + l.Clock
		}
		return "log " + r.plan.Logs[s].Path
	}
	out := make([]clock.Sighting, len(r.src))
	for s := range r.src {
		if x := &r.src[s]; x.model != nil {
			out[s] = clock.Sighting{Main: name(r.refs[x.line]), Other: name(s), Model: x.model}
		}
	}
	return out
}

// sideMoved is one side of a reference's step, whose times a ruling moves.
type sideMoved struct {
	late bool         // the side after the step
	at   race.Instant // where the step is, on the reference's clock
	by   race.Millis  // subtracted
	pm   race.Millis

	source        int          // the log against which it was found,
	before, after race.Instant // between these, on the reference's clock

	log      int          // whose clock tells the sides apart where the reference's can't, -1: none
	logAt    race.Instant // from where on, on that clock
	from, to race.Instant // the reference's times that may be told twice
	apart    race.Instant // what it told before this was after the step: it was set back beyond all that it had told; NoInstant: it wasn't
}

// moveLine corrects a line's times on one side of its reference's step: the log that did
// not jump tells by how much. Its own times were laid on the reference's clock, so they
// move alike. A step that two logs saw is one.
func (r *run) moveLine(s int, st clock.Step, right string) {
	line, size := r.src[s].line, race.Millis(math.Round(st.SizeS*1000))
	m := sideMoved{late: right != "after", at: st.Before + (st.After-st.Before)/2, by: size, pm: race.Millis(math.Ceil(st.PlusMinusS * 1000)), source: s,
		before: min(st.Before, st.After), after: max(st.Before, st.After), log: -1, apart: race.NoInstant}
	for _, o := range r.lineMoved[line] {
		if o.source != s && o.before <= m.after && m.before <= o.after {
			return
		}
	}
	if m.late {
		m.by = -size
	}
	if st.Main != nil {
		m.log, m.logAt, m.from, m.to = s, st.Main.At, st.Before.Add(-st.Main.By), st.After.Add(st.Main.By)
		if all := r.src[s].model.Stretches(); len(all) == 2 && all[1].To < all[0].From {
			m.apart = all[1].To + (all[0].From-all[1].To)/2
		}
	}
	if r.lineMoved == nil {
		r.lineMoved = map[int][]sideMoved{}
	}
	r.lineMoved[line] = append(r.lineMoved[line], m)
}

// toldTwice is why a time of a main that was set back can't be trusted.
const toldTwice = "main's clock, which was set, may have told this time before or after"

// move applies what moveLine found to a time of a passing, on the reference's clock; unsure
// says why that can't be told, "" where it can. Of a reference that was set twice both steps
// count, and where they come to nothing it was set right again.
func (r *run) move(p *race.Passing, t race.Instant) (at race.Instant, pm race.Millis, unsure string) {
	var by race.Millis
	steps := 0
	for i := range r.lineMoved[p.Line] {
		m := &r.lineMoved[p.Line][i]
		late, sure := r.isLate(m, p, t)
		switch {
		case !sure: // either side's
			return t, max(m.by, -m.by), toldTwice
		case late == m.late:
			by, pm, steps = by+m.by, race.Millis(math.Ceil(math.Hypot(float64(pm), float64(m.pm)))), steps+1
		}
	}
	if steps > 1 && max(by, -by) <= pm {
		return t, 0, ""
	}
	return t.Add(-by), pm, ""
}

// isLate tells whether a time is one from after a step; not sure where the reference told it
// twice and no other log saw the passing.
func (r *run) isLate(m *sideMoved, p *race.Passing, t race.Instant) (late, sure bool) {
	if m.log < 0 {
		return t >= m.at, true
	}
	if b := p.Bursts[r.src[m.log].system]; b != nil && int(b.Source) == m.log {
		return b.First >= m.logAt, b.First >= m.logAt || b.Last() < m.logAt
	}
	if m.apart.Known() {
		return t < m.apart, true
	}
	return t > m.to, t < m.from || t > m.to
}
