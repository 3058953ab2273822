package clock

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"twinmat/reconcile/race"
)

// Pair is one crossing that both logs saw.
type Pair struct {
	Main  race.Instant // the reference's kept time, on the race clock
	Other race.Instant // this log's, on its own clock
	U     float64      // slowness at the line in s/m, NaN unknown
	Long  float64      // how long this log's burst was in seconds, NaN unknown
	Group int          // behind has one value a group: split or direction
	Tag   int
}

// Config is what the plan and the rulings say of a log's clock.
type Config struct {
	Fixed       bool
	FixedOffset race.Millis // to the race clock
	BehindFixed bool
	Behind      float64 // metres
	Groups      int
	Hand        bool // keyed by a person: whole seconds, late by a reaction
	Resolution  race.Millis
	Breaks      []race.Instant // where a ruling says that a clock changed
	NoSteps     bool
	SpeedPrior  float64 // slowness that is assumed where it isn't known, s/m
}

// What is believed before anything is measured: quartz clocks differ by tens of ppm
// (RFC 5905 allows 15 ppm each; cheap ones run to 40), antennas stand within a few metres.
const (
	driftSD  = 25e-6
	behindSD = 2.0
	// A burst that began early is longer: how much of its length is in the kept time.
	longSD   = 0.3
	longMost = 8.0 // s: who stood there tells nothing
	// Nothing is known of a level: its prior only keeps the matrix regular.
	levelSD = 1e6
	// Fewer pairs than this and the offset can't be trusted.
	fewPairs = 4
)

// design is a set of pairs as numbers: seconds and metres, centred, in canonical order.
type design struct {
	c      Config
	pairs  []Pair
	base   int64 // ms: y counts from here
	tmid   race.Instant
	y, t   []float64 // seconds
	u      []float64 // s/m, unknown ones filled in
	umid   float64
	long   []float64 // seconds beyond what is usual, unknown: 0
	perU   float64   // metres of zone: a burst's usual length over slowness
	seg    []int     // segment of each pair
	segs   int
	groups int
	sd     []float64 // relative noise of each pair, 1 on average
	usual  []float64 // slowness of a group where one's own isn't known
}

// unknowns are: a level a segment, drift, behind a group, and the share of a burst's length.
func (d *design) unknowns() int { return d.segs + 2 + d.groups }

func (d *design) row(i int, row []float64) {
	for k := range row {
		row[k] = 0
	}
	row[d.seg[i]] = 1
	row[d.segs] = d.t[i]
	if !d.c.BehindFixed {
		row[d.segs+1+d.pairs[i].Group] = d.u[i] - d.umid
	}
	row[d.segs+1+d.groups] = d.long[i]
}

// newDesign sorts and centres the pairs.
func newDesign(pairs []Pair, c Config) *design {
	d := &design{c: c, pairs: slices.Clone(pairs), groups: max(1, c.Groups), segs: 1}
	slices.SortFunc(d.pairs, func(a, b Pair) int {
		return cmp.Or(cmp.Compare(a.Main, b.Main), cmp.Compare(a.Other, b.Other), cmp.Compare(a.Tag, b.Tag), cmp.Compare(a.Group, b.Group))
	})
	if c.SpeedPrior <= 0 {
		d.c.SpeedPrior = 1 / 2.8
	}
	n := len(d.pairs)
	diff := make([]int64, n)
	for i, p := range d.pairs {
		diff[i] = int64(p.Other - p.Main)
	}
	slices.Sort(diff)
	if n > 0 {
		d.base = diff[n/2]
		d.tmid = d.pairs[0].Main + (d.pairs[n-1].Main-d.pairs[0].Main)/2
	}
	if c.Fixed {
		d.base = int64(c.FixedOffset)
	}
	d.usual = d.typical()
	d.y, d.t, d.u, d.seg = make([]float64, n), make([]float64, n), make([]float64, n), make([]int, n)
	d.sd = make([]float64, n)
	for i := range d.pairs {
		p := &d.pairs[i]
		p.Group = min(max(p.Group, 0), d.groups-1)
		d.y[i] = float64(int64(p.Other-p.Main)-d.base) / 1000
		d.t[i] = float64(p.Main-d.tmid) / 1000
		d.u[i] = p.U
		if !known(p.U) {
			d.u[i] = d.usual[p.Group]
		}
		if c.BehindFixed {
			d.y[i] -= float64(c.Behind * d.u[i])
		}
		d.sd[i] = 1
	}
	d.umid = Median(d.u)
	if n == 0 {
		d.umid = d.c.SpeedPrior
	}
	if d.c.BehindFixed {
		d.umid = 0
	}
	d.longs()
	return d
}

