package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// otherMargin, in nats, is how much better another course's story must be: a missed split or
// a stray read alone costs less.
const otherMargin = 7

// costBroken, in nats: one in thirty drops out.
const costBroken = 3.4

// otherCourse: the passings fit another course of the race better than the athlete's own.
func otherCourse(f *field) []race.Suspect {
	if !f.roadsDiffer() {
		return nil
	}
	x := &f.kept.otherCourse
	found := x.again(f, f.news.taught(), f.news.changed, func(i int, add func(race.Suspect)) {
		if f.fitsOwn(i) && f.startedInTime(i) || f.settledIn[i] {
			return
		}
		r := f.st.Results[i]
		if r.Course < 0 || r.Wave < 0 || !r.Gun.Known() || r.Start.Known() || uncounted(r) {
			return
		}
		all := crossings(r.Passings)
		// With whom somebody started says nothing of the course: what comes after does.
		ps := slices.DeleteFunc(slices.Clone(all), func(p race.Passing) bool { return f.startLine(i, p.Line) })
		own, best, settled := f.elsewhere(i, ps)
		if best.fits < 2 || own.cost-best.cost < otherMargin {
			// Too little comes after: that with the start may fit nothing but another's story.
			var too bool
			ps = all
			if own, best, too = f.elsewhere(i, ps); own.cost-best.cost < otherMargin {
				if f.settledIn[i] = settled && too; !f.settledIn[i] {
					x.waits(i)
				}
				return
			}
		}
		x.waits(i)
		add(f.tellOther(i, ps, own, best, f.waveOf(all, f.plan.Waves[best.wave].Course)))
	})
	for _, i := range x.of {
		f.otherCourse[i] = true
	}
	f.others = len(found)
	return found
}

// elsewhere is the best story of passings on the athlete's own course, and on another; settled
// where time that passes will not make the other much the better one.
func (f *field) elsewhere(i int, ps []race.Passing) (own, best story, settled bool) {
	r := f.st.Results[i]
	own, best = f.storyIn(ps, r.Wave, r.Gun), story{wave: -1, cost: math.Inf(1)}
	most, least := own.cost+costBroken, math.Inf(1)
	own.cost += f.broken(ps, &own)
	for w := range f.plan.Waves {
		if f.plan.Waves[w].Course == r.Course {
			continue
		}
		as := w
		if f.sameRoad(r.Course, f.plan.Waves[w].Course) {
			if as = r.Wave; f.plan.Waves[w].Gun == r.Gun {
				continue
			}
		}
		s := f.storyIn(ps, as, f.plan.Waves[w].Gun)
		s.wave = w
		least = math.Min(least, s.cost)
		if s.cost += f.broken(ps, &s); s.cost < best.cost {
			best = s
		}
	}
	return own, best, most-least < otherMargin
}

// sameRoad tells whether two courses lead over the same lines at the same distances, until the
// same limit: solos and teams over one lap. Then the gun alone tells who ran which, and how two
// small fields came along, which each teaches for itself, must not.
func (f *field) sameRoad(a, b int) bool {
	x, y := &f.plan.Courses[a], &f.plan.Courses[b]
	return x.Open == y.Open && x.TimeLimit == y.TimeLimit && x.Flagged == y.Flagged && slices.EqualFunc(x.Splits, y.Splits, func(s, t race.Split) bool {
		return s.Line == t.Line && s.At == t.At
	})
}

// roadsDiffer tells whether passings can tell any of the race's courses from another.
func (f *field) roadsDiffer() bool {
	return len(f.plan.Courses) > 1 && slices.ContainsFunc(f.plan.Waves, func(w race.Wave) bool {
		return w.Gun != f.plan.Waves[0].Gun || !f.sameRoad(w.Course, f.plan.Waves[0].Course)
	})
}

