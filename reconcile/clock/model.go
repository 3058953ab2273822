package clock

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"twinmat/reconcile/race"
)

// Model is a fitted clock. What it publishes is rounded (a millisecond, a tenth of a ppm, a
// centimetre), so that small moves of the fit change nothing that rests on it, and no state
// depends on an earlier one.
type Model struct {
	d       *design
	x       []float64 // rounded unknowns; levels at the middle of t and at slowness 0
	inverse []float64 // covariance shape
	scale   float64   // seconds
	quant   float64   // what covers 95 % of the standardised residuals
	noiseA  float64   // noise is scale·√(A² + (B·u)²)
	noiseB  float64
	r, w    []float64
	unsure  string
	bounds  []race.Instant    // per segment: where it begins, on the race clock; the first is open
	gaps    [][2]race.Instant // the last pair before a step and the first after it
	local   map[int]*local
}

// Fit finds the model of a log's clock from its pairs. It depends on the set of pairs only.
func Fit(pairs []Pair, c Config) *Model {
	d := newDesign(pairs, c)
	m := &Model{d: d, quant: 1.96, noiseA: 1}
	if len(d.pairs) < fewPairs && !c.Fixed {
		m.unsure = fmt.Sprintf("only %d crossings were seen by both", len(d.pairs))
	}
	if len(d.pairs) == 0 {
		m.x = make([]float64, d.unknowns())
		m.scale = 0.3
		for g := range d.groups {
			m.x[d.segs+1+g] = d.behindMean()
			if c.BehindFixed {
				m.x[d.segs+1+g] = c.Behind
			}
		}
		m.bounds = []race.Instant{race.NoInstant}
		return m
	}
	x, scale := d.start()
	d.polish(x, scale)
	if !c.NoSteps && !c.Fixed && !c.Hand && len(d.y) >= 2*stepHuge {
		x, scale = d.findSteps(x, scale)
	}
	d.noise(x, m)
	r := make([]float64, len(d.y))
	d.residuals(x, r)
	scale = math.Max(0.005, d.scale(r))
	m.w = d.polish(x, scale)
	m.finish(x, scale)
	return m
}

// noise finds how the spread of the residuals grows with slowness: an antenna's zone is so
// many metres, and a slow athlete is in it for longer. Two terms, a constant and one in
// proportion to u, from the medians of the residuals in thirds of u; shrunk towards pure
// proportion where pairs are few.
func (d *design) noise(x []float64, m *Model) {
	n := len(d.y)
	r := make([]float64, n)
	d.residuals(x, r)
	med := Median(d.u)
	if med <= 0 {
		return
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case d.u[a] < d.u[b]:
			return -1
		case d.u[a] > d.u[b]:
			return 1
		}
		return a - b
	})
	third := func(from, to int) (u, s float64) {
		var us, rs []float64
		for _, i := range order[from:to] {
			us, rs = append(us, d.u[i]), append(rs, math.Abs(r[i]))
		}
		return Median(us), madSD * Median(rs)
	}
	a, b := 0.3, 1/med // of the scale at the median
	if n >= 30 {
		u1, s1 := third(0, n/3)
		u3, s3 := third(n-n/3, n)
		if u3 > 1.15*u1 {
			slope := (s3*s3 - s1*s1) / (u3*u3 - u1*u1)
			level := s1*s1 - slope*u1*u1
			slope, level = math.Max(slope, 0), math.Max(level, 0)
			mid := math.Max(slope*med*med+level, 1e-9)
			weight := float64(n) / float64(n+100)
			a2 := weight*level/mid + (1-weight)*a*a
			b2 := weight*slope/mid + (1-weight)*b*b
			a, b = math.Sqrt(a2), math.Sqrt(b2)
		}
	}
	m.noiseA, m.noiseB = round(a, 2), round(b, 2)
	for i := range d.sd {
		d.sd[i] = m.noiseAt(d.u[i])
	}
}

// noiseAt is the relative noise at a slowness, about 1 at the median.
func (m *Model) noiseAt(u float64) float64 {
	return math.Max(0.3, math.Sqrt(float64(m.noiseA*m.noiseA)+float64(m.noiseB*m.noiseB*u*u)))
}

