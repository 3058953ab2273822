package reconcile_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Which way a line was crossed is told by when a backup read it, as long as its clock wasn't set. When it was,
// and the reads of others alone show it, those who came before teach no order any more, though none of
// their times is another: who was read by the line's other backup is told by times alone.
func TestABackupThatWasSetTeachesNoWay(t *testing.T) {
	const many = 40
	p := fiveOn([]race.Line{{ID: "gate", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{0, 1, 2}}, {ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{3}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}}, {System: race.Backup, Offset: race.Offset{Auto: true}}, {System: race.Main, Line: 1}})
	p.Courses[0].Splits = []race.Split{{ID: "out", At: 2000, Sport: "run"}, {ID: "in", At: 8000, Sport: "run"}, {ID: "finish", Line: 1, At: 10000, Sport: "run"}}
	p.Courses = append(p.Courses, race.Course{ID: "late", Sport: "run", Splits: []race.Split{{ID: "gate", At: 2000, Sport: "run"}}})
	p.Waves = append(p.Waves, race.Wave{ID: "B", Course: 1, Gun: nineOClock.Add(7_200_000)})
	in := reconcile.Input{Plan: p}
	for i := range 2 * many {
		in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Wave: i / many, Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%02d", i), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
	}
	other := func(i int) bool { return i < many && i%4 == 3 } // too few to tell by themselves
	lone := func(i int) bool { return i < many && i%20 == 3 } // was read at one of the two crossings
	gate := func(i int, apart race.Millis) []race.Instant {
		pace := race.Millis(280 + 3*(i%many)) // a metre
		switch {
		case i >= many:
			return []race.Instant{nineOClock.Add(7_200_000 + 2000*pace + apart)}
		case lone(i): // between the two, where it says as little as it can which it was
			return []race.Instant{nineOClock.Add(race.Millis(4850-5*i)*pace - apart)}
		}
		return []race.Instant{nineOClock.Add(2000*pace + apart), nineOClock.Add(8000*pace - apart)}
	}
	log := func(source, of int) *race.Reads {
		return logOf(source, of, func(i int) (string, []race.Instant) {
			var at []race.Instant
			switch apart := 1000 + race.Millis(i%5)*100; {
			case source == 0:
				at = gate(i, 0)
			case source == 1 && i >= many:
				at = gate(i, apart+3_600_000)
			case source == 1 && !other(i), source == 2 && other(i):
				at = gate(i, apart)
			case source == 3 && i < many:
				at = []race.Instant{nineOClock.Add(10_000 * race.Millis(280+3*(i%many)))}
			}
			return fmt.Sprintf("T%02d", i), at
		})
	}
	var g reconcile.Engine
	for k, of := range []int{many, 2 * many} {
		in.Reads = nil
		for source := range p.Logs {
			in.Reads = append(in.Reads, log(source, of))
		}
		st, want := g.Compute(in), reconcile.Compute(in)
		if told(t, want) != told(t, st) || !reflect.DeepEqual(want.Results, st.Results) {
			t.Errorf("of %d: another race than computed whole: %s", of, parting(told(t, want), told(t, st)))
		}
		fills := [][]int{{-1, 0, 1}, {0, -1, 1}}[k]
		for i := range many {
			if r := want.Results[want.ByBib[fmt.Sprint(i)]]; lone(i) && !slices.Equal(r.Filled, fills) {
				t.Errorf("of %d, %d: %v, want %v", of, i, r.Filled, fills)
			}
		}
	}
	if !g.DealtAgain() {
		t.Error("all were dealt anew")
	}
}
