package reconcile_test

import (
	"fmt"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// crossedAt is when the i-th of those who stand by the finish afterwards crossed it.
func crossedAt(i int) race.Instant { return nineOClock.Add(race.Millis(1_200_000 + 10_000*i)) }

// standingBy is a race of so many of whom the last four stand by the finish: of three that crossed it before
// both systems, backup hears each again at once and main much later; the last one backup reads as they
// cross, and main reads at once and as much later again, as they stand there.
func standingBy(field int) reconcile.Input {
	const offset, heard, again = 17_000, 12_000, 80_000
	in := reconcile.Input{Plan: fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0, 1}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}})}
	log := func(source int, clock race.Millis, stands, last []race.Millis) *race.Reads {
		return logOf(source, field, func(i int) (string, []race.Instant) {
			after := []race.Millis{0}
			if i == field-1 {
				after = last
			} else if i >= field-4 {
				after = stands
			}
			var at []race.Instant
			for _, d := range after {
				for n := range race.Millis(6) { // a burst
					at = append(at, crossedAt(i).Add(clock+d+100*n+race.Millis(i*37%100)))
				}
			}
			return fmt.Sprintf("T%02d", i), at
		})
	}
	in.Reads = []*race.Reads{log(0, 0, []race.Millis{0, heard + again}, []race.Millis{heard, again}), log(1, offset, []race.Millis{0, heard}, []race.Millis{0})}
	for i := range field {
		in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%02d", i), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
	}
	return in
}

// As nobody comes any more, to the vote backup's clock was set when those stood by the finish. What crossings tell
// has it run on, so that whom backup alone read as they crossed isn't laid a minute later, on a read that
// main has of them as they stood there.
func TestATurnThatTheFitHasNotJoinsNobody(t *testing.T) {
	const field = 43
	in := standingBy(field)
	st := reconcile.Compute(in)
	for i := range st.Results {
		for k := range st.Results[i].Passings {
			q := &st.Results[i].Passings[k]
			if q.Bursts[race.Main] == nil || q.Bursts[race.Backup] == nil {
				continue
			}
			if d := q.Seen[race.Main].Sub(q.Seen[race.Backup]); max(d, -d) > in.Plan.Lines[0].Window {
				t.Errorf("%s: main and backup are %d ms apart in one passing", st.Results[i].Bib, d)
			}
		}
	}
	r := st.Results[st.ByBib[fmt.Sprint(field-1)]]
	if d := r.FinishAt.Sub(crossedAt(field - 1)); r.From != race.FromBackup || max(d, -d) > 500 {
		t.Errorf("the last one crossed %d ms off, from %v", d, r.From)
	}
}