// waveOf is the wave of a course whose story all passings fit best.
func (f *field) waveOf(all []race.Passing, course int) int {
	whole := story{wave: -1, cost: math.Inf(1)}
	for w := range f.plan.Waves {
		if f.plan.Waves[w].Course != course {
			continue
		}
		if s := f.storyIn(all, w, f.plan.Waves[w].Gun); s.cost < whole.cost {
			whole = s
		}
	}
	return whole.wave
}

// startLine tells whether a line is where the athlete's course starts and nothing else.
func (f *field) startLine(i, line int) bool {
	splits := f.st.Results[i].Splits
	if startSplit(splits) < 0 || splits[0].Line != line {
		return false
	}
	for k := range splits[1:] {
		if splits[k+1].Line == line {
			return false
		}
	}
	return true
}

// broken is what it costs a story that it ends short of the finish and long ago. Where the leader's finish ends everybody's race, short is no odd end.
func (f *field) broken(ps []race.Passing, s *story) float64 {
	c := &f.plan.Courses[f.plan.Waves[s.wave].Course]
	if c.Flagged {
		return 0
	}
	splits := c.Splits
	for j := len(ps) - 1; j >= 0; j-- {
		k := s.splits[j]
		if k < 0 {
			continue
		}
		if k+1 >= len(splits) || !f.st.Now.Known() {
			return 0
		}
		if want := f.courses[f.plan.Waves[s.wave].Course].usualOver(splits, k, k+1); f.st.Now.Sub(ps[j].At).Seconds() > 2*want {
			return costBroken
		}
		return 0
	}
	return 0
}

// fitsOwn tells whether nothing speaks against the athlete's own course: every split up to
// the last is filled, the last is the finish or nothing was read elsewhere.
func (f *field) fitsOwn(i int) bool { return f.hints[i]&fitsCourse != 0 }

// fitsIn finds that.
func (f *field) fitsIn(i int) bool {
	r := f.st.Results[i]
	last := f.last(i)
	for k := 0; k < last; k++ {
		if !f.times[i][k].Known() {
			return false
		}
	}
	for k := range r.Passings {
		if p := &r.Passings[k]; p.Split < 0 && (p.Fate == race.NotOnCourse || p.Fate == race.Extra || p.Fate == race.BeforeGun) {
			return false
		}
	}
	return last == len(r.Splits)-1
}

func (f *field) tellOther(i int, ps []race.Passing, own, best story, wave int) race.Suspect {
	r := f.st.Results[i]
	w := &f.plan.Waves[best.wave]
	s := suspect(race.OtherCourse, race.Hold, r.Bib)
	s.At = ps[len(ps)-1].At
	s.Says = fmt.Sprintf("%s is entered for %s, and of %d passings %d fit %s and %d fit %s; the other story is e^%.0f times likelier.",
		r.Bib, f.plan.Courses[r.Course].ID, len(ps), best.fits, f.plan.Courses[w.Course].ID, own.fits, f.plan.Courses[r.Course].ID, math.Min(own.cost-best.cost, 99))
	s.Proposes, s.Strong = f.setWave(r.Bib, wave), true
	s.Others = []string{accept(s.ID), setStatus(r.Bib, race.DNF)}
	s.Evidence = fmt.Sprintf("fits %s", w.ID)
	for k := range ps {
		s.Evidence += " " + mark(&ps[k])
	}
	return s
}

// exchanges proposes the exchange for those of another's course who likely wore the chip of
// one of that course: as two moves each would get the other's time.
func (f *field) exchanges(found []race.Suspect) {
	for n := range found {
		s := &found[n]
		if s.Kind != race.OtherCourse {
			continue
		}
		if b, ok := f.exchanged[f.st.ByBib[s.Bibs[0]]]; ok {
			*s = s.Own()
			s.Others = append([]string{s.Proposes}, s.Others...)
			s.Proposes, s.Strong = swapBibs(s.Bibs[0], f.st.Results[b].Bib), false
		}
	}
}
