package reconcile_test

import (
	"fmt"
	"strings"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Who rules that somebody was seen, and is shown otherwise by logs that come later, has slipped, or
// the athlete walked back over the line: nothing is clean until a person has looked.
func TestAWitnessThatLaterReadsContradictIsAdrift(t *testing.T) {
	adrift := func(late race.Millis, shown bool) (*race.State, *race.Suspect) {
		in := witnessed(late)
		x := race.Ruling{Seq: 1, Rule: race.Witness, Bib: "5", Line: "finish", Time: "2026-05-17T09:39:40Z", Why: "by eye"}
		if shown {
			x.Evidence = reconcile.Shown(reconcile.Compute(in), &x)
		}
		in.Rulings = append(in.Rulings, x)
		st := reconcile.Compute(in)
		for i := range st.Suspects {
			if s := &st.Suspects[i]; s.Kind == race.RulingAdrift {
				return st, s
			}
		}
		return st, nil
	}
	st, s := adrift(0, false)
	if s == nil || s.ID != "ruling-adrift:1" || s.Weight != race.Hold || s.Proposes != "undo --seq 1" || !strings.Contains(s.Says, "main says 2026-05-17T09:40:40.000Z, backup says ") {
		t.Fatalf("%+v", s)
	}
	if r := st.Results[st.ByBib["5"]]; r.State != race.Held {
		t.Errorf("%s is %s", r.Bib, r.State)
	}
	// An accept holds as long as the reads are these, wherever the others' put backup's clock.
	if _, moved := adrift(70, false); moved == nil || moved.Says == s.Says || moved.Evidence != s.Evidence {
		t.Errorf("%+v\nof the same reads: %+v", moved, s)
	}
	if _, s := adrift(0, true); s != nil {
		t.Errorf("whoever ruled knew of the reads, and is told: %+v", s)
	}
}

// witnessed is a race of twenty whose fifth comes in at 9:40:40, after a fifth of a minute each;
// backup reads all others so much later.
func witnessed(late race.Millis) reconcile.Input {
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0, 1}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}})
	p.Courses[0].Splits[0].At = 8000
	in := reconcile.Input{Plan: p}
	for i := range 20 {
		bib := fmt.Sprint(1 + i)
		in.Athletes = append(in.Athletes, race.Athlete{Bib: bib, Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: "T" + bib, Bib: bib, From: race.NoInstant, To: race.NoInstant})
	}
	for system := range 2 {
		in.Reads = append(in.Reads, logOf(system, 20, func(i int) (string, []race.Instant) {
			at := nineOClock.Add(2_392_000 + race.Millis(12_000*i) + 3_500*race.Millis(system))
			if i == 4 {
				at = nineOClock.Add(2_440_000 + 3_500*race.Millis(system))
			} else if system == 1 {
				at = at.Add(late)
			}
			return fmt.Sprintf("T%d", 1+i), []race.Instant{at}
		}))
	}
	return in
}
