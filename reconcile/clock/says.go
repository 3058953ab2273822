package clock

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// Stretch is a stretch of time on which one level holds.
type Stretch struct {
	From, To   race.Instant // main's clock: outermost pairs; half-way to the neighbour's at a step
	OffsetS    float64      // that clock minus main's at the middle, at the antenna itself
	DriftPPM   float64      // the mean over the stretch
	PlusMinusS float64      // 95 % half-width of OffsetS
	SpreadS    float64      // of one crossing of usual speed: standard deviation
	Behind     []float64    // metres, per group
	BehindMean float64      // of a usual pair
	Pairs      int
	Fixed      bool
	Says       string // in words: what was fitted, what was not and why
}

// Step is a jump of the clock between two stretches.
type Step struct {
	Before, After           race.Instant // main's clock: the last pair before and the first after
	SizeS, PlusMinusS       float64      // forwards is positive; 95 % half-width
	PairsBefore, PairsAfter int
	EveryS                  float64 // seconds from pair to pair beside it, in the mean; 0: too few
	Ruled                   bool    // where it is, is a ruling's
	Main                    *Fold   // it was main that was set, and told the times from After to Before twice or left them out; nil: not known
}

// Stretches tells the model in numbers and words, in order of time.
func (m *Model) Stretches() []Stretch {
	mean := m.meanBehind()
	var out []Stretch
	for k := range m.parts {
		p := &m.parts[k]
		s := Stretch{From: p.from, To: p.to, DriftPPM: p.drift, SpreadS: math.Round(m.noise.At*1e4) / 1e4, Behind: slices.Clone(m.behind), BehindMean: mean,
			Pairs: p.pairs, Fixed: p.fixed, Says: m.says}
		if k > 0 {
			s.From = p.begin
		}
		if k+1 < len(m.parts) {
			s.To = m.parts[k+1].begin
		}
		if !s.From.Known() || !s.To.Known() {
			s.From, s.To = latest(s.From, s.To), latest(s.From, s.To)
		}
		mid, since := s.From, 0.0
		if mid.Known() {
			mid = halfWay(s.From, s.To)
			since = m.column(mid)
		}
		if s.To > s.From && !p.fixed {
			s.DriftPPM = math.Round((p.drift+m.cov.bend.slope(m.column(s.From), m.column(s.To)))*10) / 10
		}
		s.From, s.To = m.folded(s.From, k), m.folded(s.To, k)
		off := (m.base + m.setBack(k)).Seconds() + p.level + float64(p.drift*since)
		if !p.fixed && mid.Known() {
			off += m.cov.bend.at(since)
		}
		s.OffsetS = math.Round(off*1000) / 1000
		s.PlusMinusS = math.Ceil(1960*math.Sqrt(m.cov.at(k, p.fixed, since, 0, [tells]float64{}, m.bestGroup()))) / 1000
		s.Says = m.head(&s) + m.says
		out = append(out, s)
	}
	return out
}

// Against tells the stretches against a clock that is so many seconds ahead of the race clock: the
// line's reference, where plan or rulings set it. Numbers and words then tell of the same two clocks.
func (m *Model) Against(ahead float64) []Stretch {
	out := m.Stretches()
	for i := range out {
		s := &out[i]
		s.OffsetS -= ahead
		s.Says = m.head(s) + m.says
	}
	return out
}

// column is a moment in the drift column's unit.
func (m *Model) column(t race.Instant) float64 { return float64(t-m.ref) / 1000 * microTime }

func latest(a, b race.Instant) race.Instant { return max(a, b) }

// bestGroup is the one whose behind is known best.
func (m *Model) bestGroup() int {
	best := 0
	for g, se := range m.cov.behindSE {
		if se < m.cov.behindSE[best] {
			best = g
		}
	}
	return best
}

// meanBehind weighs the groups by their pairs.
func (m *Model) meanBehind() float64 {
	sum, n := 0.0, 0
	for g, b := range m.behind {
		sum += float64(b) * float64(m.groupPairs[g])
		n += m.groupPairs[g]
	}
	if n == 0 {
		return m.behind[0]
	}
	return math.Round(sum/float64(n)*100) / 100
}

