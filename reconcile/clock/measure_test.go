package clock

import (
	"os"
	"strconv"
	"testing"
)

// scale multiplies the number of races: CLOCK_MEASURE=10 go test -run Measure -v.
func scaled(t *testing.T, n int) int {
	if s := os.Getenv("CLOCK_MEASURE"); s != "" {
		f, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return n * f
	}
	if testing.Short() {
		return max(20, n/10)
	}
	return n
}

var worlds = []struct {
	name string
	make func() world
}{
	{"reference", reference},
	{"step 0.75 s", func() world { w := reference(); w.step = .75; return w }},
	{"20 % late", func() world { w := reference(); w.late, w.gross = .2, 0; return w }},
	{"noise of zones", func() world { w := reference(); w.noise, w.gross = zones(.5), .01; return w }},
	{"first reads, runners", func() world { w := reference(); w.noise, w.speed, w.gross = firstReads, runners, .01; return w }},
	{"fast first, first reads", func() world {
		w := reference()
		w.noise, w.speed, w.gross, w.guess = firstReads, fastFirst, .01, .1
		return w
	}},
	{"fast first, step", func() world {
		w := reference()
		w.noise, w.speed, w.gross, w.guess, w.step = firstReads, fastFirst, .01, .1, .75
		return w
	}},
}

func TestMeasure(t *testing.T) {
	for _, w := range worlds {
		for _, n := range []int{20, 100, 1000, 3000} {
			x := w.make()
			x.pairs = n
			races := scaled(t, 40)
			if n > 500 {
				races = max(10, races/4)
			}
			s := measure(x, races, 100, uint64(n))
			lo, hi, _ := s.bySpeed()
			one, any := stepsFound(s)
			t.Logf("%-24s n=%4d races=%4d error med %5.1f p95 %6.1f ms  tilt %6.1f  bias %6.1f  inside %.3f (tenths %.3f–%.3f) width %.3f held %.3f  steps: one %.2f any %.2f size off %.0f ms",
				w.name, n, races, 1000*quantileOf(s.errors, .5), 1000*quantileOf(s.errors, .95), 1000*s.tilt(), 1000*mean(s.signed), share(s.inside), lo, hi,
				mean(s.widths), float64(s.held)/float64(races*100), one, any, 1000*quantileOf(s.stepErr, .95))
		}
	}
}

// invented counts steps found in races that have none, of all kinds.
func TestNoStepsAreInvented(t *testing.T) {
	kinds := worlds
	for _, k := range kinds {
		for _, n := range []int{20, 40, 100, 300, 1000} {
			w := k.make()
			w.step, w.pairs = 0, n
			races := scaled(t, 200)
			if n > 500 {
				races /= 4
			}
			bad := 0
			for i := range races {
				if st := Fit(w.draw(uint64(1e6+i)), Config{}).Steps(); len(st) > 0 {
					bad++
					if bad < 3 {
						t.Logf("%s n=%d seed %d: %+v", k.name, n, int(1e6)+i, st)
					}
				}
			}
			t.Logf("%-24s n=%4d: invented in %d of %d", k.name, n, bad, races)
		}
	}
}
