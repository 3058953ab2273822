package reconcile

import (
	"math"
	"slices"
	"sort"

	"twinmat/reconcile/race"
)

// state puts together what the steps found, but for suspects and ranks.
func (r *run) state() *race.State {
	rows := r.rows()
	r.told = rows
	st := &race.State{Plan: r.plan, Now: r.now, Results: rows.results, ByBib: rows.byBib, Rulings: r.in.Rulings, Undone: r.fx.Undone, Idle: r.fx.Idle,
		Inputs: make([]*race.Reads, len(r.src)), Laid: make([][]race.Laid, len(r.src)), Closed: r.closed()}
	r.sums.InPassings += r.who.inPassings
	for s := range r.src {
		st.Inputs[s] = r.src[s].reads
		st.Laid[s] = r.laid(s)
	}
	for i := range r.strays {
		x := &r.strays[i]
		r.span(x)
		if len(x.Passings) > 0 {
			st.Strays = append(st.Strays, x.StrayTag)
		}
	}
	st.Sums, st.MoreStrays = r.sums, r.moreStrays
	r.clockRows(st)
	r.systemRows(st, rows.seen)
	return st
}

// span fills in where and when a stray tag was read.
func (r *run) span(x *stray) {
	for k := range x.Passings {
		p := &x.Passings[k]
		if !slices.Contains(x.Lines, p.Line) {
			x.Lines = append(x.Lines, p.Line)
		}
		for _, b := range p.Bursts {
			if b == nil || b.Source < 0 {
				continue
			}
			first, last := r.src[b.Source].roughly(b.First), r.src[b.Source].roughly(b.Last())
			if !x.First.Known() || first < x.First {
				x.First = first
			}
			x.Last = max(x.Last, last)
		}
	}
	sort.Ints(x.Lines)
}

// closed tells which courses nobody else will come on.
func (r *run) closed() []bool {
	out := make([]bool, len(r.plan.Courses))
	for c := range out {
		if _, ok := r.fx.Closed[c]; ok {
			out[c] = true
			continue
		}
		last, fired := r.lastGun(c)
		if l := r.plan.Courses[c].Limit; l > 0 && fired && last.Known() && r.now.Known() {
			out[c] = r.now >= last.Add(l)
		}
	}
	return out
}

// lastGun is a course's last gun, somebody's own one too; false while one hasn't fired that
// somebody waits for.
func (r *run) lastGun(c int) (race.Instant, bool) {
	last := race.NoInstant
	for _, w := range r.plan.Waves {
		if w.Course == c {
			last = max(last, w.Gun)
		}
	}
	if n := len(r.guns.of[c]); n > 0 {
		last = max(last, r.guns.of[c][n-1])
	}
	return last, !r.guns.wait[c]
}

// clockRows are the fitted stretches, in order of line, log and time.
func (r *run) clockRows(st *race.State) {
	st.Points = make([][]race.ClockPoint, len(r.src))
	for l := range r.plan.Lines {
		for _, s := range r.plan.Lines[l].Logs {
			x := &r.src[s]
			if x.model == nil {
				continue
			}
			ts := x.model.Against(r.src[r.refs[l]].fixed.Seconds())
			for _, t := range ts {
				// Nothing was measured, nor borrowed from a shared clock: what is only
				// assumed is no clock to publish.
				if t.Pairs == 0 && !t.Fixed && (len(ts) > 1 || x.model.Unsure() != "") {
					continue
				}
				st.Clocks = append(st.Clocks, race.ClockStretch{Line: l, Source: s, From: t.From, To: t.To, Offset: t.OffsetS, DriftPPM: t.DriftPPM,
					Behind: t.BehindMean, PlusMinus: t.PlusMinusS, Spread: t.SpreadS, Pairs: t.Pairs, Fixed: t.Fixed, Says: t.Says})
			}
			st.Points[s] = x.model.Residuals()
		}
	}
}

// laid is how a log's clock stands to the race clock where nothing was fitted.
func (r *run) laid(s int) []race.Laid {
	x := &r.src[s]
	ref := &r.src[r.refs[x.line]]
	switch {
	case x.twin:
		x = ref
	case !x.ref && !x.known:
		return []race.Laid{{From: race.NoInstant, To: race.NoInstant, By: ref.fixed}}
	case !x.ref && x.turns():
		var out []race.Laid
		for i, t := range x.vote.Turns {
			out = append(out, race.Laid{From: t.From, To: race.NoInstant, By: t.Offset})
			if i == 0 {
				out[0].From = race.NoInstant
			}
		}
		return out
	}
	out := []race.Laid{{From: race.NoInstant, To: race.NoInstant, By: x.rough}}
	for _, m := range x.moved { // from and to are told on its own clock
		l := race.Laid{From: m.from, To: m.to, By: x.fixed + m.by}
		if m.from.Known() {
			l.From = m.from.Add(-l.By)
		}
		if m.to.Known() {
			l.To = m.to.Add(-l.By)
		}
		out = append(out, l)
	}
	return out
}

// systemRows are how each system did at each line, in the plan's order of lines.
func (r *run) systemRows(st *race.State, seen []seenAtLine) {
	bounds := make([][race.Systems]span, len(r.plan.Lines))
	for l := range bounds {
		for sys := range bounds[l] {
			bounds[l][sys] = span{race.NoInstant, race.NoInstant}
		}
	}
	for s, o := range r.spans {
		bounds[r.src[s].line][r.src[s].system].widen(o.first, o.last)
	}
	for l := range r.plan.Lines {
		for sys := race.Main; sys < race.Systems; sys++ {
			row := race.SystemRow{Line: l, System: sys, Passings: seen[l].passings[sys], First: bounds[l][sys].first, Last: bounds[l][sys].last,
				SeenOfAll: math.NaN(), MissedByAll: math.NaN()}
			var tags map[string]bool // only where several logs may hold the same ones
			for _, s := range r.plan.Lines[l].Logs {
				if r.src[s].system != sys {
					continue
				}
				row.Sources = append(row.Sources, s)
				if x := r.src[s].reads; x != nil {
					row.Reads += x.Kept - r.src[s].elsewhere
					row.BadLines += x.BadLines
					row.Repeated += x.Repeated
					tags = r.countTags(&row, s, tags)
				}
			}
			if row.Sources == nil {
				continue
			}
			if seen[l].all > 0 {
				row.SeenOfAll = float64(seen[l].inSplit[sys]) / float64(seen[l].all)
			}
			st.Systems = append(st.Systems, row)
		}
	}
}

// countTags adds the tags of one more log to a row's. The first log's need no table to tell
// them apart; it is made for all when a second one comes.
func (r *run) countTags(row *race.SystemRow, s int, tags map[string]bool) map[string]bool {
	first := len(row.Sources) == 1
	if !first && tags == nil {
		tags = map[string]bool{}
		for _, t := range row.Sources[:len(row.Sources)-1] {
			r.tagsHere(t, func(tag string) { tags[tag] = true })
		}
	}
	if first {
		row.Tags = r.tagsIn(s)
		return tags
	}
	r.tagsHere(s, func(tag string) { tags[tag] = true })
	row.Tags = len(tags)
	return tags
}

// tagsHere calls f for each tag that has reads of a log in its from and to.
func (r *run) tagsHere(s int, f func(tag string)) {
	x := r.src[s].reads
	if x == nil {
		return
	}
	for t := range x.Tags.All() {
		if lo, hi := r.hereIn(s, t.Reads); lo < hi {
			f(t.Tag)
		}
	}
}
