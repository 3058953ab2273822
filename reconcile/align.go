package reconcile

import (
	"math"
	"slices"
	"sync/atomic"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/passing"
	"twinmat/reconcile/race"
)

// Rough clocks: before anybody's speed is known, each log is laid on its line's reference
// by the offset that most common tags vote for. That is enough to join passings and to
// assign them; the fine model comes after, from what they teach.

// align finds each log's coarse offset to the race clock.
func (r *run) align() {
	for s := range r.src {
		if x := &r.src[s]; x.ref {
			x.moved = r.movedBy(s)
		}
	}
	r.each(1, len(r.src), func(s int) { // the references' moves are known
		x := &r.src[s]
		if x.ref {
			return
		}
		if fixed, ok := r.fixedOffset(s); ok {
			x.rough, x.known = fixed, true
			return
		}
		if x.reads == nil || x.twin {
			return
		}
		ref := r.refs[x.line]
		x.vote = r.vote(ref, s)
		if x.vote.OK {
			x.rough, x.known = roughOf(&x.vote), true
		} else if x.vote.Votes > 0 {
			x.rough = roughOf(&x.vote)
		}
	})
	r.borrow()
}

// roughOf is a vote's offset as finely as joining needs it: one more pair mostly changes
// nothing that rests on it.
func roughOf(v *clock.Vote) race.Millis {
	const fine = 100
	return race.Millis(math.Round(float64(v.Offset)/fine)) * fine
}

// voted is the rough offset as finely as the vote tells it, where it is the vote's.
func (x *source) voted() race.Millis {
	if x.rough == roughOf(&x.vote) && x.vote.Votes > 0 {
		return x.vote.Offset
	}
	return x.rough
}

// borrow gives a log whose own vote isn't clear the offset of another on the same clock.
func (r *run) borrow() {
	for s := range r.src {
		name := r.plan.Logs[s].Clock
		if name == "" || r.src[s].known {
			continue
		}
		for t := range r.src {
			if r.plan.Logs[t].Clock == name && r.src[t].known && t != s {
				r.src[s].rough, r.src[s].known = r.src[t].rough, true
				r.src[s].says = "borrowed from " + r.plan.Lines[r.src[t].line].ID + ", which is on the same clock"
				break
			}
		}
	}
}

// fixedOffset is a log's offset to the race clock where a ruling or the plan fixes it for
// the whole race. Rulings that hold from a moment on are the model's (see breaks).
func (r *run) fixedOffset(s int) (race.Millis, bool) {
	l := &r.plan.Logs[s]
	base := r.src[r.refs[l.Line]].fixed
	for i := len(r.fx.Clocks) - 1; i >= 0; i-- {
		c := r.fx.Clocks[i]
		if c.Line == l.Line && c.System == l.System && c.Stepped == "" && !c.From.Known() {
			return c.Offset + base, true
		}
	}
	switch {
	case l.Offset.Auto:
		return 0, false
	case l.System == race.Main: // a line's second main: minus the race clock, as every main's
		return l.Offset.Fixed, true
	}
	return l.Offset.Fixed + base, true
}

// moved is a correction of a reference's own times: from is on its own clock.
type moved struct {
	from, to race.Instant // on the clock that is corrected; NoInstant: open
	by       race.Millis  // subtracted
	pm       race.Millis
}

// movedBy is what rulings of the form set-clock --offset say of a reference log.
func (r *run) movedBy(s int) []moved {
	l := &r.plan.Logs[s]
	var out []moved
	for _, c := range r.fx.Clocks {
		if c.Line != l.Line || c.System != l.System || c.Stepped != "" {
			continue
		}
		m := moved{from: race.NoInstant, to: race.NoInstant, by: c.Offset - r.src[s].fixed}
		if c.From.Known() {
			m.from = c.From.Add(r.src[s].fixed)
		}
		out = append(out, m)
	}
	return out
}

// onRace turns a reference log's time into the race clock.
func (x *source) onRace(t race.Instant) (race.Instant, race.Millis) {
	u := t.Add(-x.fixed)
	for i := len(x.moved) - 1; i >= 0; i-- { // a later ruling wins
		m := x.moved[i]
		if (!m.from.Known() || t >= m.from) && (!m.to.Known() || t < m.to) {
			return u.Add(-m.by), m.pm
		}
	}
	return u, 0
}

