package suspect

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// story is how a set of passings fits a wave's course: which passing fills which split, and
// what that costs in nats.
type story struct {
	wave   int
	splits []int // per passing: the split, -1: none
	fits   int   // passings that fill one
	cost   float64
	level  float64 // log pace against the field, NaN: the start alone
}

// equal tells whether two stories are told alike.
func (s *story) equal(o *story) bool {
	return s.wave == o.wave && s.fits == o.fits && s.cost == o.cost && (s.level == o.level || s.level != s.level && o.level != o.level) && slices.Equal(s.splits, o.splits)
}

// Costs of a story, in nats.
const (
	costUnfit   = 5.0  // a passing that fits nowhere: ln of one in a hundred and fifty
	costSkipped = 2.7  // a split passed unread: ln 0.07, misses come in clusters
	costEarly   = 6.0  // a start before the gun
	costLate    = 3.5  // a start when the wave was over the line
	costPace    = 12.0 // and no stretch costs more, nor a level
	costSlow    = 4.0  // less than that a passing fits nowhere
	levelSD     = 0.25 // spread of log pace in a field and over a race, where it can't tell
	startSpread = 0.7  // nats that a start inside the wave's own rush costs
)

// storiesOf gives an athlete's story as one of a wave's, from its gun. What was told is kept as
// long as neither their passings nor what the field teaches is another (forgetStories).
func (f *field) storiesOf(i int) func(wave int) *story {
	var ps []race.Passing
	return func(wave int) *story {
		key := [2]int32{int32(i), int32(wave)}
		s, ok := f.stories[key]
		if !ok {
			if ps == nil {
				ps = crossings(f.st.Results[i].Passings)
			}
			s = new(f.storyIn(ps, wave, f.plan.Waves[wave].Gun))
			f.stories[key] = s
		}
		return s
	}
}

// forgetStories forgets one athlete's.
func (f *field) forgetStories(i int) {
	for w := range f.plan.Waves {
		delete(f.stories, [2]int32{int32(i), int32(w)})
	}
	f.settledIn[i] = false
}

// alignment is the search for a story: a monotone alignment of passings with splits by dynamic
// programming, each stretch's log pace normal about a level.
type alignment struct {
	f       *field
	wave    int
	course  *onCourse
	splits  []race.Split
	ps      []race.Passing
	gun     race.Instant
	mid, sd float64
	about   float64 // log pace that each stretch is held against
	most    float64 // that being slow over a stretch costs
	best    []step  // per passing and split
}

// step is the cheapest way to fill a split with a passing: after which one filled which, j
// -1: it is the first.
type step struct {
	cost float64
	j, k int
}

// mostCells bounds an alignment's work.
const mostCells = 20000

// storyIn finds the cheapest story of passings (in order of time) as the race of somebody in a
// wave, from a gun that may be their own.
func (f *field) storyIn(ps []race.Passing, wave int, gun race.Instant) story {
	s := f.aligned(ps, wave, gun, costPace, 0)
	if s.fits < len(ps) {
		// The alignment doesn't know the level, and may leave out what is only slow, or rounds that
		// the best of a field rode much faster than its middle.
		for _, x := range []story{f.aligned(ps, wave, gun, costSlow, 0), f.aligned(ps, wave, gun, costPace, bestAhead)} {
			if x.cost < s.cost {
				s = x
			}
		}
	}
	return s
}

// bestAhead is how many spreads the best of a field may be ahead of its middle.
const bestAhead = 2.5