func round(x float64, digits int) float64 {
	f := math.Pow(10, float64(digits))
	return math.Round(x*f) / f
}

// finish rounds the unknowns, finds their covariance, and what the residuals cover.
func (m *Model) finish(x []float64, scale float64) {
	d := m.d
	p := d.unknowns()
	m.inverse = make([]float64, p*p)
	tmp := make([]float64, p)
	d.solve(m.w, scale, tmp, m.inverse)
	m.x = slices.Clone(x)
	m.x[d.segs] = round(x[d.segs], 7)
	m.x[d.segs+1+d.groups] = round(x[d.segs+1+d.groups], 2)
	for g := 0; g < d.groups; g++ {
		k := d.segs + 1 + g
		m.x[k] = round(x[k], 2)
		if d.c.BehindFixed {
			m.x[k] = d.c.Behind
		}
	}
	m.r = make([]float64, len(d.y))
	d.residuals(x, m.r)
	m.scale = scale
	m.bounds = []race.Instant{race.NoInstant}
	for i := 1; i < len(d.pairs); i++ {
		if d.seg[i] != d.seg[i-1] {
			a, b := d.pairs[i-1].Main, d.pairs[i].Main
			m.bounds = append(m.bounds, a+(b-a)/2)
			m.gaps = append(m.gaps, [2]race.Instant{a, b})
		}
	}
	m.localLevels()
	m.covers()
}

// covers finds the quantile of the standardised residuals that holds 95 % of them, of all
// of them: who lingers among the pairs lingers among the fills too. With few pairs a
// Student quantile stands in its place, since the order statistics don't reach so far.
func (m *Model) covers() {
	d := m.d
	n := len(d.y)
	z := make([]float64, n)
	for i := range z {
		z[i] = math.Abs(m.r[i]-m.localAt(d.pairs[i].Main, d.pairs[i].Group, d.pairs[i].U)) / (m.scale * d.sd[i])
	}
	slices.Sort(z)
	dof := math.Max(1, float64(n-min(d.unknowns(), 3)))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(0.975)
	if k := int(math.Ceil(0.95*float64(n+1))) - 1; k < n && n >= 40 {
		weight := float64(n-40) / float64(n)
		m.quant = weight*z[k] + (1-weight)*math.Max(z[k], math.Min(t, 2.5))
	} else {
		m.quant = t
	}
	m.quant = round(math.Min(math.Max(m.quant, 1.6), 12), 2)
	m.scale = round(math.Max(m.scale, 0.0005), 4)
}

// offset is that clock minus the race clock, in seconds past base, at a moment of the race
// clock.
func (m *Model) offset(at race.Instant, u, long float64, group, seg int) float64 {
	d := m.d
	o := math.Round(m.x[seg]*1000)/1000 + float64(m.x[d.segs]*float64(at-d.tmid)/1000)
	o += float64(m.x[d.segs+1+d.groups] * long)
	b := m.x[d.segs+1+group]
	if d.c.BehindFixed {
		return o + float64(b*u)
	}
	return o + float64(b*(u-d.umid))
}

// segment is the one that a time of the log falls in, and whether it falls between the last
// pair before a step and the first after it.
func (m *Model) segment(at race.Instant) (seg int, between bool) {
	for s := range m.bounds {
		t := at.Add(-race.Millis(m.d.base) - race.Millis(math.Round(m.offset(at.Add(-race.Millis(m.d.base)), m.d.umid, 0, 0, s)*1000)))
		last := s+1 == len(m.bounds) || t < m.bounds[s+1]
		if last {
			for _, g := range m.gaps {
				between = between || t > g[0] && t < g[1]
			}
			return s, between
		}
	}
	return len(m.bounds) - 1, false
}

// Rough turns a time of the log into the race clock for a typical athlete: near enough to
// join passings.
func (m *Model) Rough(at race.Instant) race.Instant {
	seg, _ := m.segment(at)
	return m.lay(at, m.d.umidOr(), 0, 0, seg)
}

func (d *design) umidOr() float64 {
	if d.c.BehindFixed {
		return d.c.SpeedPrior
	}
	return d.umid
}

