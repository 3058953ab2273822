package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// A backup that is set back by ten minutes tells ten minutes twice. Whom main missed then is laid where
// the rest of their race has them, not at twice their pace.
func TestWhomMainMissedInATimeToldTwiceIsLaidByTheirRace(t *testing.T) {
	const field, back = 150, 600_000
	line := func(id string, logs ...int) race.Line {
		return race.Line{ID: id, Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: logs}
	}
	p := fiveOn([]race.Line{line("4k", 0), line("8k", 1, 2), line("12k", 3)},
		[]race.Log{{System: race.Main}, {Line: 1, System: race.Main}, {Line: 1, System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}, {Line: 2, System: race.Main}})
	p.Courses[0].Splits = []race.Split{{ID: "4k", At: 4000, Sport: "run"}, {ID: "8k", Line: 1, At: 8000, Sport: "run"}, {ID: "12k", Line: 2, At: 12000, Sport: "run"}}
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 47))
		at := make([][3]race.Instant, field)
		in := reconcile.Input{Plan: p}
		for i := range at {
			t, pace := nineOClock, 0.26+0.16*float64(i)/field
			for k := range at[i] {
				t = t.Add(race.Millis(4_000_000 * pace * (0.97 + 0.06*rng.Float64())))
				at[i][k] = t
			}
			in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Start: race.NoInstant})
			in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%d", i), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
		}
		set := at[field/2][1]
		missed := func(i int) bool { return i%12 == 5 }
		main := func(source, k int) *race.Reads {
			return logOf(source, field, func(i int) (string, []race.Instant) {
				if k == 1 && missed(i) {
					return fmt.Sprintf("T%d", i), nil
				}
				return fmt.Sprintf("T%d", i), []race.Instant{at[i][k], at[i][k].Add(700)}
			})
		}
		backup := logOf(2, field, func(i int) (string, []race.Instant) {
			t := at[i][1].Add(race.Millis(4000 + 200*rng.Float64()))
			if at[i][1] > set {
				t = t.Add(-back)
			}
			return fmt.Sprintf("T%d", i), []race.Instant{t, t.Add(700)}
		})
		in.Reads = []*race.Reads{main(0, 0), main(1, 1), backup, main(3, 2)}
		st := reconcile.Compute(in)
		for i := range at {
			r := st.Results[st.ByBib[fmt.Sprint(i)]]
			if k := r.Filled[1]; k < 0 {
				t.Errorf("seed %d: %d has no 8k", seed, i)
			} else if d := r.Passings[k].At.Sub(at[i][1]); d > 3000 || d < -3000 {
				t.Errorf("seed %d: %d is laid %v off at 8k", seed, i, d)
			}
		}
	}
}
