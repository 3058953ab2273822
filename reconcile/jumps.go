package reconcile

import (
	"twinmat/reconcile/clock"
	"twinmat/reconcile/race"
)

// shareSteps fits the logs whose pairs don't agree on one offset anew, with the steps that
// another log found at their line: where main jumped, it did so against both.
func (r *run) shareSteps(alone []int, pairs [][]clock.Pair) {
	for _, s := range alone {
		x := &r.src[s]
		c := r.config(s)
		if c.Fixed || x.model.Unsure() == "" && 3*outliers(x.model) < len(x.model.Residuals()) {
			continue
		}
		n := len(c.Breaks)
		for _, o := range alone {
			if y := &r.src[o]; o != s && y.line == x.line && y.model.Unsure() == "" {
				for _, st := range y.model.Steps() {
					c.Breaks = append(c.Breaks, st.Before+(st.After-st.Before)/2)
				}
			}
		}
		if len(c.Breaks) == n {
			continue
		}
		for len(c.BreakOffsets) < len(c.Breaks) {
			c.BreakOffsets = append(c.BreakOffsets, race.NoMillis)
		}
		if m := r.fit(s, 1, pairs[s], c); m.Unsure() == "" && 2*outliers(m) <= outliers(x.model) {
			x.model = m
		}
	}
}

// outliers counts the pairs that a model rejects.
func outliers(m *clock.Model) int {
	n := 0
	for _, q := range m.Residuals() {
		if q.Weight == 0 {
			n++
		}
	}
	return n
}

// breaks are the moments from which rulings set a log's offset anew, and those offsets to
// the race clock: a later ruling takes the place of those that begin no earlier.
func (r *run) breaks(l *race.Log) (from []race.Instant, offsets []race.Millis) {
	base := r.src[r.refs[l.Line]].fixed
	for _, k := range r.fx.Clocks {
		if k.Line != l.Line || k.System != l.System || k.Stepped != "" {
			continue
		}
		n := len(from)
		for n > 0 && from[n-1] >= k.From { // no instant is before all
			n--
		}
		from, offsets = from[:n], offsets[:n]
		if k.From.Known() {
			from, offsets = append(from, k.From), append(offsets, k.Offset+base)
		}
	}
	return from, offsets
}