func (m *Model) lay(at race.Instant, u, long float64, group, seg int) race.Instant {
	base := race.Millis(m.d.base)
	t := at.Add(-base)
	o := m.offset(t, u, long, group, seg)
	o = m.offset(t.Add(-race.Millis(math.Round(o*1000))), u, long, group, seg)
	return t.Add(-race.Millis(math.Round(o * 1000)))
}

// Race turns a time of the log into what the reference would have kept, on the race clock,
// with the 95 % half-width of a prediction. u is the athlete's slowness in s/m, long the
// length of the burst in seconds; NaN for either: unknown. unsure says why it can't be trusted, "" : it can.
func (m *Model) Race(at race.Instant, u, long float64, group int) (t race.Instant, pm race.Millis, unsure string) {
	d := m.d
	group = min(max(group, 0), d.groups-1)
	seg, between := m.segment(at)
	v := u
	if !known(v) {
		v = d.usual[group]
	}
	t = m.lay(at, v, d.beyond(long, v), group, seg)
	t = t.Add(-race.Millis(math.Round(m.localAt(t, group, u) * 1000)))
	width := m.width(t, v, group, seg)
	if !known(u) && m.local[group] == nil && len(d.pairs) > 0 {
		// Somebody whose speed isn't known may be a third slower or faster.
		width = math.Hypot(width, 0.6*v*math.Abs(m.x[d.segs+1+group]))
	}
	switch {
	case m.unsure != "":
		unsure = m.unsure
	case between:
		unsure = "it falls where a clock was re-set"
	}
	return t, race.Millis(math.Ceil(width * 1000)), unsure
}

// width is the half-width of a prediction: the read noise of one crossing, and how well the
// model is known there.
func (m *Model) width(t race.Instant, u float64, group, seg int) float64 {
	d := m.d
	if m.inverse == nil {
		return 3
	}
	row := make([]float64, d.unknowns())
	row[seg] = 1
	row[d.segs] = float64(t-d.tmid) / 1000
	if !d.c.BehindFixed {
		row[d.segs+1+group] = u - d.umid
	}
	v := 0.0
	p := len(row)
	for i := range row {
		for j := range row {
			v += float64(row[i] * m.inverse[i*p+j] * row[j])
		}
	}
	noise := m.noiseAt(u)
	return m.quant * m.scale * math.Sqrt(noise*noise+math.Max(v, 0))
}

// Unsure says why the offset can't be trusted, "" : it can.
func (m *Model) Unsure() string { return m.unsure }

// Stretch is a stretch of time on which one level holds.
type Stretch struct {
	From, To   race.Instant
	OffsetS    float64 // that clock minus the race clock at the middle, at the antenna itself
	DriftPPM   float64
	PlusMinusS float64
	SpreadS    float64
	Behind     []float64 // per group
	BehindMean float64   // weighted by pairs
	Pairs      int
	Fixed      bool
	Says       string
}

// Stretches tells the model in numbers, in order of time.
func (m *Model) Stretches() []Stretch {
	d := m.d
	n := len(d.pairs)
	if n == 0 {
		return nil
	}
	behind, mean := m.behinds()
	var out []Stretch
	for s := 0; s < d.segs; s++ {
		lo, _ := slices.BinarySearch(d.seg, s)
		hi, _ := slices.BinarySearch(d.seg, s+1)
		if lo >= hi {
			continue
		}
		x := Stretch{From: d.pairs[lo].Main, To: d.pairs[hi-1].Main, DriftPPM: round(m.x[d.segs]*1e6, 1), SpreadS: round(m.scale*m.noiseAt(Median(d.u)), 4),
			Behind: behind, BehindMean: mean, Pairs: hi - lo, Fixed: d.c.Fixed}
		if lo > 0 {
			x.From = m.bounds[s]
		}
		if hi < n {
			x.To = m.bounds[s+1]
		}
		mid := x.From + (x.To-x.From)/2
		x.OffsetS = round(float64(d.base)/1000+m.atAntenna(mid, mean, s), 3)
		x.PlusMinusS = round(1.96*m.scale*math.Sqrt(math.Max(0, m.inverse[s*d.unknowns()+s])+math.Pow(d.umid*m.se(mean), 2)), 3)
		x.Says = m.says(x)
		out = append(out, x)
	}
	return out
}