// roughly turns a log's time into the race clock, as well as is known by now.
func (x *source) roughly(t race.Instant) race.Instant { return x.about(t, race.NoInstant) }

// about is roughly for a time of which it is known about when it was: a clock that was set
// back tells some times twice.
func (x *source) about(t, when race.Instant) race.Instant {
	switch {
	case x.ref:
		u, _ := x.onRace(t)
		return u
	case x.model != nil:
		return x.model.RoughNear(t, when)
	case x.turns():
		return x.vote.Lay(t, when)
	}
	return t.Add(-x.rough)
}

// inOrder tells whether a later time of the log is a later one on the race clock too: none
// was set back, by itself or by a ruling.
func (x *source) inOrder() bool {
	switch {
	case x.ref:
		return len(x.moved) == 0
	case x.model != nil:
		return !x.model.SetBack()
	}
	return !x.turns() || !x.vote.SetBack()
}

// turns tells whether the vote found that the clock was set during the race.
func (x *source) turns() bool {
	return x.known && (len(x.vote.Turns) > 1 || x.vote.Fold != nil) && x.rough == roughOf(&x.vote)
}

// spans lays bursts on the race clock, in order of time: where the clock was set, each where
// another system's burst says that it was.
func (x *source) spans(bs []race.Burst, beside, out []passing.Span, keep race.Keep, window race.Millis) []passing.Span {
	set := x.model != nil && x.model.Stepped() || x.model == nil && x.turns()
	for i := range bs {
		when := race.NoInstant
		for k, best := 0, window; set && k < len(beside); k++ {
			t := beside[k].Kept
			u := x.about(bs[i].Time(keep), t)
			if d := max(u.Sub(t), t.Sub(u)); d < best {
				when, best = t, d
			}
		}
		out = append(out, passing.Span{First: x.about(bs[i].First, when), Last: x.about(bs[i].Last(), when), Kept: x.about(bs[i].Time(keep), when)})
		for k := i; set && k > 0 && out[k].First < out[k-1].First; k-- {
			out[k], out[k-1], bs[k], bs[k-1] = out[k-1], out[k], bs[k-1], bs[k]
		}
	}
	return out
}

// ownTime is the inverse of roughly, near enough to cut a burst.
func (x *source) ownTime(t race.Instant) race.Instant {
	if !t.Known() {
		return t
	}
	u := t.Add(x.rough)
	for range 3 {
		u = u.Add(t.Sub(x.roughly(u)))
	}
	return u
}

// fewCommon of those who are asked, four in five, must have been read by both logs for a vote
// of some of a great field.
func (r *run) fewCommon() int { return max(1, 4*r.enough/5) }

// commonTimes lists, for bibs and stray tags that both logs saw, the times of their bursts
// in each: the reference's on the race clock, the other's on its own. Where none of them is another
// than when it was asked before, it tells just that.
func (r *run) commonTimes(ref, s int) (c common, anew bool) {
	some, all := &answers[common]{}, &answers[common]{}
	if r.mem != nil {
		some, all = &r.mem.sources[s].common[0], &r.mem.sources[s].common[1]
	}
	every := r.everyAt(s)
	if every == 1 {
		*some = answers[common]{}
	} else if anew = r.askCommon(ref, s, every, some); tags(some.rows) >= r.fewCommon() {
		*all = answers[common]{} // not asked now, and what they told may be another by the next time
		return r.commonOf(ref, s, some, anew)
	}
	return r.commonOf(ref, s, all, r.askCommon(ref, s, 1, all))
}

// common are the times of some bibs' bursts in a log's reference and in it, of those that have
// any in both.
type common struct{ main, other [][]race.Instant }

// tags counts the bibs of which common times are told.
func tags(rows []common) (n int) {
	for k := range rows {
		n += len(rows[k].main)
	}
	return n
}

// askCommon asks every so many-th bib for its common times, and tells whether any are new. What a
// row of bibs told is kept as long as they stay where they are: whose reads of either log grew are
// fresh, since then it is asked again.
func (r *run) askCommon(ref, s, every int, kept *answers[common]) (anew bool) {
	calm := r.mem != nil && kept.of == r.mem.dealt
	var moved atomic.Bool
	whole, _ := kept.ask(r, calm, []int{every}, func(from, to int, old common) common {
		var c common
		var room commonRoom
		for i := from; i < to; i++ {
			if r.ents[i].tells(every) {
				r.addCommon(&c, &room, ref, s, r.ents[i].recs)
			}
		}
		if slices.EqualFunc(c.main, old.main, slices.Equal) && slices.EqualFunc(c.other, old.other, slices.Equal) {
			return old
		}
		moved.Store(true)
		return c
	})
	if r.mem != nil {
		kept.of = r.mem.dealt
	}
	return whole || moved.Load() || r.strayed
}

