package reconcile

import (
	"math"
	"slices"
	"sort"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/course"
	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
)

// step is a clock's jump during the race.
type step struct {
	source int
	clock.Step
	main bool   // a ruling says that it was the reference that jumped
	seq  int    // that ruling, 0: none
	told string // "main", "other": what other comparisons of the two clocks show; "" : nothing
}

// enoughPairs in splits, and what other tags and test chips say is no longer needed: their
// speed isn't known.
const enoughPairs = 30

// manyShare: one in so many of the athletes who are enough to ask are so many pairs that the newest of
// them may wait. One of five hundred moves a clock by a twentieth of its own error.
const manyShare = 5

// fitClocks fits each log's clock to its reference from the passings that both saw.
func (r *run) fitClocks() {
	pairs := r.allPairs()
	shared := map[string][]int{}
	var alone []int
	for s := range r.src {
		x := &r.src[s]
		if x.ref || x.twin || x.reads == nil {
			continue
		}
		if name := r.plan.Logs[s].Clock; name != "" {
			shared[name] = append(shared[name], s)
		} else {
			alone = append(alone, s)
		}
	}
	r.each(1, len(alone), func(k int) {
		s := alone[k]
		r.src[s].model = r.fit(s, 0, pairs[s], r.config(s))
	})
	r.fitFree(pairs)
	r.shareSteps(alone, pairs)
	names := make([]string, 0, len(shared))
	for n := range shared {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		var ps [][]clock.Pair
		var cs []clock.Config
		for _, s := range shared[n] {
			ps, cs = append(ps, pairs[s]), append(cs, r.config(s))
		}
		for k, m := range r.fitShared(n, ps, cs) {
			r.src[shared[n][k]].model = m
		}
	}
	r.ascribe()
}

// fitFree fits clocks that plan or a ruling fixes as though they weren't: what their pairs speak for, which
// where antennas stand would else take up.
func (r *run) fitFree(pairs [][]clock.Pair) {
	r.each(1, len(r.src), func(s int) {
		x := &r.src[s]
		if x.ref || x.twin || x.reads == nil || x.system == race.Hand || len(pairs[s]) < enoughPairs {
			return
		}
		if _, fixed := r.fixedOffset(s); fixed {
			c := r.config(s)
			c.Fixed, c.FixedOffset = false, 0
			x.free = r.fit(s, 2, pairs[s], c)
		}
	})
}

// groupName is what tells the directions of a line apart: antennas stand in another order
// for who comes back. All laps are one, also those that the plan names one by one, but for the
// last of so many: it ends in a sprint, and people brake behind it.
func groupName(c *race.Course, i int) string {
	switch s, named := &c.Splits[i], course.InRounds(c, i); {
	case s.Lap == 0 && !named:
		return s.ID
	case i == len(c.Splits)-1 && !c.Open && (named || s.Lap > 2): // of two, each would tell half of what both do
		return lastLap
	}
	return "lap"
}

const lastLap = "last lap"

// nameGroups lists, per line, the splits that may have a behind of their own, and which one
// each split of each course is.
func (r *run) nameGroups() {
	r.lineGroups = make([][]string, len(r.plan.Lines))
	r.splitGroups = make([][]int, len(r.plan.Courses))
	r.bothWays, r.turned = make([]bool, len(r.plan.Courses)), make([]bool, len(r.plan.Lines))
	for c := range r.plan.Courses {
		splits := r.plan.Courses[c].Splits
		r.bothWays[c] = course.BothWays(&r.plan.Courses[c])
		r.splitGroups[c] = make([]int, len(splits))
		for i := range splits {
			l, name := splits[i].Line, groupName(&r.plan.Courses[c], i)
			k := slices.Index(r.lineGroups[l], name)
			if k < 0 {
				k = len(r.lineGroups[l])
				r.lineGroups[l] = append(r.lineGroups[l], name)
			}
			r.splitGroups[c][i] = k
			r.turned[l] = r.turned[l] || r.bothWays[c] && slices.ContainsFunc(splits[:i], func(s race.Split) bool { return s.Line == l && s.Lap == 0 })
		}
	}
}

// group is the one that an athlete's split belongs to; laps beyond those written out are
// one with the last of them.
func (r *run) group(e *entrant, split int) int {
	g := r.splitGroups[e.course]
	return g[min(split, len(g)-1)]
}

