package suspect

import (
	"fmt"
	"math"

	"twinmat/reconcile/race"
)

// chapman is the estimate of how many there were, from m seen by one system, c by the other
// and r by both: n = (m+1)(c+1)/(r+1) - 1 (Chapman 1951), its standard error by the variance
// (m+1)(c+1)(m-r)(c-r)/((r+1)²(r+2)) (Seber 1970), and the 95 % interval, normal, but never
// below the m+c-r that were seen. It holds for systems that miss independently of each other;
// misses that come together (a shielded chip) make it too low.
func chapman(m, c, r int) (n, se, lo, hi float64) {
	a, b, d := float64(m)+1, float64(c)+1, float64(r)+1
	n = a*b/d - 1
	se = math.Sqrt(a * b * float64(m-r) * float64(c-r) / (d * d * (d + 1)))
	lo = math.Max(n-float64(1.959964*se), float64(m+c-r))
	hi = n + float64(1.959964*se)
	return n, se, lo, hi
}

// Missed is how many passings of a line no system there saw.
type Missed struct {
	Line     int
	Estimate float64 // Chapman's; NaN where two systems can't tell
	Lo, Hi   float64 // 95 %
	Observed int     // of Chances: seen at a split before and at one after, and not here
	Chances  int
	Says     string
}

// captures are how many passings of a line two systems saw, each and both.
type captures struct{ one, other, both int }

// MissedByAll estimates, per line, the passings that no system saw, from what main and
// backup see of each other's, or one of them and somebody who keyed bibs where the other has
// nothing; where the course goes on, the share that is seen to be missing is told beside it.
func (s *Search) MissedByAll() []Missed {
	f := s.f
	if f.captured == nil {
		f.captured = make([]captured, len(f.plan.Lines))
		for i := range f.st.Results {
			f.countCaptures(i, 1)
		}
	}
	out := make([]Missed, len(f.captured))
	for l := range out {
		x, seen := &out[l], &f.captured[l]
		x.Line, x.Chances, x.Observed = l, seen.chances, seen.missed
		x.estimate(telling(seen.by))
	}
	return out
}

// captured is what the passings of a line that fill splits say of who saw them.
type captured struct {
	by              [len(captors)]captures
	chances, missed int // seen at a split before and at one after; and not here
}

// countCaptures adds one result's, n times.
func (f *field) countCaptures(i, n int) {
	splits, before := f.st.Results[i].Splits, false
	for k := range f.both[i] {
		x, at := &f.both[i][k], &f.captured[splits[k].Line]
		if k < f.ends[i] && (before || splits[k].At == 0) {
			at.chances += n
			at.missed += n * tally(!x.filled)
		}
		if !x.filled {
			continue
		}
		before = true
		for t, two := range captors {
			one, other := x.by[two[0]], x.by[two[1]]
			y := &at.by[t]
			y.one += n * tally(one)
			y.other += n * tally(other)
			y.both += n * tally(one && other)
		}
	}
}

// captors are the systems that may tell of each other what they missed, best first.
var captors = [...][2]race.System{{race.Main, race.Backup}, {race.Main, race.Hand}, {race.Backup, race.Hand}}

// telling are the captures of the first two systems that both saw something.
func telling(seen [len(captors)]captures) (one, other, both int) {
	x := seen[0]
	for _, y := range seen {
		if y.one > 0 && y.other > 0 {
			x = y
			break
		}
	}
	return x.one, x.other, x.both
}

func tally(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

func seenBy(p *race.Passing, s race.System) bool {
	return p.Bursts[s] != nil && p.Bursts[s].Witness == 0
}

func (x *Missed) estimate(m, c, r int) {
	x.Estimate, x.Lo, x.Hi = math.NaN(), math.NaN(), math.NaN()
	switch {
	case m == 0 || c == 0:
		x.Says = "one system alone can't tell what it missed"
	case r == 0:
		x.Says = "the systems share no passing, so nothing tells what both missed"
	default:
		n, _, lo, hi := chapman(m, c, r)
		seen := float64(m + c - r)
		x.Estimate, x.Lo, x.Hi = n-seen, lo-seen, hi-seen
		x.Says = fmt.Sprintf("at least about %.1f missed by both (95 %% up to %.1f) of %d seen, if they miss independently; shielded chips are missed by both, so it can be several times that", x.Estimate, x.Hi, m+c-r)
	}
	if x.Chances > 0 {
		x.Says += fmt.Sprintf("; %d of %d athletes read before and after weren't read here", x.Observed, x.Chances)
	}
}