// Steps tells the jumps in order of time. One that a ruling sets has the ruled moment as
// Before and After where no pairs stand beside it.
func (m *Model) Steps() []Step {
	var out []Step
	first := 0 // pair of the part
	for k := 1; k < len(m.parts); k++ {
		first += m.parts[k-1].pairs
		a, b := &m.parts[k-1], &m.parts[k]
		s := Step{Before: m.folded(a.to, k-1), After: m.folded(b.from, k), Main: m.foldAt(k), PairsBefore: a.pairs, PairsAfter: b.pairs, Ruled: b.ruled, EveryS: m.every(first, min(a.pairs, everyPairs), min(b.pairs, everyPairs))}
		if !s.Before.Known() {
			s.Before = m.folded(b.begin, k-1)
		}
		if !s.After.Known() {
			s.After = m.folded(b.begin, k)
		}
		since := float64(b.begin-m.ref) / 1000 * microTime
		back := (m.setBack(k) - m.setBack(k-1)).Seconds()
		s.SizeS = math.Round((back+b.level-a.level+float64((b.drift-a.drift)*since))*1000) / 1000
		s.PlusMinusS = math.Ceil(1960*m.cov.jumpSE(k, since)) / 1000
		out = append(out, s)
	}
	return out
}

// everyPairs on either side of a step tell how often somebody crossed.
const everyPairs = 10

// every is the mean time from pair to pair, of so many before a pair and so many from it on.
func (m *Model) every(at, before, after int) float64 {
	if before+after < everyPairs {
		return 0
	}
	sum, n := 0.0, 0
	for _, side := range [][2]int{{at - before, at}, {at, at + after}} {
		if side[1]-side[0] > 1 {
			sum += m.residuals[side[1]-1].At.Sub(m.residuals[side[0]].At).Seconds()
			n += side[1] - side[0] - 1
		}
	}
	return sum / float64(n)
}

// gapSays tells why a time about the beginning of part k can't be trusted.
func (m *Model) gapSays(k int) string {
	st := m.Steps()[k-1]
	s := fmt.Sprintf("a step of %+.2f s", st.SizeS)
	if m.c.Zone == nil {
		return s + ", and this time lies between the last crossing before it and the first after"
	}
	from, to := m.folded(m.parts[k].gapA, k-1), m.folded(m.parts[k].gapB, k)
	if !from.Known() {
		from, to = st.Before, st.After
	}
	return fmt.Sprintf("%s between %s and %s", s, from.Clock(m.c.Zone), to.Clock(m.c.Zone))
}

func pairsOnly(n int) string {
	switch n {
	case 0:
		return "no crossing was seen by both"
	case 1:
		return "only one crossing was seen by both"
	}
	return fmt.Sprintf("only %d crossings were seen by both", n)
}

// head says how a stretch's clock runs.
func (m *Model) head(s *Stretch) string {
	if m.pairs == 0 && !s.Fixed {
		return "nothing is known of it: "
	}
	way := "ahead"
	if s.OffsetS < 0 {
		way = "behind"
	}
	out := fmt.Sprintf("runs %s %s", amount(math.Abs(s.OffsetS)), way)
	switch {
	case s.Fixed:
		return out + ", as was set; "
	case math.Abs(s.DriftPPM) > clearly*m.cov.driftSE && math.Abs(s.DriftPPM) <= clearly*m.cov.driftSE+m.alike:
		out += "; the slow come late here, and that can't be told from a drift"
	case math.Abs(s.DriftPPM) > clearly*m.cov.driftSE && s.DriftPPM != 0:
		verb := "gains"
		if s.DriftPPM < 0 {
			verb = "loses"
		}
		out += fmt.Sprintf(", %s %.3f s an hour", verb, math.Abs(s.DriftPPM)*0.0036)
	case m.cov.driftSE > 0.7*driftSD:
		out += "; too short a time to tell a drift"
	default:
		out += fmt.Sprintf("; no drift seen, it is below %.0f ppm", math.Ceil(math.Abs(s.DriftPPM)+2*m.cov.driftSE))
	}
	return out + "; "
}

