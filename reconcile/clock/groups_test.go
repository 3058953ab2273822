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
					at, _, unsure := m.Race(f.Other, f.Crossing())
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

// startAndFinish is a line where all start at a walk, told by their bursts alone, and finish
// at their own pace: the bursts' error must not take from what the distance between the
// antennas costs at the finish.
func startAndFinish(seed uint64) (ps []Pair, slow, fast []fill) {
	d := rand.New(rand.NewPCG(seed, 21))
	w := reference()
	w.hours, w.noise, w.gross = 3, zones(.35), 0
	add := func(group int, speed func(*rand.Rand, float64) float64) fill {
		w.speed = speed
		f := w.crossing(d, len(ps), false)
		f.Group, f.Long = group, 3.6*f.U*math.Exp(.25*d.NormFloat64())
		if f.ByBurst = group == 0; f.ByBurst {
			f.U = f.Long / 4
		}
		return f
	}
	for range 180 {
		ps = append(ps, add(0, func(d *rand.Rand, _ float64) float64 { return 1.5 * math.Exp(.18*d.NormFloat64()) }).Pair)
	}
	for range 180 {
		ps = append(ps, add(1, runners).Pair)
	}
	for range 400 {
		slow = append(slow, add(1, func(*rand.Rand, float64) float64 { return 2.2 }))
		fast = append(fast, add(1, func(*rand.Rand, float64) float64 { return 4.2 }))
	}
	return ps, slow, fast
}

func TestBurstsTakeNothingFromWhoseSpeedIsKnown(t *testing.T) {
	bias := func(m *Model, fs []fill) float64 {
		var e []float64
		for _, f := range fs {
			at, _, _ := m.Race(f.Other, f.Crossing())
			e = append(e, float64(at-zero)/1000-f.mean)
		}
		return median(e)
	}
	var apart, mixed []float64
	for seed := range uint64(20) {
		ps, slow, fast := startAndFinish(seed)
		m := Fit(ps, Config{Groups: 2})
		apart = append(apart, math.Abs(bias(m, slow)-bias(m, fast)))
		for i := range ps {
			ps[i].ByBurst = false
		}
		m = Fit(ps, Config{Groups: 2})
		mixed = append(mixed, math.Abs(bias(m, slow)-bias(m, fast)))
	}
	t.Logf("20 seeds: slow against fast %.0f ms; with all speeds taken alike %.0f ms", 1000*median(apart), 1000*median(mixed))
	if median(apart) > .05 || median(apart) > median(mixed)/2 {
		t.Errorf("slow and fast finishers are %.3f s apart, %.3f s with all speeds taken alike", median(apart), median(mixed))
	}
}

// A clock that is set when nearly all that is left is everybody's last lap has stepped all the same: the
// distance between the antennas that a sprint may have for itself is no three metres.
func TestAStepBeforeTheLastLapsIsToldAsOne(t *testing.T) {
	for _, step := range []float64{-3.2, 2.4} {
		found := 0
		const races = 30
		for seed := range uint64(races) {
			d := rand.New(rand.NewPCG(seed, 31))
			w := reference()
			w.hours, w.step, w.stepAt, w.noise, w.gross = 1.2, step, .7, zones(.2), .01
			w.speed = func(d *rand.Rand, _ float64) float64 { return 1.2 * math.Exp(.08*d.NormFloat64()) }
			var ps []Pair
			for before, laps, last := 140, 10, 32; before+laps+last > 0; {
				f := w.crossing(d, len(ps), false)
				of := &before
				if float64(f.Main-zero)/1000 > w.stepAt*w.hours*3600 {
					if of = &laps; last > 0 && (laps == 0 || d.Float64() < .7) {
						of, f.Group = &last, 1
					}
				}
				if *of > 0 {
					*of--
					ps = append(ps, f.Pair)
				}
			}
			st := Fit(ps, Config{Groups: 2, OneWay: true}).Steps()
			if len(st) == 1 && math.Abs(st[0].SizeS-step) < .5 {
				found++
			}
		}
		t.Logf("step of %+.1f s: found in %d of %d races", step, found, races)
		if found < races*9/10 {
			t.Errorf("step of %+.1f s: found in %d of %d races", step, found, races)
		}
	}
}
