package course

import (
	"math"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// teams: four legs over one line, each run by somebody else; some wave the baton about after
// the finish.
func teams(seed uint64) *maker {
	m := newMaker(seed, splits("run", [2]float64{0, 4200}, [2]float64{0, 8400}, [2]float64{0, 12600}, [2]float64{0, 16800}), 0, 0)
	for range 48 {
		a, t := made{a: gunAt0()}, 0.0
		for k := range m.c.Splits {
			t += 4200 / 3.4 * math.Exp(m.normal(0, .17))
			a.cross(m, k, t)
		}
		if m.chance(.2) {
			a.linger(m, 0, 3, t+m.between(25, 180))
		}
		m.add(a)
	}
	return m
}

// All legs were read: they fill all splits, however slow one was. Of a thousand passings one
// may be wrong.
func TestLegsOfARelay(t *testing.T) {
	if s := seeds(0, 40, teams); float64(s.wrong) > .001*float64(s.passings) || s.laps > 0 {
		t.Errorf("%s; for one:%s", s, s.failed)
	}
	m := teams(1)
	for _, times := range [][]float64{{2101.9, 3045.1, 4115.2, 5462.4}, {1055.5, 2200.1, 4541.8, 5870.3}} {
		one := made{a: gunAt0()}
		for k, at := range times {
			one.seen = append(one.seen, crossing{Passing: seen(0, at), split: k})
		}
		m.add(one)
	}
	got, _ := m.twice()
	for _, g := range got[len(got)-2:] {
		if !slices.Equal(g.Split, []int{0, 1, 2, 3}) {
			t.Errorf("four legs read, %v", g.Split)
		}
	}
}

// Who comes again as late as a leg takes is told by how many of the field do.
func TestWhoComesAgainAfterTheLastLeg(t *testing.T) {
	c := splits("run", [2]float64{0, 4000}, [2]float64{0, 8000})
	learnt := func(again int) float64 {
		var runs []Run
		for i := range 40 {
			at := []race.Instant{1200_000 + race.Instant(i)*1000, 2400_000 + race.Instant(i)*3000}
			x := Run{Gun: 0, Start: race.NoInstant, Times: at, Laps: crossings(at)}
			if x.Laps = append(x.Laps, Crossing{At: at[1] + 100_000}); i < again {
				x.Laps = append(x.Laps, Crossing{At: at[1] + 1500_000})
			}
			runs = append(runs, x)
		}
		f := Learn(c, runs)
		return f.After
	}
	if none, some := learnt(0), learnt(20); none > .01 || some < .4 {
		t.Errorf("%.3f where none comes again, %.3f where half do", none, some)
	}
}
