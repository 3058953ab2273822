package clock

import (
	"math"
	"math/rand/v2"
	"slices"

	"twinmat/reconcile/race"
)

// world is an invented line: what is true of its clocks, antennas and field.
type world struct {
	pairs   int
	hours   float64
	offset  float64 // s
	drift   float64 // ppm
	behind  float64 // m
	step    float64 // s, at stepAt of the race
	stepAt  float64
	speed   func(*rand.Rand, float64) float64 // of an athlete at a moment 0…1
	noise   func(*rand.Rand, float64) float64 // of one crossing of slowness u, s
	gross   float64                           // share uniform within ±30 s
	late    float64                           // share late by seconds
	guess   float64                           // error of the slowness that is known, share of it
	unknown float64                           // share of unknown slowness
}

func uniformSpeed(d *rand.Rand, _ float64) float64 { return 1.2 + 4.8*d.Float64() }
func runners(d *rand.Rand, _ float64) float64      { return max(1.2, 3.1+.55*d.NormFloat64()) }

// fastFirst is a field that comes in order of speed: the time and the slowness say nearly
// the same.
func fastFirst(d *rand.Rand, t float64) float64 {
	return max(.8, (5-3.6*t)*math.Exp(.08*d.NormFloat64()))
}

func even(sd float64) func(*rand.Rand, float64) float64 {
	return func(d *rand.Rand, _ float64) float64 { return sd * d.NormFloat64() }
}

// zones is the noise of two antennas' zones: in proportion to the time in them.
func zones(metres float64) func(*rand.Rand, float64) float64 {
	return func(d *rand.Rand, u float64) float64 { return math.Hypot(.03, metres*u) * d.NormFloat64() }
}

// firstReads is the difference of two first reads, each a poll's chance after the edge of a
// zone that differs from body to body.
func firstReads(d *rand.Rand, u float64) float64 {
	one := func() float64 { return -2.2*u*(1+.08*d.NormFloat64()) + d.ExpFloat64()*(.05+.08*u) }
	return one() - one()
}

func reference() world {
	return world{pairs: 100, hours: 6, offset: 3.217, drift: 8, behind: 2, stepAt: .5, speed: uniformSpeed, noise: even(.15), gross: .03}
}

// fill is an athlete whom main missed.
type fill struct {
	Pair
	mean  float64 // what main would have kept but for the noise, s past zero
	noisy float64 // what it would have kept
	speed float64
}

const zero = race.Instant(1779006000_000)

func (w world) clockAt(t float64) float64 {
	o := w.offset + w.drift*1e-6*(t-w.hours*1800)
	if t > w.stepAt*w.hours*3600 {
		o += w.step
	}
	return o
}

// crossing draws one athlete; clean ones are neither gross nor late.
func (w world) crossing(d *rand.Rand, tag int, clean bool) fill {
	x := d.Float64()
	t := x * w.hours * 3600
	v := w.speed(d, x)
	u := 1 / v
	e := w.noise(d, u)
	if !clean {
		switch c := d.Float64(); {
		case c < w.gross:
			e += 60*d.Float64() - 30
		case c < w.gross+w.late:
			e += .5 + 4*d.ExpFloat64()
		}
	}
	o := t + w.clockAt(t) + w.behind*u
	told := u * (1 + w.guess*d.NormFloat64())
	if d.Float64() < w.unknown {
		told = math.NaN()
	}
	at := func(s float64) race.Instant { return zero + race.Instant(math.Round(s*1000)) }
	return fill{Pair: Pair{Main: at(t), Other: at(o + e), U: told, Tag: tag}, mean: t + e, noisy: t, speed: v}
}

func (w world) draw(seed uint64) []Pair {
	d := rand.New(rand.NewPCG(seed, 7))
	ps := make([]Pair, w.pairs)
	for i := range ps {
		ps[i] = w.crossing(d, i, false).Pair
	}
	return ps
}

// score is how fills fared.
type score struct {
	errors  []float64 // s, beyond the athlete's own read noise
	signed  []float64
	speeds  []float64
	inside  []bool
	widths  []float64
	held    int   // fills called unsure
	steps   []int // found per race
	stepErr []float64
}

// measure fits races of a world and fills fresh athletes.
func measure(w world, races, fills int, seed uint64) score {
	var s score
	for k := range races {
		m := Fit(w.draw(seed+uint64(k)), Config{})
		st := m.Steps()
		s.steps = append(s.steps, len(st))
		if w.step != 0 && len(st) == 1 {
			s.stepErr = append(s.stepErr, math.Abs(st[0].SizeS-w.step))
		}
		d := rand.New(rand.NewPCG(seed+uint64(k), 99))
		for i := range fills {
			f := w.crossing(d, i, true)
			t, pm, unsure := m.Race(f.Other, f.Crossing())
			if unsure != "" {
				s.held++
				continue
			}
			got := float64(t-zero) / 1000
			s.errors = append(s.errors, math.Abs(got-f.mean))
			s.signed = append(s.signed, got-f.mean)
			s.speeds = append(s.speeds, f.speed)
			s.inside = append(s.inside, math.Abs(got-f.noisy)*1000 <= float64(pm)+.5)
			s.widths = append(s.widths, float64(pm)/1000)
		}
	}
	return s
}

func quantileOf(xs []float64, p float64) float64 {
	s := slices.Sorted(slices.Values(xs))
	if len(s) == 0 {
		return math.NaN()
	}
	return s[min(int(p*float64(len(s))), len(s)-1)]
}

func share(bs []bool) float64 {
	n := 0
	for _, b := range bs {
		if b {
			n++
		}
	}
	return float64(n) / float64(max(1, len(bs)))
}

// bySpeed is the share inside in each tenth of speed.
func (s score) bySpeed() (lo, hi float64, tenths []float64) {
	order := make([]int, len(s.speeds))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		if s.speeds[a] < s.speeds[b] {
			return -1
		}
		return 1
	})
	lo, hi = 1, 0
	for k := range 10 {
		var in []bool
		for _, i := range order[k*len(order)/10 : (k+1)*len(order)/10] {
			in = append(in, s.inside[i])
		}
		p := share(in)
		lo, hi, tenths = min(lo, p), max(hi, p), append(tenths, p)
	}
	return lo, hi, tenths
}

// tilt is the mean error of the slowest tenth less that of the fastest.
func (s score) tilt() float64 {
	slow, fast := quantileOf(s.speeds, .1), quantileOf(s.speeds, .9)
	var a, b, na, nb float64
	for i, v := range s.speeds {
		if v <= slow {
			a, na = a+s.signed[i], na+1
		}
		if v >= fast {
			b, nb = b+s.signed[i], nb+1
		}
	}
	return a/na - b/nb
}

func mean(xs []float64) float64 {
	s := 0.0
	for _, x := range xs {
		s += x
	}
	return s / float64(len(xs))
}

func stepsFound(s score) (exactly, invented float64) {
	one, more := 0, 0
	for _, n := range s.steps {
		if n == 1 {
			one++
		}
		if n > 0 {
			more++
		}
	}
	return float64(one) / float64(len(s.steps)), float64(more) / float64(len(s.steps))
}
