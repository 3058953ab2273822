package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Who walks over a line with a drink in hand needs longer from antenna to antenna than their pace before
// it tells, and both bursts say so: that is no clash. Who is as much apart with bursts of a runner is one.
func TestWhoWalksOverALineIsNoClash(t *testing.T) {
	const behind, zone, field = 5.0, 4.4, 60
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0, 1}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}})
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 41))
		at, speed := make([]race.Instant, field), make([]float64, field)
		in := reconcile.Input{Plan: p}
		for i := range at {
			v := 2.4 + 1.6*rng.Float64()
			at[i] = nineOClock.Add(race.Millis(5_000_000 / v))
			if speed[i] = v * (0.95 + 0.1*rng.Float64()); i == 7 {
				speed[i] = 1.4
			}
			in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Start: race.NoInstant})
			in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%d", i), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
		}
		read := func(source int, past float64, clock race.Millis) *race.Reads {
			return logOf(source, field, func(i int) (string, []race.Instant) {
				long := zone / speed[i] * (0.8 + 0.4*rng.Float64())
				if i == 7 {
					long = zone / speed[i]
				}
				from := past/speed[i] - long/2
				if i == 9 && source == 1 {
					from += 2
				}
				var reads []race.Instant
				for k := range 12 {
					reads = append(reads, at[i].Add(clock+race.Millis(1000*(from+long*float64(k)/11))))
				}
				return fmt.Sprintf("T%d", i), reads
			})
		}
		in.Reads = []*race.Reads{read(0, 0, 0), read(1, behind, 3000)}
		told := map[string]bool{}
		for _, s := range reconcile.Compute(in).Suspects {
			told[s.ID] = told[s.ID] || s.Kind == race.Clash
		}
		if told["clash:7:finish"] {
			t.Errorf("seed %d: who walked is told as a clash", seed)
		}
		if !told["clash:9:finish"] {
			t.Errorf("seed %d: who is apart at a run is not told", seed)
		}
	}
}