// aligned finds it where being slow over a stretch costs so much at the most, and each stretch is
// held against a level so many spreads ahead of the field's middle.
func (f *field) aligned(ps []race.Passing, wave int, gun race.Instant, most, ahead float64) story {
	w := &f.plan.Waves[wave]
	splits := f.splitsOf(w.Course)
	s := story{wave: wave, splits: make([]int, len(ps)), level: math.NaN()}
	for j := range s.splits {
		s.splits[j] = -1
	}
	s.cost = costUnfit * float64(len(ps))
	if !gun.Known() || len(ps) == 0 || len(ps)*len(splits) > mostCells {
		return s
	}
	a := alignment{f: f, wave: wave, course: &f.courses[w.Course], splits: splits, ps: ps, gun: gun, most: most, best: make([]step, len(ps)*len(splits))}
	a.mid, a.sd = f.levels(w.Course)
	a.about = a.mid - float64(ahead*a.sd)
	a.trace(&s, a.fill(s.cost))
	return s
}

// fill finds every step, and the last one of the cheapest story, j -1 where none costs less
// than that no passing fits.
func (a *alignment) fill(unfit float64) step {
	end := step{cost: unfit, j: -1}
	for j := range a.ps {
		for k := range a.splits {
			if a.splits[k].Line != a.ps[j].Line {
				a.best[j*len(a.splits)+k] = step{cost: math.Inf(1), j: -1}
				continue
			}
			s := a.step(j, k)
			a.best[j*len(a.splits)+k] = s
			if c := s.cost + costUnfit*float64(len(a.ps)-1-j); c < end.cost {
				end = step{cost: c, j: j, k: k}
			}
		}
	}
	return end
}

// step finds the cheapest way to passing j in split k.
func (a *alignment) step(j, k int) step {
	n, w := len(a.splits), &a.f.plan.Waves[a.wave]
	s := step{cost: a.first(a.ps[j].At.Sub(a.gun).Seconds(), k) + costUnfit*float64(j), j: -1}
	for i := j - 1; i >= 0 && i >= j-8; i-- {
		for h := k - 1; h >= 0; h-- {
			between := float64(costSkipped * float64(k-h-1))
			if between+costUnfit*float64(j-i-1) >= s.cost {
				break // and those before skip more
			}
			b := &a.best[i*n+h]
			if b.cost+between+costUnfit*float64(j-i-1) >= s.cost {
				continue // no pace costs less than nothing
			}
			dt := a.ps[j].At.Sub(a.ps[i].At).Seconds()
			if dt <= 0 || dt < a.f.need(w.Course, h, k) {
				continue
			}
			z := (math.Log(dt/a.course.usualOver(a.splits, h, k)) - a.about) / a.sd
			c := b.cost + paceCost(z, a.most) + between + costUnfit*float64(j-i-1)
			if c < s.cost {
				s = step{cost: c, j: i, k: h}
			}
		}
	}
	return s
}

// trace writes down a story from its last step to its first.
func (a *alignment) trace(s *story, end step) {
	s.cost = end.cost
	levels := make([]float64, 0, len(a.ps))
	for at := end; at.j >= 0; {
		s.splits[at.j] = at.k
		s.fits++
		b := a.best[at.j*len(a.splits)+at.k]
		if b.j >= 0 {
			levels = append(levels, math.Log(a.ps[at.j].At.Sub(a.ps[b.j].At).Seconds()/a.course.usualOver(a.splits, b.k, at.k)))
		} else if at.k > 0 || a.splits[0].At > 0 {
			if d := a.ps[at.j].At.Sub(a.gun).Seconds(); d > 0 {
				levels = append(levels, math.Log(d/a.course.usualOver(a.splits, -1, at.k)))
			}
		}
		at = b
	}
	s.level = robust.Median(levels)
	s.cost += oneLevel(levels, s.level, a.mid, a.sd) - eachLevel(levels, a.about, a.sd, a.most)
}

// slowTail is from how many spreads on slowness is told by the spread, not by its square (Huber):
// every field has some who are far slower than all others, and nobody so much faster.
const slowTail = 1.5

// paceCost is what a log pace so many spreads slower than the middle costs, in nats; most, if it
// is slower.
func paceCost(z, most float64) float64 {
	if z > slowTail {
		return math.Min(float64(slowTail*z)-slowTail*slowTail/2, most)
	}
	return math.Min(z*z/2, costPace)
}

