package reconcile

import (
	"slices"

	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// What athletes teach of their course, by their first outcomes.

// learn takes from the first assignment what the field teaches of each course.
func (r *run) learn() {
	r.muster()
	renewed := make([]bool, len(r.plan.Courses))
	r.someOf(func(e *entrant) {
		if r.asks(e) && !renewed[e.course] {
			renewed[e.course] = r.renewed(e)
		}
	})
	for c := range r.field {
		r.field[c] = r.taught(c, renewed[c])
	}
}

// someOf visits those entrants whose first outcome may be another than in the turn before.
func (r *run) someOf(f func(e *entrant)) {
	if r.again && r.roughCalm {
		for _, k := range r.fresh {
			f(&r.ents[k])
		}
		return
	}
	for i := range r.ents {
		f(&r.ents[i])
	}
}

// taught is what course c's athletes teach, learnt anew when one of them, or one more or
// less, came to something else by first outcome that doesn't wait.
func (r *run) taught(c int, changed bool) course.Field {
	if r.mem == nil {
		runs, _ := r.runs(c, r.waitingFrom(c), r.atFirst)
		return course.Learn(&r.plan.Courses[c], runs)
	}
	p := &r.mem.fields[c]
	if !r.again {
		p.runOf = nil // entrants may stand in another order
	}
	sides := r.bothWays[c] && !r.roughCalm // a backup that was set tells none, though nobody's times moved
	if p.at > 0 && !changed && !sides && p.of == r.classes[c] {
		return p.field
	}
	until := r.waitingFrom(c)
	if p.at > 0 && r.roughCalm && p.of == r.classes[c] && p.until == until && r.freshRunsStay(c, p) {
		return p.field
	}
	p.of = r.classes[c]
	runs, of := r.runs(c, until, r.atFirst)
	if p.at > 0 && slices.EqualFunc(p.runs, runs, course.SameRun) {
		p.runOf, p.until = of, until
		return p.field
	}
	p.runs, p.runOf, p.until = runs, of, until
	f := course.Learn(&r.plan.Courses[c], runs)
	p.teach(f, &r.plan.Courses[c], len(r.plan.Lines), r.turn)
	return p.field
}

// freshRunsStay tells whether those who were dealt more run as they did, as far as their course's field is
// taught by it: what is newest waits.
func (r *run) freshRunsStay(c int, p *pastField) bool {
	if p.runOf == nil {
		return false
	}
	for _, i := range r.fresh {
		e := &r.ents[i]
		if e.course != c || !r.asks(e) {
			continue
		}
		x, some := r.runOf(c, p.until, r.atFirst(e))
		if n, had := slices.BinarySearch(p.runOf, i); had != some || some && !course.SameRun(p.runs[n], x) {
			return false
		}
	}
	return true
}

// runs are the times by split of those of a course's athletes who tell of it and have any, but for those
// from a moment on, which wait; at is how each of them is seen. of is, per run, whose it is.
func (r *run) runs(c int, until race.Instant, at func(e *entrant) *entrant) (runs []course.Run, of []int) {
	for _, i := range r.tellers[c] {
		if x, some := r.runOf(c, until, at(&r.ents[i])); some {
			runs, of = append(runs, x), append(of, i)
		}
	}
	return runs, of
}

// runOf is an entrant's run as it teaches the field; some tells whether there is any.
func (r *run) runOf(c int, until race.Instant, e *entrant) (x course.Run, some bool) {
	if len(e.filled) == 0 {
		return x, false
	}
	x = course.Run{Bib: e.athlete.Bib, Gun: e.gun, Start: race.NoInstant, Times: make([]race.Instant, len(e.filled)), Chips: e.chipsGo}
	x.Seen = r.crossings(e, until)
	if r.bothWays[c] {
		x.Sides = make([]race.Millis, len(e.filled))
	}
	for s, k := range e.filled {
		x.Times[s] = race.NoInstant
		if x.Sides != nil {
			x.Sides[s] = race.NoMillis
		}
		if k < 0 || e.passings[k].At >= until {
			continue
		}
		x.Times[s], some = e.passings[k].At, true
		if x.Sides != nil {
			x.Sides[s] = r.side(&e.passings[k])
		}
		if e.splits[s].Lap > 0 {
			x.Saw = sawToo(x.Saw, &e.passings[k])
		}
	}
	if k := e.started(); k >= 0 && e.passings[k].At < until {
		x.Start = e.passings[k].At
	}
	if line, laps := course.RoundLine(&r.plan.Courses[c]); laps {
		for k := range e.passings {
			if p := &e.passings[k]; p.Line == line && p.Fate != race.Voided && p.Fate != race.Started && p.At < until {
				x.Laps = append(x.Laps, r.roundAt(p))
			}
		}
	}
	for n := len(x.Times); until != noneWaits && n > len(r.plan.Courses[c].Splits) && !x.Times[n-1].Known(); n-- {
		x.Times = x.Times[:n-1] // laps that wait aren't written out yet
	}
	return x, some
}

// sawToo counts who read one more lap: main alone, backup alone, both.
func sawToo(saw [3]int, p *race.Passing) [3]int {
	switch m, b := p.Bursts[race.Main] != nil, p.Bursts[race.Backup] != nil; {
	case m && b:
		saw[2]++
	case m:
		saw[0]++
	case b:
		saw[1]++
	}
	return saw
}

// roundAt is a passing of the line of laps as it teaches the field.
func (r *run) roundAt(p *race.Passing) course.Crossing {
	best, worse, both := r.heardBy(p)
	return course.Crossing{At: p.At, Heard: best, Worse: worse, Both: both}
}

// crossings are an entrant's first and last passing of each split's line before a moment.
func (r *run) crossings(e *entrant, until race.Instant) [][2]race.Instant {
	splits := r.plan.Courses[e.course].Splits
	seen := make([][2]race.Instant, len(splits))
	for s := range splits {
		seen[s] = [2]race.Instant{race.NoInstant, race.NoInstant}
		for k := range e.passings {
			p := &e.passings[k]
			if p.Line != splits[s].Line || p.Fate == race.Voided || p.At >= until {
				continue
			}
			if !seen[s][0].Known() || p.At < seen[s][0] {
				seen[s][0] = p.At
			}
			seen[s][1] = max(seen[s][1], p.At)
		}
	}
	return seen
}
