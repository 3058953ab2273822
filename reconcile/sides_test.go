package reconcile_test

import (
	"fmt"
	"math/rand/v2"
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

// Antennas ten metres apart at a turn are some five seconds apart on the way out and as much on the way
// back, the other way round: as one clock has it that is more than a window. Both crossings are
// seen by both systems all the same.
func TestAntennasFarApartAtATurn(t *testing.T) {
	const field, behind = 80, 10.0
	p := fiveOn([]race.Line{{ID: "turn", Window: 5000, Keep: race.KeepFirst, Tolerance: 2000, Logs: []int{0, 1}}, {ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{2}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}, {Line: 1, System: race.Main}})
	p.Courses[0].Splits = []race.Split{{ID: "out", At: 7000, Sport: "run"}, {ID: "in", At: 9000, Sport: "run"}, {ID: "finish", Line: 1, At: 16000, Sport: "run"}}
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 47))
		in, speed, began := reconcile.Input{Plan: p}, make([]float64, field), make([]race.Millis, field)
		for i := range speed {
			speed[i], began[i] = 1.8+0.6*rng.Float64(), race.Millis(rng.IntN(3600_000))
			in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Start: race.NoInstant})
			in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%d", i), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
		}
		read := func(source int, past float64, clock race.Millis, at ...float64) *race.Reads {
			return logOf(source, field, func(i int) (string, []race.Instant) {
				var reads []race.Instant
				for k, m := range at {
					if k == 1 {
						past = -past
					}
					for n := range 10 {
						metres := m + past + 4*(float64(n)+rng.Float64())/10 - 2
						reads = append(reads, nineOClock.Add(clock+began[i]+race.Millis(1000*metres/speed[i])))
					}
				}
				past = max(past, -past)
				return fmt.Sprintf("T%d", i), reads
			})
		}
		in.Reads = []*race.Reads{read(0, 0, 0, 7000, 9000), read(1, behind, 3000, 7000, 9000), read(2, 0, 0, 16000)}
		alone := 0
		for _, r := range reconcile.Compute(in).Results {
			for k := range 2 {
				if n := r.Filled[k]; n < 0 || r.Passings[n].Bursts[race.Main] == nil || r.Passings[n].Bursts[race.Backup] == nil {
					alone++
				}
			}
		}
		if alone > 0 {
			t.Errorf("seed %d: %d of %d crossings at the turn aren't of both systems", seed, alone, 2*field)
		}
	}
}