func amount(s float64) string {
	if s < 100 {
		return fmt.Sprintf("%.3f s", s)
	}
	return race.Millis(math.Round(s * 1000)).String()
}

// describe says what was found of the antennas, what was not and why.
func (m *Model) describe(q *problem) string {
	var out []string
	switch {
	case m.c.BehindFixed && m.c.Behind == 0:
		out = append(out, "stands at main's antenna, as was set")
	case m.c.BehindFixed:
		out = append(out, stands(m.c.Behind)+", as was set")
		if slices.Contains(q.turned, -1) {
			out = append(out, "and the other way round for who comes back")
		}
	case m.pairs < fewPairs:
		out = append(out, fmt.Sprintf("%s too few to tell how far it stands from main: %s assumed", few(m.pairs), metres(q.behindMean)))
	default:
		told := map[int]bool{}
		for g, k := range q.class {
			if told[k] || q.c.Groups > 1 && m.groupPairs[g] == 0 {
				continue
			}
			told[k] = true
			if m.cov.behindDataSE[g] > unclearBehind {
				out = append(out, "speeds are too alike to tell how far it stands from main: that widens the ± of its clock alone, not of fills")
				continue
			}
			out = append(out, stands(m.behind[g]))
		}
	}
	if q.c.Fixed {
		if w := q.against(); w != "" {
			out = append(out, w)
		}
	}
	says := strings.Join(slices.Compact(out), ", ")
	if q.c.Every > 1 {
		says += fmt.Sprintf("; told by one athlete in %d", q.c.Every)
	}
	return says
}

const unclearBehind = 1.0 // metres of standard error, from the pairs alone

func stands(b float64) string {
	switch r := math.Round(b*10) / 10; {
	case r > 0:
		return fmt.Sprintf("stands %.1f m behind", r)
	case r < 0:
		return fmt.Sprintf("stands %.1f m in front", -r)
	}
	return "stands beside main"
}

func metres(b float64) string { return fmt.Sprintf("%.1f m", b) }

// against says where the pairs contradict a fixed offset.
func (q *problem) against() string {
	if len(q.r) < fewPairs {
		return ""
	}
	off := median(q.r)
	if math.Abs(off) < max(3*q.s/math.Sqrt(float64(len(q.r))), 0.1) {
		return ""
	}
	return fmt.Sprintf("but %d pairs say that it is %+.3f s off", len(q.r), off)
}

// Equal tells whether two models publish the same, so that nothing that rests on one
// changes with the other.
func (m *Model) Equal(o *Model) bool {
	if m == nil || o == nil {
		return m == o
	}
	same := m.base == o.base && m.c.Fold.equal(o.c.Fold) && m.ref == o.ref && m.noise == o.noise && m.unsure == o.unsure && m.typical == o.typical &&
		slices.Equal(m.parts, o.parts) && slices.Equal(m.behind, o.behind) && slices.Equal(m.usual, o.usual) && slices.Equal(m.apart.none, o.apart.none) &&
		slices.Equal(m.apart.spread, o.apart.spread) && m.cov.equal(&o.cov) && len(m.local) == len(o.local)
	for g := 0; same && g < len(m.local); g++ {
		same = slices.Equal(m.local[g].at, o.local[g].at) && slices.Equal(m.local[g].level, o.local[g].level)
	}
	return same
}

func (c *covariance) equal(o *covariance) bool {
	if c.levels != o.levels || c.drifts != o.drifts || c.t != o.t || c.u != o.u || c.bend != o.bend || c.long != o.long || !slices.Equal(c.class, o.class) {
		return false
	}
	return slices.Equal(c.v.RawSymmetric().Data, o.v.RawSymmetric().Data)
}

func few(pairs int) string {
	if pairs == 1 {
		return "1 pair is"
	}
	return fmt.Sprintf("%d pairs are", pairs)
}
