package clock

import (
	"math"
	"math/rand/v2"
	"testing"
)

// outAndBack is a line passed in both directions: the second time backup comes first.
func outAndBack(seed uint64, there, back int) (ps []Pair, draw func(d *rand.Rand, group int) fill) {
	w := reference()
	w.hours, w.gross, w.noise = 3, .02, zones(.4)
	d := rand.New(rand.NewPCG(seed, 11))
	draw = func(d *rand.Rand, group int) fill {
		x := w
		if group == 1 {
			x.behind = -w.behind
		}
		f := x.crossing(d, 0, false)
		f.Group = group
		return f
	}
	for i := range there + back {
		g := 0
		if i >= there {
			g = 1
		}
		f := draw(d, g)
		f.Tag = i
		ps = append(ps, f.Pair)
	}
	return ps, draw
}

func TestEachDirectionOfALineHasItsOwnBehind(t *testing.T) {
	for _, c := range []Config{{Groups: 2}, {Groups: 2, BehindFixed: true, Behind: 2}} {
		for _, n := range [][2]int{{100, 100}, {200, 20}, {150, 40}} {
			var errs, errsBack []float64
			for seed := range uint64(20) {
				ps, draw := outAndBack(seed, n[0], n[1])
				m := Fit(ps, c)
				d := rand.New(rand.NewPCG(seed, 12))
				for i := range 40 {
					f := draw(d, i%2)
					at, _, unsure := m.Race(f.Other, f.U, f.Long, f.Group)
					if unsure != "" {
						t.Fatalf("seed %d: %s", seed, unsure)
					}
					e := float64(at-zero)/1000 - f.mean
					if math.Abs(e) > 5 { // gross
						continue
					}
					if i%2 == 0 {
						errs = append(errs, math.Abs(e))
					} else {
						errsBack = append(errsBack, math.Abs(e))
					}
				}
				if seed == 0 {
					t.Logf("%v %+v %s", n, m.behind, m.Stretches()[0].Says)
				}
			}
			t.Logf("fixed %v, %d there and %d back: p95 %.0f ms there, %.0f ms back", c.BehindFixed, n[0], n[1], 1000*quantileOf(errs, .95), 1000*quantileOf(errsBack, .95))
			if p := quantileOf(errsBack, .95); p > .2 {
				t.Errorf("fills of who comes back are off by %.3f s", p)
			}
		}
	}
}

// Waves of one direction are one group: a wave of few pairs learns from the others.
func TestGroupsThatDoNotDifferShareOneBehind(t *testing.T) {
	d := rand.New(rand.NewPCG(5, 5))
	w := reference()
	var ps []Pair
	for i := range 160 {
		f := w.crossing(d, i, false)
		f.Group = i % 4
		ps = append(ps, f.Pair)
	}
	m := Fit(ps, Config{Groups: 4})
	for g := range 4 {
		if m.behind[g] != m.behind[0] {
			t.Errorf("behind differs: %v", m.behind)
		}
	}
}