// se is the standard error of behind in units of scale, from the best known group.
func (m *Model) se(float64) float64 {
	best := math.Inf(1)
	p := m.d.unknowns()
	for g := 0; g < m.d.groups; g++ {
		k := m.d.segs + 1 + g
		best = math.Min(best, math.Sqrt(math.Max(0, m.inverse[k*p+k])))
	}
	if m.d.c.BehindFixed || math.IsInf(best, 0) {
		return 0
	}
	return best
}

// atAntenna is the offset of the clock itself, without what the distance between the
// antennas adds.
func (m *Model) atAntenna(at race.Instant, mean float64, seg int) float64 {
	d := m.d
	o := math.Round(m.x[seg]*1000)/1000 + float64(m.x[d.segs]*float64(at-d.tmid)/1000)
	if d.c.BehindFixed {
		return o
	}
	return o - mean*d.umid
}

func (m *Model) behinds() ([]float64, float64) {
	d := m.d
	out := make([]float64, d.groups)
	sum, n := 0.0, 0.0
	for g := range out {
		out[g] = m.x[d.segs+1+g]
	}
	for _, p := range d.pairs {
		sum += out[p.Group]
		n++
	}
	if n == 0 {
		return out, out[0]
	}
	return out, round(sum/n, 2)
}

// says is the model in a timer's words.
func (m *Model) says(x Stretch) string {
	ahead := "ahead"
	if x.OffsetS < 0 {
		ahead = "behind"
	}
	gains := "gains"
	if x.DriftPPM < 0 {
		gains = "loses"
	}
	s := fmt.Sprintf("runs %.3f s %s", math.Abs(x.OffsetS), ahead)
	if x.Fixed {
		return s + ", fixed by hand"
	}
	p := m.d.unknowns()
	se := m.scale * math.Sqrt(math.Max(0, m.inverse[m.d.segs*p+m.d.segs]))
	if math.Abs(m.x[m.d.segs]) > 3*se {
		s += fmt.Sprintf(", %s %.3f s an hour", gains, math.Abs(x.DriftPPM)*3600e-6)
	} else {
		s += fmt.Sprintf(", no drift seen beyond %.0f ppm", math.Max(1, 3*se*1e6))
	}
	if sb := m.scale * m.se(0); sb > 0.5 {
		return s + ", the field's speeds are too alike to tell how far it stands from main"
	}
	where := "past"
	if x.BehindMean < 0 {
		where = "before"
	}
	return s + fmt.Sprintf(", stands %.1f m %s main", math.Abs(x.BehindMean), where)
}

// Step is a jump between two stretches.
type Step struct {
	Before, After           race.Instant // last pair before, first after, on the race clock
	SizeS, PlusMinusS       float64
	PairsBefore, PairsAfter int
}

// Steps tells the jumps in order of time.
func (m *Model) Steps() []Step {
	d := m.d
	var out []Step
	p := d.unknowns()
	for i := 1; i < len(d.pairs); i++ {
		a, b := d.seg[i-1], d.seg[i]
		if a == b {
			continue
		}
		lo, _ := slices.BinarySearch(d.seg, a)
		hi, _ := slices.BinarySearch(d.seg, b+1)
		v := m.inverse[a*p+a] + m.inverse[b*p+b] - 2*m.inverse[a*p+b]
		out = append(out, Step{Before: d.pairs[i-1].Main, After: d.pairs[i].Main, SizeS: round(m.x[b]-m.x[a], 3), PlusMinusS: round(1.96*m.scale*math.Sqrt(math.Max(v, 0)), 3),
			PairsBefore: i - lo, PairsAfter: hi - i})
	}
	return out
}

// Residual is one pair against the model.
type Residual struct {
	At       race.Instant
	Residual float64 // seconds
	Weight   float64 // 0: rejected
}

// Residuals are those of all pairs, in order of time.
func (m *Model) Residuals() []Residual {
	out := make([]Residual, len(m.d.pairs))
	for i := range out {
		out[i] = Residual{m.d.pairs[i].Main, round(m.r[i], 3), round(m.w[i], 2)}
	}
	return out
}