// longs tells each burst's length past what its athlete's slowness makes usual, so that
// behind keeps its own meaning.
func (d *design) longs() {
	d.long = make([]float64, len(d.pairs))
	var ls []float64
	for i, p := range d.pairs {
		if p.Long >= 0 && p.Long < longMost {
			ls = append(ls, p.Long/d.u[i])
		}
	}
	if len(ls) > 0 {
		d.perU = round(Median(ls), 1)
	}
	for i, p := range d.pairs {
		d.long[i] = d.beyond(p.Long, d.u[i])
	}
}

// beyond is a burst's length past the usual, 0 where it tells nothing.
func (d *design) beyond(long, u float64) float64 {
	if long >= 0 && long < longMost {
		return long - float64(d.perU*u)
	}
	return 0
}

func known(u float64) bool { return u > 0 && u < 20 }

// typical is the median slowness of each group, where anybody's is known.
func (d *design) typical() []float64 {
	out := make([]float64, d.groups)
	for g := range out {
		var us []float64
		for _, p := range d.pairs {
			if min(max(p.Group, 0), d.groups-1) == g && known(p.U) {
				us = append(us, p.U)
			}
		}
		out[g] = d.c.SpeedPrior
		if len(us) > 0 {
			out[g] = Median(us)
		}
	}
	return out
}

// behindMean is what is believed of a group's behind: a metre past main where all go one
// way, nothing where some come back.
func (d *design) behindMean() float64 {
	if d.groups > 1 {
		return 0
	}
	return 1
}

// solve is the weighted fit under the priors; scale is the noise in seconds.
func (d *design) solve(w []float64, scale float64, x, inverse []float64) bool {
	n := newNormal(d.unknowns())
	row := make([]float64, d.unknowns())
	for i := range d.y {
		if w[i] > 0 {
			d.row(i, row)
			n.add(row, d.y[i], w[i]/(d.sd[i]*d.sd[i]))
		}
	}
	s2 := math.Max(scale*scale, 1e-10)
	for k := 0; k < d.segs; k++ {
		sd := levelSD
		if d.c.Fixed {
			sd = 1e-6
		}
		n.prior(k, d.fixedLevel(), s2/(sd*sd))
	}
	sd := driftSD
	if d.c.Fixed {
		sd = 1e-12
	}
	n.prior(d.segs, 0, s2/(sd*sd))
	for g := 0; g < d.groups; g++ {
		sd, mean := behindSD, d.behindMean()
		if d.c.BehindFixed {
			sd, mean = 1, 0
		}
		n.prior(d.segs+1+g, mean, s2/(sd*sd))
	}
	sd = longSD
	if d.c.Hand {
		sd = 1e-9
	}
	n.prior(d.segs+1+d.groups, 0, s2/(sd*sd))
	return n.solve(x, inverse)
}

// fixedLevel: levels are told at the middle of u, and a fixed offset at u = 0.
func (d *design) fixedLevel() float64 {
	if d.c.Fixed && !d.c.BehindFixed {
		return d.behindMean() * d.umid
	}
	return 0
}

func (d *design) residuals(x, r []float64) {
	row := make([]float64, d.unknowns())
	for i := range d.y {
		d.row(i, row)
		s := d.y[i]
		for k := range row {
			s -= float64(row[k] * x[k])
		}
		r[i] = s
	}
}

// start is a fit that up to nearly half the pairs can't move: least trimmed squares by
// random subsets (Rousseeuw and Van Driessen, FAST-LTS) where the pairs are few, least
// absolute deviations by reweighting where they are many. Returns the unknowns and the
// scale of the residuals.
func (d *design) start() ([]float64, float64) {
	n, p := len(d.y), d.unknowns()
	x, r := make([]float64, p), make([]float64, n)
	scale := math.Max(0.02, MAD(d.y))
	if n >= 500 || n < 6 {
		d.leastAbsolute(x, r, scale)
	} else {
		d.leastTrimmed(x, r, scale)
	}
	d.residuals(x, r)
	return x, math.Max(0.005, d.scale(r))
}

