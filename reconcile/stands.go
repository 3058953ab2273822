package reconcile

import (
	"reflect"
	"slices"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// What of an earlier turn still stands.

// roughSettled notes which logs' rough clocks are others than in the turn before.
func (r *run) roughSettled() {
	if r.mem == nil {
		return
	}
	r.roughCalm = true
	for s := range r.src {
		x, p := &r.src[s], &r.mem.sources[s]
		now := roughClock{known: x.known, fixed: x.fixed, rough: x.rough, moved: x.moved}
		if x.turns() {
			now.turns, now.fold = x.vote.Turns, x.vote.Fold
		}
		if p.roughAt == 0 || !reflect.DeepEqual(now, p.rough) {
			p.rough, p.roughAt = now, r.turn
			r.roughCalm = false
		}
	}
}

// fineSettled notes which logs' fine clocks are others than in the turn before.
func (r *run) fineSettled() {
	if r.mem == nil {
		return
	}
	r.fineCalm = r.roughCalm
	for s := range r.src {
		x, p := &r.src[s], &r.mem.sources[s]
		now := fineClock{model: x.model, far: r.far[x.line], burst: x.burst, moved: r.lineMoved[x.line]}
		old := p.fine
		switch {
		case p.fineAt == 0 || p.roughAt == r.turn || now.far != old.far || now.burst != old.burst || !slices.Equal(now.moved, old.moved) || !alikeModels(now.model, old.model):
			p.fine, p.fineAt = now, r.turn
			r.fineCalm = false
		case !now.model.Equal(old.model):
			p.fine, p.modelAt = now, r.turn
			r.fineCalm = false
		}
	}
}

// fieldsSettled notes besides whether what a course's field teaches is another.
func (r *run) fieldsSettled() { r.fineCalm = r.fineCalm && r.fieldsCalm() }

// alikeModels tells whether two models are one, or both keep the order of their times: then
// one is as good as the other to tell about when something was.
func alikeModels(a, b *clock.Model) bool {
	return a.Equal(b) || a != nil && b != nil && !a.SetBack() && !b.SetBack()
}

// fieldsCalm tells whether every course's field teaches what it did in the turn before.
func (r *run) fieldsCalm() bool {
	return !slices.ContainsFunc(r.mem.fields, func(f pastField) bool { return f.at == r.turn || slices.Contains(f.searchedAt, r.turn) })
}

// teach notes in a turn what a course's athletes teach, and whom that concerns.
func (p *pastField) teach(f course.Field, c *race.Course, lines, turn int) {
	if p.lineAt == nil {
		p.lineAt, p.searchedAt = make([]int, lines), make([]int, lines)
	}
	d := course.Differ(&f, &p.field)
	p.field = f
	if p.at == 0 || d.All || p.moved != nil {
		p.at = turn
	}
	for s := d.Searched; s < max(len(f.Factor), len(c.Splits)); s++ {
		line := c.Splits[min(s, len(c.Splits)-1)].Line
		if p.searchedAt[line] = turn; s >= d.From {
			p.lineAt[line] = turn
		}
	}
}

// taughtElse tells whether what a bib's field teaches is another since its last outcome, and that may
// be another by it.
func (r *run) taughtElse(e *entrant) bool {
	if e.course < 0 {
		return false
	}
	f, last := &r.mem.fields[e.course], e.past.lastAt
	if f.at > last {
		return true
	}
	lines := f.lineAt
	if e.past.last.searched || !e.extra.none() {
		lines = f.searchedAt
	}
	for line, at := range lines {
		if at > last && (!e.extra.none() || r.readAt(e, line)) {
			return true
		}
	}
	return false
}

// readAt tells whether a bib was read at a line.
func (r *run) readAt(e *entrant, line int) bool {
	return slices.ContainsFunc(e.recs, func(x rec) bool { return r.src[x.source].line == line })
}

// onlyFresh tells whether nobody else's last outcome can be another than in the turn before.
func (r *run) onlyFresh() bool { return r.untouched && r.fineCalm }

// restless are those who don't stand as this turn leaves them, for the next to know.
func (r *run) restless() (some []int) {
	if r.onlyFresh() {
		return r.fresh
	}
	for i := range r.ents {
		if !r.ents[i].stands || !r.ents[i].timed {
			some = append(some, i)
		}
	}
	return some
}

// eachFirst calls f for those whose first outcome may be another than in the turn before. While
// no rough clock moved those are the fresh ones: the others stay untouched, their last outcome
// with them. A flagged course's last outcomes are always made anew.
func (r *run) eachFirst(f func(*entrant)) {
	r.untouched = r.again && r.roughCalm && !slices.ContainsFunc(r.plan.Courses, func(c race.Course) bool { return c.Flagged })
	if !r.untouched {
		r.each(64, len(r.ents), func(i int) { f(&r.ents[i]) })
		return
	}
	for _, k := range r.mem.dealt.restless {
		r.ents[k].stands, r.ents[k].timed = true, true
	}
	r.eachFresh(f)
}

// eachFresh calls f for those who have more reads, or other rulings.
func (r *run) eachFresh(f func(*entrant)) {
	r.each(16, len(r.fresh), func(n int) { f(&r.ents[r.fresh[n]]) })
}

// firstOutcome is an entrant's.
func (r *run) firstOutcome(e *entrant) *outcome {
	if !r.untouched || e.fresh {
		return &e.outcome
	}
	return &e.past.first
}

// atFirst is an entrant with the first outcome, where that was left untouched.
func (r *run) atFirst(e *entrant) *entrant {
	if !r.untouched || e.fresh {
		return e
	}
	x := *e
	x.outcome = e.past.first
	return &x
}

// eachLast calls f for those whose last outcome may be another than in the turn before, with
// their first one.
func (r *run) eachLast(f func(*entrant)) {
	r.eachTouched(func(e *entrant) {
		if r.untouched && !e.fresh {
			e.outcome, e.stands, e.timed = e.past.first, false, false
		}
		f(e)
	})
}

// eachTouched calls f for those whose last outcome may be another than in the turn before.
func (r *run) eachTouched(f func(*entrant)) {
	if r.onlyFresh() {
		r.eachFresh(f)
		return
	}
	r.each(64, len(r.ents), func(i int) { f(&r.ents[i]) })
}

// firstStands tells whether a bib's first outcome is that of an earlier turn, and takes it.
func (r *run) firstStands(e *entrant) bool {
	p := e.past
	if p == nil {
		return false
	}
	if r.again && r.roughCalm && !e.fresh {
		e.outcome = p.first
		return true
	}
	stands := p.firstAt > 0 && r.restsOn(p, r.mem.in.Reads, e)
	for i := 0; stands && i < len(e.recs); i++ {
		stands = r.mem.sources[e.recs[i].source].roughAt <= p.firstAt
	}
	if stands {
		e.outcome, p.recs = p.first, e.recs
	}
	return stands
}

// firstMade remembers a bib's first outcome.
func (r *run) firstMade(e *entrant) {
	if p := e.past; p != nil {
		if p.firstAt == 0 || p.athlete != e.athlete || p.course != e.course || p.gun != e.gun || !r.sameRun(&p.first, &e.outcome) {
			p.ranAt = r.turn
		}
		p.athlete, p.course, p.gun, p.recs, p.extra = e.athlete, e.course, e.gun, e.recs, e.extra
		p.first, p.firstAt = e.outcome, r.turn
	}
}

// lastStands is firstStands for the last outcome. A flagged course's hangs on its leader,
// and is always made anew.
func (r *run) lastStands(e *entrant) bool {
	p := e.past
	if p == nil || p.lastAt < p.firstAt || p.lastAt == 0 || e.course >= 0 && r.plan.Courses[e.course].Flagged || r.taughtElse(e) {
		return false
	}
	moved := false // a model alone
	for i := 0; !(r.again && r.fineCalm) && i < len(e.recs); i++ {
		x := &r.mem.sources[e.recs[i].source]
		if x.fineAt > p.lastAt {
			return false
		}
		moved = moved || x.modelAt > p.lastAt
	}
	if moved && !r.retimed(e) {
		return false
	}
	if !moved {
		e.outcome, e.tally, e.stands = p.last, p.tally, true
	}
	e.timed = true
	return true
}

// sameAgain tells whether a bib's last outcome, made anew since a clock or what the field teaches is
// another, came to the same passings as in the turn before, and takes those: it stands.
func (r *run) sameAgain(e *entrant) bool {
	p := e.past
	if !e.timed || p.lastAt == 0 || p.lastAt < p.firstAt || !sameOutcome(&p.last, &e.outcome) {
		return false
	}
	e.passings, e.splits, e.filled, e.stands = p.last.passings, p.last.splits, p.last.filled, true
	return true
}

// sameOutcome tells whether two outcomes of a bib are one to whoever reads results.
func sameOutcome(a, b *outcome) bool {
	return a.disorder == b.disorder && slices.Equal(a.filled, b.filled) && (sameSlice(a.splits, b.splits) || slices.Equal(a.splits, b.splits)) &&
		slices.EqualFunc(a.passings, b.passings, func(x, y race.Passing) bool { return x.Same(&y) })
}

func (r *run) lastMade(e *entrant) {
	if p := e.past; p != nil {
		p.last, p.tally, p.lastAt = e.outcome, e.tally, r.turn
	}
}

// renewed tells whether a bib's run, as its first outcome has it, or its being there, is new since
// the turn before.
func (r *run) renewed(e *entrant) bool {
	return e.past == nil || e.past.ranAt == r.turn || !r.again && e.past.seen != r.turn-1
}

// sameRun tells whether two outcomes of a bib are one run to the field: they pass the same lines
// at the same times, backup's too, seen by the same systems as faintly, of chips that go alike, and
// filling the same splits. What else their bursts tell teaches nothing.
func (r *run) sameRun(a, b *outcome) bool {
	return slices.Equal(a.filled, b.filled) && slices.EqualFunc(a.splits, b.splits, func(x, y race.Split) bool { return x.Lap == y.Lap }) && a.chipsGo == b.chipsGo &&
		slices.EqualFunc(a.passings, b.passings, func(x, y race.Passing) bool {
			return x.Line == y.Line && x.At == y.At && x.Fate == y.Fate && (x.Bursts[race.Main] == nil) == (y.Bursts[race.Main] == nil) &&
				x.Seen[race.Backup] == y.Seen[race.Backup] && r.roundAt(&x) == r.roundAt(&y)
		})
}
