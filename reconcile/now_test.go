package reconcile

import (
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// The latest minute in which two tags or two systems were read, found by when each was last
// read, is the one that going through all bursts finds.
func TestNowByTheLastReads(t *testing.T) {
	found := 0
	for seed := range uint64(20_000) {
		rng := rand.New(rand.NewPCG(seed, 5))
		r := &run{plan: &race.Plan{}, src: []source{{ref: true}, {ref: true, system: race.Backup}}}
		burst := func() *race.Burst {
			b := &race.Burst{Source: rng.Int32N(2), First: race.Instant(rng.IntN(7 * 60000))}
			b.SetSeveral([]string{"A"}, nil)
			if rng.IntN(3) == 0 {
				b.SetLast(b.First.Add(race.Millis(rng.IntN(100_000))))
			}
			if rng.IntN(9) == 0 {
				b.SetSeveral([]string{"A", "B"}, nil)
			}
			return b
		}
		passings := func() (ps []race.Passing) {
			for range rng.IntN(4) {
				b := burst()
				var p race.Passing
				p.Bursts[b.Source] = b
				ps = append(ps, p)
			}
			return ps
		}
		r.ents, r.strays = make([]entrant, rng.IntN(5)), make([]stray, rng.IntN(2))
		last := race.NoInstant
		for i := range r.ents {
			e := &r.ents[i]
			e.passings = passings()
			r.count(e)
			last = max(last, e.tally.last)
		}
		for i := range r.strays {
			r.strays[i].Passings = passings()
		}
		r.strayBursts(func(_ int, b *race.Burst) { last = max(last, b.Last()) })
		if !last.Known() {
			continue
		}
		r.countAll()
		want, _ := r.nowWithin(last, 30*60000)
		if got := r.nowByLast(minuteOf(last)); got.Known() {
			if found++; got != want {
				t.Fatalf("seed %d: now is %d by the last reads, %d by all", seed, got, want)
			}
		} else if want.Known() && minuteOf(want) > minuteOf(last)-3 {
			t.Fatalf("seed %d: by the last reads there is no such minute, by all %d is in one", seed, want)
		}
	}
	if found < 5000 {
		t.Errorf("only %d had such a minute", found)
	}
}
