package suspect

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// One line of many where a chip was read late hides no body: eight lines within a sixth of a
// second but for the start, and a walker's through a night and a day.
func TestALooseLineHidesNoBody(t *testing.T) {
	usual := []float64{0.31, 0.15, 0.15, 0.15, 0.15, 0.15, 0.15, 0.15}
	for _, x := range []struct {
		ds, sds []float64
		apart   float64
	}{
		{[]float64{-1.9, -0.02, -0.05, -0.10, 0.02, 0.11, -0.11, -0.16}, usual, 1},
		{[]float64{1.04, 0.06, -0.23, -0.17, 0.34, -0.71, 0.54}, []float64{0.34, 0.20, 0.23, 0.17, 0.27, 0.27, 0.22}, 2},
	} {
		if got := oneNotTwo(x.ds, x.sds, x.apart); got < carriedNats {
			t.Errorf("%v: %.1f nats", x.ds, got)
		}
	}
}

// Friends who run together are hardly ever one body: of whom all lines agree as well as one
// body's, there are fewer than the likelihoods' ratio has it.
func TestFriendsAreNotAccused(t *testing.T) {
	g := rand.New(rand.NewPCG(5, 8))
	for _, apart := range []float64{1, 2} {
		for _, n := range []int{4, 5, 8} {
			accused, pairs := 0, 20000
			sds, ds := slices.Repeat([]float64{0.15}, n), make([]float64, n)
			for range pairs {
				side := apart * g.NormFloat64()
				for k := range ds {
					ds[k] = side + apart*g.NormFloat64()
				}
				if oneNotTwo(ds, sds, apart) >= carriedNats {
					accused++
				}
			}
			if accused > pairs*2/1000 {
				t.Errorf("%d of %d pairs of friends over %d lines, %.0f s apart", accused, pairs, n, apart)
			}
			t.Logf("%d lines, %.0f s apart: %d of %d", n, apart, accused, pairs)
		}
	}
}

// readAs lets both systems read a crossing as antennas do (common practice): the first and the last
// read fall as chance will, the strongest is near the crossing.
func readAs(g *rand.Rand, p *race.Passing, at race.Instant) {
	by := func(sd float64) race.Millis { return race.Millis(sd * g.NormFloat64()) }
	for s := race.Main; s <= race.Backup; s++ {
		b := *p.Bursts[s]
		b.First = at.Add(-1100 + by(350))
		b.SetLast(at.Add(1100 + by(350)))
		b.SetStrongest(at.Add(by(150)))
		p.Bursts[s], p.Seen[s] = &b, b.First
	}
	p.At = p.Seen[race.Main]
}

// Two chips on one body are read at the same moment by their centres, however their first reads
// fall; of friends who run side by side neither are.
func TestTwoChipsOnABodyAreToldByTheirCentres(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 14))
	told, accused, pairs := 0, 0, 60
	for range pairs {
		m := makeRace(t, 40)
		for i := range m.st.Results {
			for k := range m.st.Results[i].Passings {
				p := &m.st.Results[i].Passings[k]
				readAs(g, p, p.At)
			}
		}
		own, side := m.result("10"), 1000*g.NormFloat64()
		for k := range own.Passings {
			at := gunTime.Add(race.Millis(100_000 + 1_500_000*k))
			readAs(g, &own.Passings[k], at)
			readAs(g, &m.result("11").Passings[k], at)
			readAs(g, &m.result("12").Passings[k], at.Add(race.Millis(side+1000*g.NormFloat64())))
		}
		for _, s := range m.find() {
			if s.ID == "carried-together:10+11" {
				told++
			}
			if s.Kind == race.CarriedTogether && s.ID != "carried-together:10+11" {
				accused++
			}
		}
	}
	if 10*told < 9*pairs || accused > 0 {
		t.Errorf("of %d bodies with two chips %d are told, %d friends accused", pairs, told, accused)
	}
	t.Logf("of %d bodies with two chips %d are told, %d friends accused", pairs, told, accused)
}
