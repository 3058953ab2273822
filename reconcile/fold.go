package reconcile

import (
	"cmp"
	"slices"
	"sort"

	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

// entrantRulings are the rulings on passings and times of one bib.
type entrantRulings struct {
	voids     []ruling.VoidPassing
	witnesses []ruling.WitnessRead
	set       map[string]ruling.TimeRuling
	use       map[string]ruling.SystemRuling
}

// gather takes voided reads out and hands the rulings on passings to their bibs: to those
// who lack them.
func (r *run) gather() {
	if !r.again {
		r.voidAll()
	}
	whose := func(bib string) *entrantRulings {
		if i, ok := r.byBib[bib]; ok && (!r.again || r.ents[i].ruled) {
			return &r.ents[i].extra
		}
		return nil
	}
	for _, v := range r.fx.VoidPassings {
		if x := whose(v.Bib); x != nil {
			x.voids = append(x.voids, v)
		}
	}
	for _, w := range r.fx.Witnesses {
		if x := whose(w.Bib); x != nil {
			x.witnesses = append(x.witnesses, w)
		}
	}
	for k, t := range r.fx.SetTimes {
		if x := whose(k.Bib); x != nil {
			if x.set == nil {
				x.set = map[string]ruling.TimeRuling{}
			}
			x.set[k.Split] = t
		}
	}
	for k, u := range r.fx.UseSystem {
		if x := whose(k.Bib); x != nil {
			if x.use == nil {
				x.use = map[string]ruling.SystemRuling{}
			}
			x.use[k.Split] = u
		}
	}
}

// voidAll takes voided reads out.
func (r *run) voidAll() {
	for i := range r.ents {
		r.void(&r.ents[i].recs)
	}
	for i := range r.strays {
		s := &r.strays[i]
		n := r.void(&s.recs) // counted under what they were till now
		s.Reads -= n
		if s.Ignored {
			r.sums.Ignored -= n
		} else {
			r.sums.Unassigned -= n
		}
	}
}

// void takes the reads that void-reads rulings name out of a bib's, and counts them.
func (r *run) void(recs *[]rec) (voided int) {
	if len(r.fx.VoidReads) == 0 {
		return 0
	}
	var out []rec
	for _, x := range *recs {
		pieces := []rec{x}
		src := &r.src[x.source]
		for _, v := range r.fx.VoidReads {
			if v.Line != src.line || !v.All && v.System != src.system {
				continue
			}
			var left []rec
			for _, p := range pieces {
				reads := r.readsOf(p)
				lo := sort.Search(len(reads), func(i int) bool { return src.roughly(reads[i].At) >= v.From })
				hi := sort.Search(len(reads), func(i int) bool { return src.roughly(reads[i].At) > v.To })
				voided += max(0, hi-lo)
				before, after := p, p
				if before.to = p.from + int32(lo); lo > 0 {
					left = append(left, before)
				}
				if after.from = p.from + int32(max(lo, hi)); hi < len(reads) {
					left = append(left, after)
				}
			}
			pieces = left
		}
		out = append(out, pieces...)
	}
	*recs = out
	r.sums.Voided += voided
	return voided
}

// foldRough makes everybody's passings and assigns them on the rough clocks, with nothing
// learnt, and learns from that.
func (r *run) foldRough() {
	r.field = make([]course.Field, len(r.plan.Courses))
	r.eachFirst(r.foldFirst)
	r.learn()
	r.usualBursts()
}

// foldFine does so again on the fine clocks, with what the first time taught.
func (r *run) foldFine() {
	r.eachLast(r.foldLast)
	r.foldStrays()
	r.flag()
}

// foldStrays makes the passings of tags that nobody owns, where they may be others than in the turn before.
func (r *run) foldStrays() {
	if r.again && r.fineCalm && !r.strayed {
		for i := range r.strays {
			r.strays[i].Passings = r.mem.strays[i]
		}
		return
	}
	r.each(64, len(r.strays), func(i int) {
		s := &r.strays[i]
		s.Passings = r.passings(s.recs, nil, nil)
	})
	if r.mem == nil {
		return
	}
	r.mem.strays = make([][]race.Passing, len(r.strays))
	for i := range r.strays {
		r.mem.strays[i] = r.strays[i].Passings
	}
}

func (r *run) foldFirst(e *entrant) {
	e.stands, e.timed = false, false
	if r.firstStands(e) {
		return
	}
	if !r.firstBeside(e) {
		r.fold(e)
		r.assign(e, noEnding)
	}
	r.firstMade(e)
}

func (r *run) foldLast(e *entrant) {
	switch {
	case r.lastStands(e):
		return // or was timed anew
	case r.lastBeside(e):
		r.lastMade(e)
		return
	}
	if e.past == nil || len(e.passings) == 0 {
		r.refold(e, e.passings)
		r.assignLast(e)
	} else {
		j := r.joiner() // the first ones stay, and what comes of them is mostly that of an earlier turn
		j.all = append(j.all[:0], e.passings...)
		r.refold(e, j.all)
		if r.assignLast(e); !r.sameAgain(e) {
			e.passings = slices.Clone(e.passings)
		}
		r.joiners.Put(j)
	}
	if e.timed {
		r.lastMade(e)
	}
}

// assignLast assigns an entrant's passings on the fine clocks, and times them: those of a flagged
// course hang on its leader, who isn't known yet.
func (r *run) assignLast(e *entrant) {
	r.assign(e, noEnding)
	if e.course < 0 || !r.plan.Courses[e.course].Flagged {
		r.timeAnew(e)
		e.timed = true
	}
}

// refold lays an entrant's first passings on the fine clocks where a copy of them stands, or they
// themselves; where those clocks are far from the rough ones they are joined anew.
func (r *run) refold(e *entrant, laid []race.Passing) {
	if !r.rejoins(e) {
		e.passings = laid
	} else if r.fold(e); len(r.lineMoved) == 0 {
		return
	}
	r.refresh(e.passings)
}

// rejoinShare of a line's window: where the fine clock moves nothing by more than that
// against the rough one, the bursts that belong together are the same.
const rejoinShare = 4

// farClocks tells, per line, whether a fine clock there differs so much from the rough one
// that bursts must be joined anew. Where the vote had a clock set in mid-race, and what crossings tell
// has it run on, some were laid by a turn that there was not.
func (r *run) farClocks() {
	r.far = make([]bool, len(r.plan.Lines))
	for s := range r.src {
		x := &r.src[s]
		if x.model == nil {
			continue
		}
		if x.turns() && !x.model.Stepped() {
			r.far[x.line] = true
		}
		reach := r.plan.Lines[x.line].Window / rejoinShare
		for _, t := range x.model.Stretches() {
			for _, at := range []race.Instant{t.From, t.To} {
				if d := x.model.Rough(at.Add(x.rough)).Sub(at); d > reach || d < -reach {
					r.far[x.line] = true
				}
			}
		}
	}
}

func (r *run) rejoins(e *entrant) bool {
	for i := range e.recs {
		if r.far[r.src[e.recs[i].source].line] {
			return true
		}
	}
	return false
}

// refresh lays passings that stay joined as they are on the fine clocks.
func (r *run) refresh(ps []race.Passing) {
	for i := range ps {
		p := &ps[i]
		keep, was := r.plan.Lines[p.Line].Keep, p.At
		for sys := race.Systems - 1; sys >= 0; sys-- {
			if b := p.Bursts[sys]; b != nil {
				if b.Source >= 0 {
					p.Seen[sys], _, _ = r.move(p, r.src[b.Source].about(b.Time(keep), was))
				}
				p.At, p.From = p.Seen[sys], race.FromSystem(race.System(sys))
			}
		}
	}
	inOrder(ps)
}

func inOrder(ps []race.Passing) {
	slices.SortStableFunc(ps, func(a, b race.Passing) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Line, b.Line)) })
}

