package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Who stands in the start's zone until the gun and dashes off is read for as long as they stood: what
// the gun leaves of that burst tells nothing of how fast they went from antenna to antenna.
func TestWhoStoodInTheStartIsNoClash(t *testing.T) {
	const behind, zone, field = 3.0, 4.4, 60
	p := fiveOn([]race.Line{{ID: "start", Window: 5000, Keep: race.KeepLast, Tolerance: 1000, Logs: []int{0, 1}}, {ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{2}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}, {Line: 1, System: race.Main}})
	p.Courses[0].Splits = []race.Split{{ID: "start", Sport: "run", Keep: race.KeepLast}, {ID: "finish", Line: 1, At: 5000, Sport: "run"}}
	p.Waves[0].Early = 2000
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 43))
		at, speed := make([]race.Instant, field), make([]float64, field)
		in := reconcile.Input{Plan: p}
		for i := range at {
			at[i], speed[i] = nineOClock.Add(race.Millis(3000+1000*i)), 1+2.5*rng.Float64()
			if i == 7 {
				at[i], speed[i] = nineOClock.Add(2500), 3.7
			}
			in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Start: race.NoInstant})
			in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%d", i), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
		}
		read := func(source int, past float64, clock race.Millis) *race.Reads {
			return logOf(source, field, func(i int) (string, []race.Instant) {
				long := zone / speed[i] * (0.9 + 0.2*rng.Float64())
				from := at[i].Add(clock + race.Millis(1000*(past/speed[i]-long/2)))
				var reads []race.Instant
				for k := 80; i == 7 && k > 0; k-- {
					reads = append(reads, from.Add(race.Millis(-700*k)))
				}
				for k := range 12 {
					reads = append(reads, from.Add(race.Millis(1000*long*float64(k)/11)))
				}
				return fmt.Sprintf("T%d", i), reads
			})
		}
		finish := logOf(2, field, func(i int) (string, []race.Instant) {
			return fmt.Sprintf("T%d", i), []race.Instant{at[i].Add(race.Millis(1500_000 + 20_000*i))}
		})
		in.Reads = []*race.Reads{read(0, 0, 0), read(1, behind, 3000), finish}
		for _, s := range reconcile.Compute(in).Suspects {
			if s.Kind == race.Clash {
				t.Errorf("seed %d: %s: %s", seed, s.ID, s.Says)
			}
		}
	}
}
