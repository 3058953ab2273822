// Package course decides which passing fills which split: a monotone assignment of an
// athlete's passings, in order of time, to the splits of their course, where a miss, an
// extra passing and every pace have their price. Laps, out and back, start and finish on
// one line, relays and triathlons are the same problem.
package course

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Passing is one crossing of one line, as the assignment needs it.
type Passing struct {
	Line    int
	At      race.Instant
	Systems int         // how many systems saw it whose clocks are known at least roughly
	Full    float64     // how full its best burst is, against what is usual there: 0 to 1
	Heard   Heard       // how faintly, by the reads of main or backup, whichever heard it better
	Best    race.System // the first of those whose time would count
	Keyed   bool        // by a person, and no system read it
	Other   bool        // of a chip that the one before it at its line was not of
	Before  race.Millis // how long before its time any system read it,
	After   race.Millis // and how long after
	Worn    uint32      // which of the bib's chips it is of, a bit each; 0: there is one
	Waits   bool        // of a chip whose wearer, in a team, stands there until another brings theirs
	Side    race.Millis // by how much backup told it later than main, on clocks known roughly; NoMillis: not both did
	As      int         // one more than the split whose time was ruled to be then, 0: none was
}

// Anchor is what else is known of an athlete's race.
type Anchor struct {
	Bib        string       // whose passings they are: not of those who tell of oneself
	Gun        race.Instant // NoInstant: not fired yet
	Early      race.Millis  // a start passing so little before the gun belongs to it
	Until      race.Instant // what comes after is after the limit; NoInstant: no limit
	FlagAt     race.Instant // lapped = "flagged": the leader's finish; NoInstant: none
	NotIn      race.Instant // likewise: nobody had ridden all laps by then; NoInstant: not known
	Resolution race.Millis
	MaxSpeed   float64
	Lap        race.Millis   // how long one takes them, by a first assignment; 0: not known
	Windows    []race.Millis // per line
}

// Assignment is which passing fills which split.
type Assignment struct {
	Split      []int        // per passing: index in Splits, -1: none
	Start      int          // the passing at the gun on the line of laps whose start has no split, -1: none
	Fate       []race.Fate  // per passing
	Doubtful   []bool       // per passing: the runner-up has it elsewhere, and is nearly as likely
	Margin     float64      // nats to the runner-up, infinite where no search was needed
	Cost       float64      // nats, 0 where no search was needed
	Level      float64      // log s/m against the field's factors, NaN: unknown
	Searched   bool         // no path was obvious
	OutOfOrder bool         // the course can't give this order of passings
	Splits     []race.Split // the course's, open laps written out as far as they came
}

// sureMargin of nats tells an assignment from a doubtful one: twenty to one.
const sureMargin = 3

// Assign finds the assignment of least cost. It depends on its arguments only; of equal
// ones it takes the earlier passings.
func Assign(c *race.Course, ps []Passing, a Anchor, f *Field) Assignment {
	out := Assignment{Split: make([]int, len(ps)), Fate: make([]race.Fate, len(ps)), Doubtful: make([]bool, len(ps)), Start: -1, Level: math.NaN(), Margin: math.Inf(1), Splits: c.Splits}
	s := scratch.Get().(*search)
	defer scratch.Put(s)
	s.sift(c, f, ps, a, &out)
	if len(s.ps) == 0 || len(c.Splits) == 0 {
		return out
	}
	s.lay(c, f, a)
	if out.Searched = !s.obvious(); out.Searched {
		s.best(&out)
	}
	last := len(c.Splits)
	out.Level = s.level()
	s.fates(&out)
	for k, split := range s.path {
		if s.unlisted {
			if split == 0 {
				out.Start, out.Fate[s.index[k]] = s.index[k], race.Started
			}
			split = max(-1, split-1)
		}
		out.Split[s.index[k]] = split
		last = max(last, split+1)
	}
	if last > len(c.Splits) {
		out.Splits = laps(c, last)
	}
	return out
}