// commonOf are the common times that bibs told, and those of stray tags, where any are new.
func (r *run) commonOf(ref, s int, kept *answers[common], anew bool) (common, bool) {
	if !anew {
		return common{}, false
	}
	n := tags(kept.rows)
	c := common{make([][]race.Instant, 0, n+len(r.strays)), make([][]race.Instant, 0, n+len(r.strays))}
	for k := range kept.rows {
		c.main, c.other = append(c.main, kept.rows[k].main...), append(c.other, kept.rows[k].other...)
	}
	var room commonRoom
	for i := range r.strays {
		r.addCommon(&c, &room, ref, s, r.strays[i].recs)
	}
	return c, true
}

// commonRoom is used again from bib to bib.
type commonRoom struct {
	bursts      []race.Burst
	times       []race.Instant
	main, other []race.Instant // shelves
}

// addCommon adds the times of one bib, or of one stray tag, if both logs have any.
func (r *run) addCommon(c *common, room *commonRoom, ref, s int, recs []rec) {
	if !holds(recs, ref) || !holds(recs, s) {
		return
	}
	if room.times, room.bursts = r.burstTimes(room.times, room.bursts, recs, ref); len(room.times) == 0 {
		return
	}
	n := len(room.times)
	room.main = shelve(room.main, room.times)
	c.main = append(c.main, room.main[len(room.main)-n:len(room.main):len(room.main)])
	room.times, room.bursts = r.burstTimes(room.times, room.bursts, recs, s)
	n = len(room.times)
	room.other = shelve(room.other, room.times)
	c.other = append(c.other, room.other[len(room.other)-n:len(room.other):len(room.other)])
}

// shelve appends times to a shelf that many share: what stands on a full one stays there,
// and a new one is begun, of twice the length; the first holds what few of a row tell.
func shelve(shelf, times []race.Instant) []race.Instant {
	if cap(shelf)-len(shelf) < len(times) {
		shelf = make([]race.Instant, 0, max(16, min(2*cap(shelf), 512), len(times)))
	}
	return append(shelf, times...)
}

// burstTimes are the times of a bib's bursts in a log, put in place of what times holds;
// bursts is room to make them in. Both are given back to be used again.
func (r *run) burstTimes(times []race.Instant, bursts []race.Burst, recs []rec, s int) ([]race.Instant, []race.Burst) {
	var few [4]passing.Own
	l := &r.plan.Lines[r.src[s].line]
	bursts = passing.Bursts(bursts[:0], r.ownOf(few[:0], recs, s), passing.Rule{Source: s, Window: l.Window, Cut: race.NoInstant, Centre: l.Keep == race.KeepCentre})
	times = times[:0]
	for i := range bursts {
		t := bursts[i].Time(l.Keep)
		if r.src[s].ref {
			t, _ = r.src[s].onRace(t)
		}
		times = append(times, t)
	}
	return times, bursts
}

// holds tells whether a log holds any of a bib's reads.
func holds(recs []rec, s int) bool {
	i := firstOf(recs, s)
	return i < len(recs) && int(recs[i].source) == s
}

func firstOf(recs []rec, s int) int {
	for i := range recs { // few: one a log at the most, mostly
		if int(recs[i].source) >= s {
			return i
		}
	}
	return len(recs)
}

// ownOf appends the part of a bib's reads that one log holds.
func (r *run) ownOf(own []passing.Own, recs []rec, s int) []passing.Own {
	for i := firstOf(recs, s); i < len(recs) && int(recs[i].source) == s; i++ {
		own = append(own, r.ownReads(recs[i]))
	}
	return own
}

// ownReads are readsOf and tagOf at one look, for what is asked of every bib and log.
func (r *run) ownReads(x rec) passing.Own {
	t := r.src[x.source].reads.Tags.At(int(x.at))
	o := passing.Own{Tag: t.Tag, Reads: t.Reads[x.from:x.to:x.to], At: x.at, From: x.from}
	if x.bare {
		o.Tag = bare(o.Tag)
	}
	return o
}

var unknown = math.NaN()
