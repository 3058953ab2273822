package course

import (
	"math"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// huts: a hundred kilometres with two places where people eat and sleep, each with a line that
// is passed coming in and going out. Some go right through, some stay for two hours.
func huts(seed uint64, sport string) *maker {
	c := splits("run", [2]float64{0, 0}, [2]float64{1, 18e3}, [2]float64{2, 37e3}, [2]float64{2, 37.1e3}, [2]float64{3, 58e3}, [2]float64{4, 77e3}, [2]float64{4, 77.1e3}, [2]float64{5, 100e3})
	c.Splits[3].Sport, c.Splits[6].Sport = sport, sport
	m := newMaker(seed, c, .01, 0)
	for range 90 {
		a := made{a: gunAt0()}
		pace, t, at := .58*math.Exp(m.normal(0, .2)), m.between(1, 25), 0.0
		out := len(c.Splits)
		if m.chance(.3) {
			out = []int{2, 4, 5}[m.rng.IntN(3)]
		}
		for k, s := range c.Splits[:out] {
			switch k {
			case 3, 6:
				t += m.between(20, 600) + 900*m.rng.ExpFloat64()
			default:
				t += (s.At - at) * pace * math.Exp(m.normal(.15*s.At/100e3, .07))
			}
			at = s.At
			a.cross(m, k, t)
		}
		m.add(a)
	}
	return m
}

// How long people stay is as they like: who came in and went out was read at both. What one of the
// two missed can be taken for the other; of a thousand passings two may be wrong.
func TestStaysAreAsLongAsTheyLike(t *testing.T) {
	for _, sport := range []string{"change", "run"} {
		make := func(seed uint64) *maker { return huts(seed, sport) }
		if s := seeds(0, 40, make); float64(s.wrong) > .002*float64(s.passings) || float64(s.laps) > .01*float64(s.athletes) {
			t.Errorf("%s: %s; for one:%s", sport, s, s.failed)
		}
	}
}

// After a night all leave together: who walks over the line in the evening hasn't left yet, nor
// has who gives up on the way after it.
func TestANightIsNoStayAtWill(t *testing.T) {
	c := splits("run", [2]float64{0, 0}, [2]float64{1, 21000}, [2]float64{1, 21001}, [2]float64{2, 42000})
	c.Splits[2].Sport = "change"
	m := newMaker(5, c, 0, 0)
	for i := range 60 {
		a := made{a: gunAt0()}
		pace := .35 * math.Exp(m.normal(0, .15))
		in, off := 21000*pace, 23*3600+m.between(0, 15)
		a.cross(m, 0, 3)
		a.cross(m, 1, in)
		if i%6 == 0 {
			a.linger(m, 1, 1, m.between(7*3600, 10*3600))
		}
		a.cross(m, 2, off)
		a.cross(m, 3, off+21000*pace*math.Exp(m.normal(0, .05)))
		m.add(a)
	}
	if s := m.score(); s.wrong > 0 || s.laps > 0 {
		t.Errorf("%s; for one:%s", s, s.failed)
	}
	quit := made{a: gunAt0()}
	quit.cross(m, 0, 3)
	quit.cross(m, 1, 7200)
	quit.linger(m, 1, 1, 10*3600)
	quit.cross(m, 2, 23*3600+5)
	m.add(quit)
	got, _ := m.twice()
	if g := got[len(got)-1]; !slices.Equal(g.Split, []int{0, 1, -1, 2}) || g.Fate[2] != race.StayedNear {
		t.Errorf("left in the morning, %v, %v", g.Split, g.Fate)
	}
}
