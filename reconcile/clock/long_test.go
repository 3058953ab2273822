package clock

import (
	"math"
	"math/rand/v2"
	"testing"
)

// bursts is a line whose first reads are kept, where nobody crosses quite at the pace of the
// stretch: a burst's length tells the pace at the line, and so does the width of its
// strengths, each with errors of its own.
func bursts(seed uint64, n int) (ps, fills []Pair, want []float64) {
	d := rand.New(rand.NewPCG(seed, 23))
	w := reference()
	w.hours, w.gross, w.guess, w.speed = 3, 0, .12, runners
	for i := range 2 * n {
		var edge [2]float64 // seconds from each antenna's first read to its middle
		w.noise = func(d *rand.Rand, u float64) float64 {
			for k := range edge {
				edge[k] = 2.2*u*(1+.08*d.NormFloat64()) - .07*d.Float64()
			}
			return edge[0] - edge[1]
		}
		f := w.crossing(d, i, false)
		u := 1 / f.speed
		f.Long = edge[1] + 2.2*u*(1+.08*d.NormFloat64()) - .07*d.Float64()
		f.Wide = u * math.Exp(.1*d.NormFloat64())
		f.Mid = edge[1] - f.Long/2 + .1*u*d.NormFloat64()
		if i < n {
			ps = append(ps, f.Pair)
		} else {
			fills, want = append(fills, f.Pair), append(want, f.noisy)
		}
	}
	return ps, fills, want
}

func TestStrengthsTellWhatTheStretchDoesNot(t *testing.T) {
	for _, n := range []int{40, 400} {
		var with, without, inside []float64
		for seed := range uint64(max(4, 4000/n)) {
			ps, fills, want := bursts(seed, n)
			m := Fit(ps, Config{})
			for i := range ps {
				ps[i].Mid, ps[i].Wide = 0, 0
			}
			plain := Fit(ps, Config{})
			for i := range fills {
				at, pm, _ := m.Race(fills[i].Other, fills[i].Crossing())
				e := float64(at-zero)/1000 - want[i]
				with = append(with, math.Abs(e))
				inside = append(inside, 0)
				if math.Abs(e) <= pm.Seconds() {
					inside[len(inside)-1] = 1
				}
				fills[i].Mid, fills[i].Wide = 0, 0
				at, _, _ = plain.Race(fills[i].Other, fills[i].Crossing())
				without = append(without, math.Abs(float64(at-zero)/1000-want[i]))
			}
		}
		a, b := quantileOf(with, .95), quantileOf(without, .95)
		t.Logf("%d pairs: 95 %% of %d fills within %.0f ms, %.0f ms without strengths; %.3f inside", n, len(with), 1000*a, 1000*b, mean(inside))
		if a > map[int]float64{40: .96, 400: .92}[n]*b {
			t.Errorf("%d pairs: 95 %% within %.3f s with strengths, %.3f without", n, a, b)
		}
		if in := mean(inside); in < .93 || in > .97 {
			t.Errorf("%d pairs: %.3f inside their interval", n, in)
		}
	}
}

// Strengths come in whole dB, and of equals the earliest read is kept: it lies before the
// crest, at both antennas. That is no offset of the clock, and who tells no crest is no later.
func TestTheEarliestOfEqualsMovesNoClock(t *testing.T) {
	var offset, without []float64
	for seed := range uint64(20) {
		d := rand.New(rand.NewPCG(seed, 29))
		w := reference()
		w.hours, w.gross, w.drift, w.pairs = 1, 0, 0, 400
		w.speed = func(d *rand.Rand, _ float64) float64 { return 12 * math.Exp(.05*d.NormFloat64()) }
		early := func() float64 { return .015 + .012*d.NormFloat64() }
		var ps []Pair
		for i := range w.pairs {
			mine := early()
			w.noise = func(*rand.Rand, float64) float64 { return early() - mine }
			f := w.crossing(d, i, false)
			f.Long, f.Wide, f.Mid = .3, .08, mine
			ps = append(ps, f.Pair)
		}
		m := Fit(ps, Config{})
		s := m.Stretches()[0]
		offset = append(offset, s.OffsetS+s.BehindMean/12-(3.217+2./12))
		f := w.crossing(d, 0, false)
		f.Other = zero + 1_800_000 + 3217 + 167
		at, _, _ := m.Race(f.Other, Crossing{U: 1. / 12, Long: .3})
		without = append(without, float64(at-zero)/1000-1800)
	}
	t.Logf("20 seeds: offset at a usual speed off by %+.1f ms, of whom no crest is known %+.1f ms", 1000*mean(offset), 1000*mean(without))
	if math.Abs(mean(offset)) > .003 || math.Abs(mean(without)) > .003 {
		t.Errorf("offset at a usual speed is off by %+.4f s, a fill of whom no crest is known by %+.4f s", mean(offset), mean(without))
	}
}