// fold makes a bib's passings from its reads and from what witnesses saw.
func (r *run) fold(e *entrant) {
	e.passings = r.passings(e.recs, e, e.extra.witnesses)
	for _, v := range e.extra.voids {
		if k := r.nearest(e.passings, v.Line, v.At, r.plan.Lines[v.Line].Window); k >= 0 {
			e.passings[k].Fate, e.passings[k].Ruling = race.Voided, v.Seq
		}
	}
}

// startCut is when a burst at a line is cut: where one's course starts there, at one's gun
// less what may be early; NoInstant: nowhere, and for who has no start (nil too).
func (r *run) startCut(e *entrant, line int) race.Instant {
	if e == nil || e.course < 0 || !e.gun.Known() {
		return race.NoInstant
	}
	for i := range r.plan.Courses[e.course].Splits {
		s := &r.plan.Courses[e.course].Splits[i]
		if s.At > 0 {
			break
		}
		if s.Line == line {
			return e.gun.Add(-r.plan.Waves[e.athlete.Wave].Early)
		}
	}
	return race.NoInstant
}

// nearest is the passing at a line that a moment means, no further off than reach; -1 for none.
func (r *run) nearest(ps []race.Passing, line int, at race.Instant, reach race.Millis) int {
	by := r.ruledBy(ps, line)
	k, off := race.Meant(ps, line, at, func(b *race.Burst) (first, last race.Instant) {
		if b.Source < 0 {
			return b.First, b.Last()
		}
		return r.src[b.Source].roughly(b.First).Add(by[b]), r.src[b.Source].roughly(b.Last()).Add(by[b])
	})
	if off > reach {
		return -1
	}
	return k
}

// ruledBy is by how much a line's bursts move that are on the side of its main's step that isn't
// right: a moment that is ruled is one of those that come out.
func (r *run) ruledBy(ps []race.Passing, line int) map[*race.Burst]race.Millis {
	if len(r.lineMoved[line]) == 0 {
		return nil
	}
	by := map[*race.Burst]race.Millis{}
	for k := range ps {
		if ps[k].Line != line {
			continue
		}
		for _, b := range ps[k].Bursts {
			if b != nil && b.Source >= 0 {
				t := r.src[b.Source].roughly(b.First)
				at, _, _ := r.move(&ps[k], t)
				by[b] = at.Sub(t)
			}
		}
	}
	return by
}

// witness lays what a person saw on the passings: joined to the nearest one that no hand
// has seen, else one of its own.
func (r *run) witness(ps []race.Passing, w ruling.WitnessRead) []race.Passing {
	b := &race.Burst{Source: -1, First: w.At, Peak: race.NoRSSI, Count: 1, Witness: int32(w.Seq)}
	if k := r.nearest(ps, w.Line, w.At, r.plan.Lines[w.Line].Window-1); k >= 0 && ps[k].Bursts[race.Hand] == nil {
		ps[k].Bursts[race.Hand], ps[k].Seen[race.Hand] = b, w.At
		return ps
	}
	return appendHand(ps, w, b)
}

func appendHand(ps []race.Passing, w ruling.WitnessRead, b *race.Burst) []race.Passing {
	p := race.Passing{Line: w.Line, Split: -1, At: w.At, From: race.FromHand}
	for k := range p.Seen {
		p.Seen[k], p.PM[k] = race.NoInstant, race.NoMillis
	}
	p.Bursts[race.Hand], p.Seen[race.Hand] = b, w.At
	return append(ps, p)
}