// scale is the MAD of the residuals in units of each one's own noise, corrected for what
// the unknowns took.
func (d *design) scale(r []float64) float64 {
	z := make([]float64, len(r))
	for i := range r {
		z[i] = math.Abs(r[i]) / d.sd[i]
	}
	n := float64(len(r))
	return madSD * Median(z) * math.Sqrt(n/math.Max(1, n-0.5*float64(d.unknowns())))
}

func (d *design) leastAbsolute(x, r []float64, scale float64) {
	w := make([]float64, len(d.y))
	for i := range w {
		w[i] = 1
	}
	med := Median(d.y)
	for i := range w {
		w[i] = 1 / math.Max(math.Abs(d.y[i]-med), 0.01)
	}
	for range 20 {
		if !d.solve(w, scale, x, nil) {
			return
		}
		d.residuals(x, r)
		for i := range w {
			w[i] = 1 / math.Max(math.Abs(r[i]), 0.01)
		}
	}
}

const (
	trimStarts = 150
	trimKeep   = 8
)

func (d *design) leastTrimmed(x, r []float64, scale float64) {
	n, p := len(d.y), d.unknowns()
	h := (n + p + 1) / 2
	rng := rand.New(rand.NewPCG(20260517, uint64(n))) // the same start for the same pairs
	type candidate struct {
		x    []float64
		cost float64
	}
	w := make([]float64, n)
	order := make([]int, n)
	step := func(x []float64) float64 { // one concentration step
		d.residuals(x, r)
		for i := range order {
			order[i] = i
		}
		slices.SortFunc(order, func(a, b int) int {
			return cmp.Or(cmp.Compare(math.Abs(r[a]), math.Abs(r[b])), cmp.Compare(a, b))
		})
		cost := 0.0
		for k, i := range order {
			w[i] = 0
			if k < h {
				w[i] = 1
				cost += float64(r[i] * r[i])
			}
		}
		d.solve(w, scale, x, nil)
		return cost
	}
	var best []candidate
	for range trimStarts {
		for i := range w {
			w[i] = 0
		}
		for k := 0; k < p+1; k++ {
			w[rng.IntN(n)] = 1
		}
		c := candidate{x: make([]float64, p)}
		if !d.solve(w, scale, c.x, nil) {
			continue
		}
		step(c.x)
		c.cost = step(c.x)
		best = append(best, c)
		slices.SortStableFunc(best, func(a, b candidate) int { return cmp.Compare(a.cost, b.cost) })
		best = best[:min(len(best), trimKeep)]
	}
	for i := range best {
		for range 20 {
			was := best[i].cost
			if best[i].cost = step(best[i].x); was-best[i].cost < 1e-12 {
				break
			}
		}
	}
	slices.SortStableFunc(best, func(a, b candidate) int { return cmp.Compare(a.cost, b.cost) })
	if len(best) > 0 {
		copy(x, best[0].x)
	}
}

// polish is the M-step of an MM-estimator (Yohai 1987): Tukey's biweight by reweighting
// from the start, the scale frozen.
func (d *design) polish(x []float64, scale float64) (w []float64) {
	r := make([]float64, len(d.y))
	w = make([]float64, len(d.y))
	last := make([]float64, len(x))
	for range 30 {
		d.residuals(x, r)
		for i := range w {
			w[i] = Biweight(r[i] / (scale * d.sd[i]))
		}
		copy(last, x)
		if !d.solve(w, scale, x, nil) {
			copy(x, last)
			break
		}
		moved := 0.0
		for k := range x {
			moved = math.Max(moved, math.Abs(x[k]-last[k])*weightOf(k, d.segs))
		}
		if moved < 1e-6 {
			break
		}
	}
	return w
}

// weightOf brings unknowns to seconds for the test of convergence.
func weightOf(k, segs int) float64 {
	if k == segs {
		return 1e4
	}
	return 1
}

// loss is the bounded loss of a fit, in squared units of scale.
func (d *design) loss(x []float64, scale float64) float64 {
	r := make([]float64, len(d.y))
	d.residuals(x, r)
	sum := 0.0
	for i := range r {
		sum += bounded(r[i] / (scale * d.sd[i]))
	}
	return sum
}
