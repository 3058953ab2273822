package reconcile_test

import (
	"fmt"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Somebody who gave up after a lap and is read once by the line, just before the leader comes in, ends
// nobody's race: all others finish with their next lap after the leader.
func TestWhoWasHardlySeenFlagsNobodyOff(t *testing.T) {
	const laps, riders, gaveUp = 5, 12, 12
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{0}}}, []race.Log{{System: race.Main}})
	c := &p.Courses[0]
	c.Flagged, c.LapLength, c.Sport, c.Splits = true, 3000, "bike", nil
	for n := 1; n <= laps; n++ {
		c.Splits = append(c.Splits, race.Split{ID: fmt.Sprintf("lap-%d", n), At: 3000 * float64(n), Sport: "bike", Lap: n})
	}
	in := reconcile.Input{Plan: p}
	for i := 1; i <= riders+1; i++ {
		in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%02d", i-1), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
	}
	lap := func(i int) race.Millis { return race.Millis(420_000 + 20_000*i) }
	in.Reads = []*race.Reads{logOf(0, riders+1, func(i int) (string, []race.Instant) {
		var at []race.Instant
		for n := race.Millis(1); n <= laps; n++ {
			at = append(at, nineOClock.Add(n*lap(i)))
		}
		if i == gaveUp {
			at = []race.Instant{nineOClock.Add(lap(1)), nineOClock.Add(laps*lap(0) - 50_000)}
		}
		return fmt.Sprintf("T%02d", i), at
	})}
	st := reconcile.Compute(in)
	for i := range riders {
		r := st.Results[st.ByBib[fmt.Sprint(i+1)]]
		if got := r.FinishAt; got < nineOClock.Add(laps*lap(0)) {
			t.Errorf("rider %d finished at %v, before the leader did", i+1, got.Sub(nineOClock))
		}
	}
}