func (r *run) config(s int) clock.Config {
	l := &r.plan.Logs[s]
	c := clock.Config{Hand: l.System == race.Hand, Resolution: r.plan.Resolution, Groups: max(1, len(r.lineGroups[l.Line])), SpeedPrior: r.lineSlowness(l.Line),
		Every: r.everyAt(s), Many: (r.enough + manyShare - 1) / manyShare, Coarse: r.src[s].voted(), Zone: r.plan.Zone}
	if l.Clock != "" {
		c.Common = r.src[s].vote.Tags // what a log that leans on another is held against
	}
	if fixed, ok := r.fixedOffset(s); ok {
		c.Fixed, c.FixedOffset = true, fixed
	}
	if !l.Behind.Auto {
		c.BehindFixed, c.Behind = true, l.Behind.Fixed
	}
	c.OneWay = !slices.ContainsFunc(r.lineGroups[l.Line], func(name string) bool { return name != "lap" && name != lastLap })
	if c.Breaks, c.BreakOffsets = r.breaks(l); c.Breaks == nil && r.src[s].turns() {
		c.Turned, c.Fold = r.src[s].vote.Few(), r.src[s].vote.Fold
	}
	return c
}

// lineSlowness is the typical slowness of those who pass a line, by sport.
func (r *run) lineSlowness(line int) float64 {
	for c := range r.plan.Courses {
		for i := range r.plan.Courses[c].Splits {
			if s := &r.plan.Courses[c].Splits[i]; s.Line == line {
				if s.At == 0 {
					return 1 / 1.6 // packed starters cross at a walk
				}
				if n := i + 1; s.Sport == "change" || n < len(r.plan.Courses[c].Splits) && r.plan.Courses[c].Splits[n].Sport == "change" {
					return 1 / 2.4 // on foot, whatever the sport before and after
				}
				return typicalSlowness(s.Sport)
			}
		}
	}
	return typicalSlowness("run")
}

// slowness is how slowly an athlete came to a split, in s/m: their own stretch to it, else
// the one after it; unknown at a start and in a change zone.
func (r *run) slowness(e *entrant, split int) float64 {
	s := &e.splits[split]
	if s.At == 0 || s.Sport == "change" || split+1 < len(e.splits) && e.splits[split+1].Sport == "change" {
		return unknown
	}
	k := e.filled[split]
	if k < 0 {
		return unknown
	}
	of := split
	if split == 0 && len(e.filled) > 1 && e.filled[1] >= 0 && e.splits[1].Sport == s.Sport && e.started() >= 0 {
		of = 1 // the lap after is asked, for the field's first one runs from the start passing
	}
	return r.usual(e, of, r.ownStretch(e, split))
}

// usual brings a slowness that a rest, a stop or a missed start made odd back to what the
// athlete's own level tells of the stretch: nobody crosses a line at a tenth of their pace.
func (r *run) usual(e *entrant, split int, u float64) float64 {
	f := &r.field[e.course]
	if math.IsNaN(e.level) || len(f.Factor) == 0 {
		return u
	}
	k := min(split, len(f.Factor)-1)
	own, odd := math.Exp(f.Level(e.level)+f.Factor[k]), oddSlowness
	if k < len(f.Scatter) && f.Scatter[k] > 0 {
		odd = min(odd, math.Exp(oddScatter*f.Scatter[k]))
	}
	if math.IsNaN(u) || u > odd*own || u < own/odd {
		return own
	}
	return u
}

// oddSlowness is how many times one's own slowness is no pace but a stop, or was told of
// another crossing; oddScatter is that in the field's own scatter of one stretch.
const (
	oddSlowness = 1.6
	oddScatter  = 3.0
)

// crossed is crossing, of a burst that fills a passing: one that the gun cut off a longer one began while
// its wearer stood there, and tells no speed.
func (r *run) crossed(e *entrant, p *race.Passing, b *race.Burst, keep race.Keep, u float64, group int) clock.Crossing {
	if p.Split >= 0 && math.IsNaN(u) && r.cutOff(e, p, b) {
		return clock.Crossing{U: unknown, Long: unknown, Mid: unknown, Wide: unknown, Reads: int(b.Count), Group: group}
	}
	return crossing(b, keep, u, group)
}

// cutOff tells whether the gun cut a burst off one of before it, which no gap as long as the line's
// window parts from it.
func (r *run) cutOff(e *entrant, p *race.Passing, b *race.Burst) bool {
	for k := range e.passings {
		q := &e.passings[k]
		if q.Fate != race.BeforeGun || q.Line != p.Line {
			continue
		}
		for _, x := range q.Bursts {
			if x != nil && x.Source == b.Source && x != b && b.First >= x.Last() && b.First.Sub(x.Last()) < r.plan.Lines[p.Line].Window {
				return true
			}
		}
	}
	return false
}

// lasting is how long a burst was, in seconds: few reads don't tell.
func lasting(b *race.Burst) float64 {
	if b.Count < 5 {
		return unknown
	}
	return b.Last().Sub(b.First).Seconds()
}