// sift leaves out the passings that can fill no split, each with its reason.
func (s *search) sift(c *race.Course, f *Field, ps []Passing, a Anchor, out *Assignment) {
	until := a.Until
	if a.FlagAt.Known() {
		until = flagged(c, ps, a.FlagAt, until)
	}
	s.unlisted = a.Gun.Known() && unlistedStart(c)
	s.ps, s.index, s.visits, s.stayed, s.early = s.ps[:0], s.index[:0], s.visits[:0], s.stayed[:0], race.NoInstant
	for i, p := range ps {
		out.Split[i] = -1
		still := s.still(c, f, &p, &a)
		switch {
		case !runsOver(c, p.Line):
			out.Fate[i] = race.NotOnCourse
		case a.Gun.Known() && p.At < a.Gun.Add(-a.Early):
			out.Fate[i] = race.BeforeGun
			s.setsOutEarly(c, &p, &a)
		case until.Known() && p.At > until:
			out.Fate[i] = race.AfterLimit
		case p.As == 0 && (s.setsOut(c, &p, &a) || still):
			out.Fate[i] = race.StayedNear
		case p.As == 0 && f.offLine(c, p.Line):
			out.Fate[i] = race.Extra
		default:
			s.ps, s.index, s.stayed = append(s.ps, p), append(s.index, i), append(s.stayed, 0)
			s.arrives(&p)
		}
	}
	s.unread = !slices.ContainsFunc(ps, func(p Passing) bool { return !p.Keyed })
}

// setsOutEarly notes a crossing of the start in the half hour before the gun: of who isn't seen
// there again, it may be when they began.
func (s *search) setsOutEarly(c *race.Course, p *Passing, a *Anchor) {
	if first := &c.Splits[0]; first.At == 0 && first.Line == p.Line && a.Gun.Sub(p.At) <= race.EarlyReach {
		s.early = p.At
	}
}

func runsOver(c *race.Course, line int) bool {
	for i := range c.Splits {
		if c.Splits[i].Line == line {
			return true
		}
	}
	return false
}

// setsOutBy is when, after the gun, whoever has just started is gone from the lines about the
// start, however slowly a great field goes over them.
const setsOutBy = 600_000 * race.Millis(1)

// setsOut tells whether a passing is one of somebody setting out: the course comes to its line
// later, and too soon after the gun, or after they began before it, for anybody to have been brought
// there. Where many start on the line that they finish at, plans that list no start are told of all
// of them so.
func (s *search) setsOut(c *race.Course, p *Passing, a *Anchor) bool {
	since := p.At.Sub(a.Gun)
	if s.early.Known() {
		since = p.At.Sub(s.early)
	}
	if !a.Gun.Known() || s.unlisted && p.Line == startLine(c) || len(s.ps) > 0 && s.ps[len(s.ps)-1].Line != p.Line {
		return false
	}
	least, lap := soonest(c, p.Line, a.MaxSpeed)
	return least > 0 && since < least && (lap || since < setsOutBy)
}

// soonest is the shortest time after the gun in which anybody can have come to the first split
// on a line, with room for a distance that is told wrong, and whether that split is of a lap.
// 0 where nothing tells.
func soonest(c *race.Course, line int, most float64) (least race.Millis, lap bool) {
	took, at := 0.0, 0.0
	for i := range c.Splits {
		x := &c.Splits[i]
		if x.At > at {
			t := quickest(x.Sport, x.At-at, most)
			if t == 0 {
				return 0, false
			}
			took, at = took+t, x.At
		}
		if x.Line == line {
			return race.Millis(leastRound * took * 1000), x.Lap > 0
		}
	}
	return 0, false
}

// flagged ends a rider's race at their next passing of the last split's line after the
// leader's finish.
func flagged(c *race.Course, ps []Passing, at, until race.Instant) race.Instant {
	line := c.Splits[len(c.Splits)-1].Line
	for _, p := range ps {
		if p.Line == line && p.At >= at {
			if !until.Known() || p.At < until {
				return p.At
			}
			return until
		}
	}
	return until
}

// laps writes an open course out to so many splits.
func laps(c *race.Course, splits int) []race.Split {
	out := slices.Grow(slices.Clone(c.Splits), splits-len(c.Splits))
	last := &c.Splits[len(c.Splits)-1]
	for n := last.Lap + 1; len(out) < splits; n++ {
		out = append(out, c.Lap(last, n))
	}
	return out
}
