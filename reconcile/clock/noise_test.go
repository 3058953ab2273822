package clock

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// readOnes is when somebody who crosses an antenna at a moment, so many seconds a metre, is first
// read: of n reads that are anywhere in its zone, two metres and a half each way.
func readOnes(g *rand.Rand, at race.Instant, u float64, n int) race.Instant {
	first := race.NoInstant
	for range n {
		if t := at.Add(race.Millis(1000 * u * (5*g.Float64() - 2.5))); !first.Known() || t < first {
			first = t
		}
	}
	return first
}

// What main misses is filled from crossings that backup read but a few times, too: their
// intervals are wider than those of usual ones, and hold nearly as often.
func TestFewReadsTellLess(t *testing.T) {
	const pairs, fills, usual = 400, 400, 14
	g := rand.New(rand.NewPCG(8, 1))
	cross := func(k int) (u float64, at race.Instant) {
		return 0.25 + 0.2*g.Float64(), zero + race.Instant(k)*4000
	}
	reads := func(k int) int {
		if k%8 == 0 {
			return 1 + g.IntN(4)
		}
		return usual - 2 + g.IntN(5)
	}
	const offset, behind = 3217, 2.0
	other := func(at race.Instant, u float64, n int) race.Instant {
		return readOnes(g, at.Add(offset+race.Millis(1000*behind*u)), u, n)
	}
	var ps []Pair
	for k := range pairs {
		u, at := cross(k)
		n := reads(k)
		ps = append(ps, Pair{Main: readOnes(g, at, u, usual), Other: other(at, u, n), U: u, Reads: n, Tag: k})
	}
	m := Fit(ps, Config{Resolution: 1})
	inside, wide := map[bool]int{}, map[bool][]race.Millis{}
	for k := range fills {
		u, at := cross(k)
		for _, few := range []bool{false, true} {
			n := usual
			if few {
				n = 1 + g.IntN(4)
			}
			kept := readOnes(g, at, u, usual)
			got, pm, _ := m.Race(other(at, u, n), Crossing{U: u, Reads: n})
			if d := got.Sub(kept); max(d, -d) <= pm {
				inside[few]++
			}
			wide[few] = append(wide[few], pm)
		}
	}
	for few, n := range inside {
		least := .92
		if few {
			least = .82 // they are late besides, and nothing tells by how much
		}
		if share := float64(n) / fills; share < least || share > .995 {
			t.Errorf("few reads %v: %.3f of the fills lie inside their interval", few, share)
		}
		slices.Sort(wide[few])
	}
	if a, b := wide[false][fills/2], wide[true][fills/2]; 2*b < 3*a {
		t.Errorf("the interval of a usual crossing is %d ms, that of one with few reads %d", a, b)
	}
}
