package clock

import (
	"fmt"
	"math"
	"testing"

	"twinmat/reconcile/race"
)

// What fills of invented lines must reach: errors in ms, beyond the athlete's own read
// noise. The worlds are the ones in which the method was measured beforehand (offset 3.217
// s, 8 ppm, 6 h, antennas 2 m apart, 1.2 to 6 m/s, noise 0.15 s, 3 % gross), no published
// values; -v prints the table, CLOCK_MEASURE=10 has ten times the races. Fills are of
// ordinary athletes: where some pairs are gross or late, intervals allow for fills that are.
func TestFillsReachWhatTheyMust(t *testing.T) {
	zonal := func(w world) world { w.noise = zones(.45); return w }
	same := func(w world) world { return w }
	clean := func(w world) world { w.gross = 0; return w }
	told := func(w world) world {
		w.noise, w.speed, w.gross, w.guess = firstReads, fastFirst, .01, .1
		return w
	}
	late := func(w world) world { w.late, w.gross = .2, 0; return w }
	step := func(w world) world { w.step = .75; return w }
	for _, c := range []struct {
		what               string
		world              func(world) world
		pairs, races       int
		median, p95        float64 // ms; 0: not asked
		tilt, bias         float64 // ms
		inside, insideMost float64
		tenthLow, tenthTop float64
		steps              float64 // share of races in which exactly one is found; -1: not asked
	}{
		{"no step", same, 20, 80, 0, 350, 0, 0, .93, .97, .90, .999, 0}, // noise is believed to grow with slowness, and here it does not
		{"no step", same, 100, 60, 20, 60, 20, 0, .93, .975, .90, .99, 0},
		{"no step", same, 1000, 12, 20, 60, 20, 0, .93, .975, .90, .99, 0},
		{"no step", same, 3000, 6, 20, 60, 20, 0, .93, .975, .90, .99, 0},
		{"no step, none gross", clean, 100, 60, 20, 60, 20, 0, .93, .97, .90, .99, 0},
		{"no step, none gross", clean, 1000, 12, 20, 60, 20, 0, .93, .97, .90, .99, 0},
		{"noise grows with slowness", zonal, 100, 60, 20, 80, 20, 0, .93, .975, .90, .99, 0},
		{"noise grows with slowness", zonal, 1000, 12, 20, 60, 20, 0, .93, .975, .90, .99, 0},
		{"step 0.75 s", step, 100, 60, 25, 70, 0, 0, .93, .975, .90, .99, 1},
		{"step 0.75 s", step, 1000, 12, 25, 70, 20, 0, .93, .975, .90, .99, 1},
		{"step 0.75 s, noise grows", func(w world) world { return step(zonal(w)) }, 100, 60, 25, 80, 0, 0, .93, .975, .90, .99, 1},
		{"fast first, speeds told 10 % off", told, 100, 60, 0, 0, 0, 20, .93, .97, .88, 1, 0},
		{"fast first, speeds told 10 % off", told, 1000, 12, 0, 0, 0, 20, .93, .975, .88, 1, 0},
		{"20 % late by seconds", late, 100, 60, 25, 80, 20, 20, .93, 1, .90, 1, -1},
		{"20 % late by seconds", late, 1000, 12, 20, 60, 20, 20, .93, 1, .90, 1, 0},
	} {
		w := c.world(reference())
		w.pairs = c.pairs
		races := scaled(t, c.races)
		s := measure(w, races, 12000/min(races, c.races), 31*uint64(c.pairs))
		med, p95 := 1000*quantileOf(s.errors, .5), 1000*quantileOf(s.errors, .95)
		lo, hi, _ := s.bySpeed()
		one, some := stepsFound(s)
		t.Logf("| %s | %d | %d | %.1f | %.1f | %+.1f | %+.1f | %.3f | %.3f–%.3f | %.3f |", c.what, c.pairs, len(s.steps), med, p95, 1000*s.tilt(), 1000*mean(s.signed),
			share(s.inside), lo, hi, some)
		if testing.Short() {
			continue // too few races to hold anybody to
		}
		must := func(ok bool, format string, a ...any) {
			if !ok {
				t.Errorf("%s, %d pairs: %s", c.what, c.pairs, fmt.Sprintf(format, a...))
			}
		}
		must(c.median == 0 || med <= c.median, "median error %.1f ms, want at most %.0f", med, c.median)
		must(c.p95 == 0 || p95 <= c.p95, "95 %% of errors within %.1f ms, want %.0f", p95, c.p95)
		must(c.tilt == 0 || math.Abs(1000*s.tilt()) <= c.tilt, "slow less fast %.1f ms, want at most %.0f", 1000*s.tilt(), c.tilt)
		must(c.bias == 0 || math.Abs(1000*mean(s.signed)) <= c.bias, "bias %.1f ms, want at most %.0f", 1000*mean(s.signed), c.bias)
		must(share(s.inside) >= c.inside && share(s.inside) <= c.insideMost, "%.3f inside, want %.3f to %.3f", share(s.inside), c.inside, c.insideMost)
		must(lo >= c.tenthLow && hi <= c.tenthTop, "tenths of speed %.3f to %.3f inside, want %.3f to %.3f", lo, hi, c.tenthLow, c.tenthTop)
		must(c.steps < 1 || one == 1, "one step found in %.3f of races, want all", one)
		must(c.steps != 0 || some == 0, "steps invented in %.3f of races", some)
	}
}

type any = interface{}

// Ten minutes of pairs fit no free drift: four hours later a fill is still right.
func TestTenMinutesOfPairsDontFitAFreeDrift(t *testing.T) {
	for _, n := range []int{12, 20, 100} {
		worst := 0.0
		for seed := range uint64(40) {
			w := reference()
			w.hours, w.pairs, w.gross = 1./6, n, 0
			m := Fit(w.draw(seed), Config{})
			for _, s := range m.Stretches() {
				worst = math.Max(worst, math.Abs(s.DriftPPM))
			}
		}
		t.Logf("%d pairs in ten minutes: greatest drift %.1f ppm in 40 races", n, worst)
		if worst > 40 {
			t.Errorf("%d pairs in ten minutes fit a drift of %.1f ppm, want no more than a crystal's 40", n, worst)
		}
	}
}

// A step of 0.75 s is found with 15 pairs on its smaller side, of a hundred.
func TestAStepIsFoundNearTheEndToo(t *testing.T) {
	races, found := 0, 0
	for _, at := range []float64{.18, .5, .82} {
		for seed := range uint64(scaled(t, 100)) {
			w := reference()
			w.pairs, w.step, w.stepAt = 100, .75, at
			ps := w.draw(seed)
			m := Fit(ps, Config{})
			before, after := 0, 0
			for _, r := range m.Residuals() { // gross pairs are on no side
				if r.Weight == 0 {
					continue
				}
				if r.At < zero+race.Instant(at*w.hours*3600_000) {
					before++
				} else {
					after++
				}
			}
			if min(before, after) < 15 {
				continue
			}
			races++
			if len(m.Steps()) == 1 {
				found++
			} else {
				t.Logf("at %g, seed %d: %d and %d pairs, %d steps found", at, seed, before, after, len(m.Steps()))
			}
		}
	}
	t.Logf("found in %d of %d races", found, races)
	if found != races {
		t.Errorf("a step of 0.75 s was found in %d of %d races, want all", found, races)
	}
}
