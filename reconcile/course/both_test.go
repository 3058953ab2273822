package course

import (
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// resting is a field on laps of ten minutes: before one lap in twelve they rest, for three to
// fifteen minutes.
func resting(seed uint64) (c *race.Course, fields [][]Passing) {
	d := rand.New(rand.NewPCG(seed, 51))
	c = &race.Course{Sport: "run", Open: true, LapLength: 2000, Splits: []race.Split{{ID: "lap-1", At: 2000, Sport: "run", Lap: 1}}}
	for range 60 {
		own := 600 * (1 + .08*d.NormFloat64())
		at := 0.0
		var ps []Passing
		for range 30 {
			if at += own * (1 + .03*d.NormFloat64()); d.IntN(12) == 0 {
				at += 180 + 720*d.Float64()
			}
			ps = append(ps, seen(0, at))
		}
		fields = append(fields, ps)
	}
	return c, fields
}

// Where both systems read nearly every lap, a lap that none of them read is rarer than a rest:
// what each saw of the other's says so, which gaps alone can't.
func TestRestsAreNoMissedLapsWhereBothReadWell(t *testing.T) {
	tooMany := func(saw [3]int) int {
		n := 0
		for seed := range uint64(4) {
			c, fields := resting(seed)
			var runs []Run
			for _, ps := range fields {
				x := Run{Gun: gunAt0().Gun, Start: race.NoInstant, Saw: saw}
				a := Assign(c, ps, gunAt0(), nil)
				x.Times = make([]race.Instant, len(a.Splits))
				for s := range x.Times {
					x.Times[s] = race.NoInstant
				}
				for k, s := range a.Split {
					if s >= 0 {
						x.Times[s] = ps[k].At
					}
				}
				runs = append(runs, x)
			}
			f := Learn(c, runs)
			for _, ps := range fields {
				last := 0
				for _, s := range Assign(c, ps, gunAt0(), &f).Split {
					last = max(last, s+1)
				}
				n += max(0, last-len(ps))
			}
		}
		return n
	}
	with, without := tooMany([3]int{1, 1, 28}), tooMany([3]int{})
	t.Logf("laps too many in 7,200: %d where both read well, %d where nothing tells", with, without)
	if 4*with > 3*without || without < 40 {
		t.Errorf("%d laps too many where both read well, %d where nothing tells", with, without)
	}
}