// stretchSD is the spread of one's log pace from stretch to stretch about one's own level.
const stretchSD = 0.15

// eachLevel is what an alignment has counted for these log paces, each against the field.
func eachLevel(levels []float64, mid, sd, most float64) float64 {
	cost := 0.0
	for _, l := range levels {
		cost += paceCost((l-mid)/sd, most)
	}
	return cost
}

// oneLevel is what they tell: that somebody is slow is told once, however many stretches say it.
func oneLevel(levels []float64, level, mid, sd float64) float64 {
	if len(levels) == 0 {
		return 0
	}
	return paceCost((level-mid)/sd, costPace) + eachLevel(levels, level, stretchSD, costPace)
}

// first is what it costs that a story begins at split k, d seconds after the gun.
func (a *alignment) first(d float64, k int) float64 {
	w := &a.f.plan.Waves[a.wave]
	if a.splits[k].At == 0 {
		late := unknownLate * 1.0
		if l := a.f.waves[a.wave].late; !math.IsNaN(l) {
			late = l
		}
		switch {
		case d < -race.EarlyReach.Seconds():
			return 3 * costUnfit
		case d < -w.Early.Seconds():
			return costEarly
		case d > late:
			return costLate + math.Min(d/late, 8)
		}
		return startSpread
	}
	if d <= 0 || d < a.f.need(w.Course, -1, k) {
		return math.Inf(1)
	}
	z := (math.Log(d/a.course.usualOver(a.splits, -1, k)) - a.about) / a.sd
	return paceCost(z, a.most) + float64(costSkipped*float64(k))
}

// usualOver is how long the field's middle needs over a stretch, in seconds, by the distance
// alone where the field hasn't told.
func (c *onCourse) usualOver(splits []race.Split, a, b int) float64 {
	if t := c.took(0, a, b); t > 0 {
		return t
	}
	from := 0.0
	if a >= 0 {
		from = splits[a].At
	}
	return (splits[b].At - from) / 3
}

// allLevels finds every course's, so that kinds that run at once only read them.
func (f *field) allLevels() {
	for c := range f.courses {
		f.levels(c)
	}
}

// levels are the middle and the spread of the levels of a course's field.
func (f *field) levels(course int) (mid, sd float64) {
	x := &f.courses[course]
	if !x.levelled {
		x.levelled = true
		x.mid, x.sd = 0, levelSD
		var ls []float64
		for _, l := range x.taught.level {
			if !math.IsNaN(l) {
				ls = append(ls, l)
			}
		}
		if len(ls) >= 10 {
			x.mid, x.sd = robust.Spread(ls)
			x.sd = math.Max(math.Hypot(x.sd, 0.1), 0.12)
		}
	}
	return x.mid, x.sd
}

// bestStory is the cheapest over all waves, the earliest wave of the plan where they tie.
func (f *field) bestStory(ps []race.Passing) story {
	best := story{wave: -1, cost: math.Inf(1)}
	for w := range f.plan.Waves {
		if s := f.storyIn(ps, w, f.plan.Waves[w].Gun); s.cost < best.cost {
			best = s
		}
	}
	return best
}

// crossings are the passings that can belong to a race: not voided, one where a chip was
// read again and again at one line within a minute.
func crossings(ps []race.Passing) []race.Passing {
	out := make([]race.Passing, 0, len(ps))
	for i := range ps {
		if ps[i].Fate == race.Voided || !ps[i].At.Known() {
			continue
		}
		if n := len(out); n > 0 && out[n-1].Line == ps[i].Line && ps[i].At.Sub(out[n-1].At) < 60000 {
			continue
		}
		out = append(out, ps[i])
	}
	slices.SortStableFunc(out, func(a, b race.Passing) int { return int(min(max(a.At-b.At, -1), 1)) })
	if len(out) > mostCrossings {
		out = out[:mostCrossings]
	}
	return out
}

// mostCrossings bounds the work on a chip left lying on an antenna.
const mostCrossings = 60
