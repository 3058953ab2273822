package suspect

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// Whose chip is carried by somebody of an earlier wave crosses the start with them, before the own
// gun: that is a line which both passed together.
func TestAChipCarriedInAnEarlierWaveIsToldByTheStart(t *testing.T) {
	m := makeRace(t, 40)
	own, carried := m.result("10"), m.result("35")
	for k := 1; k <= 3; k++ {
		carried.Passings[k] = passingAt(k, own.Passings[k].At.Add(60), k)
	}
	carried.Passings = carried.Passings[1:4]
	carried.Filled = []int{-1, 0, 1, 2, -1}
	m.none(race.CarriedTogether)
	m.add("35", 0, own.Passings[0].At.Add(-90), race.BeforeGun)
	m.one("carried-together:10+35")
}

// rideAs lets both systems read a rider, who is over the antennas in less than half a second.
func rideAs(g *rand.Rand, p *race.Passing, at race.Instant) {
	by := func(sd float64) race.Millis { return race.Millis(1000 * sd * g.NormFloat64()) }
	for s := race.Main; s <= race.Backup; s++ {
		b := *p.Bursts[s]
		b.First = at.Add(-180 + by(.04))
		b.SetLast(at.Add(180 + by(.04)))
		b.SetStrongest(at.Add(by(.03)))
		p.Bursts[s], p.Seen[s] = &b, b.First
	}
	p.At = p.Seen[race.Main]
}

// In bunches many come over each line within a second of one another: who agree best of so many
// pairs do by chance, and metres apart. A rider who carries another's chip is told.
func TestABunchCarriesNoChips(t *testing.T) {
	accused, told, races := 0, 0, 40
	for seed := range uint64(races) {
		g := rand.New(rand.NewPCG(seed, 77))
		m := makeRace(t, 280)
		m.plan.Courses[0].Sport, m.plan.MaxSpeed = "bike", 25
		lay := func(i int, when func(k int) race.Instant) {
			r := m.st.Results[i]
			r.Wave, r.Gun = 0, gunTime
			for k := range r.Passings {
				rideAs(g, &r.Passings[k], when(k))
			}
			m.settle(i)
		}
		at := func(bunch, k int) race.Instant {
			return gunTime.Add(race.Millis(5_000*bunch + k*(480_000+12_000*bunch)))
		}
		for i := range m.st.Results {
			lay(i, func(k int) race.Instant { return at(i/14, k).Add(race.Millis(2_500 * g.Float64())) })
		}
		with := m.st.Results[20].Passings
		lay(21, func(k int) race.Instant { return with[k].At.Add(180) })
		for _, s := range m.find() {
			switch {
			case s.ID == "carried-together:21+22":
				told++
			case s.Kind == race.CarriedTogether:
				accused++
			}
		}
	}
	if told < races*9/10 || accused > races/20 {
		t.Errorf("of %d bodies with two chips %d are told, and %d pairs of a bunch accused", races, told, accused)
	}
	t.Logf("of %d bodies with two chips %d are told, and %d pairs of a bunch accused", races, told, accused)
}

// So many pairs together as in a bunch need more, in steps; a few in a hundred of a field need what
// friends do.
func TestTheBarRisesWithThePairs(t *testing.T) {
	x := company{lists: [][]arrival{make([]arrival, 200)}, near: map[[2]int]bool{}}
	for n, want := range map[int]float64{0: 0, 10: 0, 19: 0, 20: 1, 39: 1, 640: 6} {
		clear(x.near)
		for k := range n {
			x.near[[2]int{k, 1000}] = true
		}
		if got := x.barOf(); math.Abs(got-carriedNats-want*math.Ln2) > 1e-9 {
			t.Errorf("%d pairs of 200: %.2f nats", n, got)
		}
	}
}
