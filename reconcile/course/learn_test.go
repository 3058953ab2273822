package course

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"twinmat/reconcile/race"
)

// fieldOf makes a field whose stretches have these log paces, athletes' levels a spread of
// 0.2 and their stretches a scatter of 0.04; one in ten stops long in the last.
func fieldOf(seed uint64, athletes int, factors []float64) (*race.Course, []Run) {
	rng := rand.New(rand.NewPCG(seed, 14))
	c := &race.Course{}
	for s := range factors {
		c.Splits = append(c.Splits, race.Split{Line: s, At: 5000 * float64(s+1), Sport: "run"})
	}
	var runs []Run
	for range athletes {
		level, at := 0.2*rng.NormFloat64(), 0.0
		x := Run{Gun: 0}
		for _, f := range factors {
			at += 5000 * math.Exp(f+level+.04*rng.NormFloat64())
			x.Times = append(x.Times, race.Instant(at*1000))
			if rng.Float64() < .1 && len(x.Times) < len(factors) {
				x.Times[len(x.Times)-1] = race.NoInstant
			}
		}
		if rng.Float64() < .1 {
			x.Times[len(factors)-1] += 3_000_000
		}
		runs = append(runs, x)
	}
	return c, runs
}

// The median polish finds the factors that the field was made with, and how often it was
// missed.
func TestLearn(t *testing.T) {
	factors := []float64{-1.0, -0.9, -0.8, -0.7}
	c, runs := fieldOf(1, 300, factors)
	f := Learn(c, runs)
	for s := range factors {
		if d := f.Factor[s] + f.Pace - factors[s]; math.Abs(d) > .03 {
			t.Errorf("split %d: factor %.3f + pace %.3f, made with %.3f", s, f.Factor[s], f.Pace, factors[s])
		}
		if s < 3 && math.Abs(f.Miss[s]-.1) > .04 {
			t.Errorf("split %d: missed %.3f, made with 0.1", s, f.Miss[s])
		}
	}
	if math.Abs(f.Spread-.2) > .03 || f.Scatter[1] < .02 || f.Scatter[1] > .06 {
		t.Errorf("spread %.3f (0.2), scatter %.3f (0.04)", f.Spread, f.Scatter[1])
	}
	// The order of the athletes is no data.
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(runs), func(i, j int) { runs[i], runs[j] = runs[j], runs[i] })
	if again := Learn(c, runs); !reflect.DeepEqual(f, again) {
		t.Errorf("%+v in another order %+v", f, again)
	}
}

func TestTooFewTeachNothing(t *testing.T) {
	c, runs := fieldOf(1, 3, []float64{-1, -1})
	if f := Learn(c, runs); f.learnt() {
		t.Errorf("%+v", f)
	}
}

// Gaps on laps without end: where they end anywhere they are rests, and a lap that is missed
// after one that was is as good as never; where they end on whole laps only it is the chips,
// and rests as long are as good as never.
func TestRestsAndChipsThatStayMissed(t *testing.T) {
	c := &race.Course{Sport: "run", Open: true, LapLength: 1000, Splits: []race.Split{{ID: "lap-1", At: 1000, Sport: "run", Lap: 1}}}
	field := func(whole bool) Field {
		rng := rand.New(rand.NewPCG(7, 2026))
		var runs []Run
		for range 60 {
			r := Run{Gun: 0}
			at := 0.0
			for range 40 {
				at += 300 * math.Exp(0.03*rng.NormFloat64())
				if rng.Float64() < .02 {
					laps := 2 + 7*rng.Float64()
					if whole {
						laps = math.Round(laps)
					}
					at += 300 * laps
				}
				r.Times = append(r.Times, race.Instant(math.Round(at*1000)))
			}
			runs = append(runs, r)
		}
		return Learn(c, runs)
	}
	rests, chips := field(false), field(true)
	if rests.RestLong < 3*chips.RestLong {
		t.Errorf("rests %.4f where they are, %.4f where they aren't", rests.RestLong, chips.RestLong)
	}
	if rests.Again > .3 || chips.Again < .6 {
		t.Errorf("missed again: %.3f of rests, %.3f of chips", rests.Again, chips.Again)
	}
}

// A lap is a lap however many lines it has: who is read again at the line after less than
// one rides on no more, who comes after one and a half does.
func TestWhoRidesOn(t *testing.T) {
	c := lapsCourse(3, 2, 300, "run")
	n := len(c.Splits)
	runs := make([]Run, 20)
	for i := range runs {
		r := Run{Times: make([]race.Instant, n)}
		for s := range r.Times {
			r.Times[s] = race.Instant(300_000 * (s + 1) / n)
		}
		r.Laps = crossings([]race.Instant{100_000, 200_000, 300_000, 375_000})
		if i < 5 {
			r.Laps[3].At = 450_000
		}
		runs[i] = r
	}
	var f Field
	if f.after(c, runs); f.After < 4./20 || f.After > 6./20 {
		t.Errorf("%.2f of the field ride on, want 5 of 20", f.After)
	}
}