// ownStretch is the slowness over the stretch that ends at a split, else over the next.
func (r *run) ownStretch(e *entrant, split int) float64 {
	s := &e.splits[split]
	at := e.passings[e.filled[split]].At
	switch k := e.neighbour(split); {
	case k > split:
		return stretch(at, e.passings[e.filled[k]].At, e.splits[k].At-s.At, s.Sport)
	case k >= 0:
		return stretch(e.passings[e.filled[k]].At, at, s.At-e.splits[k].At, s.Sport)
	case e.gun.Known() && s.At > 0:
		return stretch(e.gun, at, s.At, s.Sport)
	}
	return unknown
}

// neighbour is the filled split that, with this one, tells how slowly an athlete went: the last
// one before it on the same way, else the one after it; -1: none.
func (e *entrant) neighbour(split int) int {
	sport := e.splits[split].Sport
	for i := split - 1; i >= 0; i-- {
		if e.filled[i] >= 0 && (e.splits[i].Sport == sport || e.splits[i].Sport == "change" || i == split-1) {
			return i
		}
	}
	if n := split + 1; n < len(e.splits) && e.splits[n].Sport == sport && e.filled[n] >= 0 {
		return n
	}
	return -1
}

// burstSlowness is how slowly a crossing went by its own burst: the zone of an antenna is
// so many metres long, and who takes longer to leave it is slower. Only the proportion
// matters, for the fitted behind takes up the rest. Unknown where the reads are few or
// somebody stood there.
func burstSlowness(b *race.Burst) float64 {
	long := b.Last().Sub(b.First)
	if b.Count < 5 || long > 8000 {
		return unknown
	}
	return math.Max(0.05, long.Seconds()/zoneLength)
}

// crossing is what is known of how a burst's wearer crossed: slowness, the burst's length,
// how wide its strengths lie, how many reads it has, and its middle: after the kept read where that lies within it,
// else after the middle of first and last. Few reads tell none of these.
func crossing(b *race.Burst, keep race.Keep, u float64, group int) clock.Crossing {
	x := clock.Crossing{U: u, Long: unknown, Mid: unknown, Wide: unknown, Reads: int(b.Count), Group: group}
	if math.IsNaN(u) {
		x.U, x.ByBurst = burstSlowness(b), true
	}
	if b.Count < 5 {
		return x
	}
	x.Long = lasting(b)
	crest, wide := b.Crest()
	within, half := keep == race.KeepStrongest || keep == race.KeepCentre, float64(x.Long/2)
	switch {
	case wide > 0:
		x.Wide, x.Mid = wide.Seconds(), crest.Sub(b.First).Seconds()-half
	case within:
		x.Mid = 0
	}
	if within {
		x.Mid += half - b.Time(keep).Sub(b.First).Seconds()
	}
	return x
}

// zoneLength of an antenna in metres, common practice.
const zoneLength = 4.0

// stretch is the slowness between two moments, unknown where it is no human's: somebody cut
// the course, and how fast they came to the line nobody knows.
func stretch(from, to race.Instant, metres float64, sport string) float64 {
	if to <= from || metres <= 0 {
		return unknown
	}
	u := float64(to-from) / 1000 / metres
	if top := pace.Ceiling(sport, metres); top > 0 && u < 1/top || u > 10 {
		return unknown
	}
	return u
}

// strayPairs are the crossings of a tag that nobody owns.
func (r *run) strayPairs(x *stray, tag int, pairs [][]clock.Pair) {
	for _, p := range r.passings(x.recs, nil, nil) {
		ref := r.refs[p.Line]
		if ref < 0 {
			continue
		}
		m := p.Bursts[r.src[ref].system]
		if m == nil || int(m.Source) != ref {
			continue
		}
		keep := r.plan.Lines[p.Line].Keep
		for _, b := range p.Bursts {
			if b == nil || b == m || len(pairs[b.Source]) >= enoughPairs {
				continue
			}
			at, _ := r.src[ref].onRace(m.Time(keep))
			pairs[b.Source] = append(pairs[b.Source], clock.Pair{Main: at, Other: b.Time(keep), U: unknown, Long: unknown, Mid: unknown, Wide: unknown, Tag: tag})
		}
	}
}

// keep is which read's time a passing keeps: its split's, else its line's.
func (r *run) keep(e *entrant, p *race.Passing) race.Keep {
	if p.Split >= 0 && e.splits[p.Split].Keep != race.KeepUnset {
		return e.splits[p.Split].Keep
	}
	return r.plan.Lines[p.Line].Keep
}

// typicalSlowness is what is assumed of an athlete whose speed isn't known, in s/m.
func typicalSlowness(sport string) float64 {
	v, _ := pace.Typical(sport)
	return 1 / v
}
