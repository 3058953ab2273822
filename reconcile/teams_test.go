package reconcile_test

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Of a relay each runner wears a chip of the team's. Who waits by the line where they change, and is
// read there, ends nobody's leg: whose chip came from the line before does.
func TestWhoWaitsForTheirTeamEndsNoLeg(t *testing.T) {
	p := fiveOn([]race.Line{{ID: "wood", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0}}, {ID: "change", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{1}}},
		[]race.Log{{System: race.Main}, {System: race.Main, Line: 1}})
	c := &p.Courses[0]
	c.Splits = nil
	for n := range 3 {
		c.Splits = append(c.Splits, race.Split{ID: fmt.Sprintf("wood-%d", n+1), At: 5000*float64(n) + 2600, Sport: "run"}, race.Split{ID: fmt.Sprintf("leg-%d", n+1), Line: 1, At: 5000 * float64(n+1), Sport: "run"})
	}
	const teams = 12
	tag := func(team, leg int) string { return fmt.Sprintf("T%02d-%d", team, leg) }
	in := reconcile.Input{Plan: p}
	reads := [2]map[string][]race.Instant{{}, {}}
	add := func(line int, tag string, at race.Instant, many int) {
		for n := range many {
			reads[line][tag] = append(reads[line][tag], at.Add(race.Millis(n)*400))
		}
	}
	want := map[string]race.Instant{}
	for team := range teams {
		in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(team), Start: race.NoInstant})
		pace := race.Millis(300 + 4*team)
		for leg := range 3 {
			in.Chips = append(in.Chips, race.Chip{Tag: tag(team, leg), Bib: fmt.Sprint(team), From: race.NoInstant, To: race.NoInstant})
			began := nineOClock.Add(race.Millis(leg) * 5000 * pace)
			add(0, tag(team, leg), began.Add(2600*pace), 8)
			ends := began.Add(5000 * pace)
			if leg < 2 && team%4 == 1 {
				add(1, tag(team, leg+1), ends.Add(-60_000), 20) // waits
			}
			if add(1, tag(team, leg), ends, 8); leg < 2 {
				want[fmt.Sprintf("%d leg-%d", team, leg+1)] = ends
			}
		}
	}
	for line := range reads {
		var tags []string
		for team := range teams {
			for leg := range 3 {
				if x := tag(team, leg); len(reads[line][x]) > 0 {
					tags = append(tags, x)
				}
			}
		}
		in.Reads = append(in.Reads, logOf(line, len(tags), func(i int) (string, []race.Instant) { return tags[i], reads[line][tags[i]] }))
	}
	st := reconcile.Compute(in)
	for _, r := range st.Results {
		for s, k := range r.Filled {
			at, ok := want[r.Bib+" "+r.Splits[s].ID]
			if ok && (k < 0 || r.Passings[k].At != at) {
				t.Errorf("team %s, %s: passing %d fills it", r.Bib, r.Splits[s].ID, k)
			}
		}
		for k := range r.Passings {
			if r.Passings[k].Fate == race.Extra {
				t.Errorf("team %s: an extra passing", r.Bib)
			}
		}
	}
}

// Likewise where start and finish read but one of a team's chips each, and where they change right over
// the line, which reads both then.
func TestALineThatReadsOneOfATeamTellsWhose(t *testing.T) {
	for _, over := range []bool{false, true} {
		p := fiveOn([]race.Line{{ID: "start", Window: 5000, Keep: race.KeepLast, Tolerance: 1000, Logs: []int{0}}, {ID: "change", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{1}},
			{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{2}}}, []race.Log{{System: race.Main}, {System: race.Main, Line: 1}, {System: race.Main, Line: 2}})
		p.Courses[0].Splits = []race.Split{{ID: "start", Sport: "run"}, {ID: "leg-1", Line: 1, At: 5000, Sport: "run"}, {ID: "leg-2", Line: 1, At: 10_000, Sport: "run"}, {ID: "finish", Line: 2, At: 15_000, Sport: "run"}}
		in, reads, want := reconcile.Input{Plan: p}, [3]map[string][]race.Instant{{}, {}, {}}, map[string]race.Instant{}
		for team := range 12 {
			bib, pace := fmt.Sprint(team), race.Millis(300+4*team)
			in.Athletes = append(in.Athletes, race.Athlete{Bib: bib, Start: race.NoInstant})
			for leg := range 3 {
				tag := func(leg int) string { return fmt.Sprintf("T%02d-%d", team, leg) }
				in.Chips = append(in.Chips, race.Chip{Tag: tag(leg), Bib: bib, From: race.NoInstant, To: race.NoInstant})
				line, ends := min(2, 1+leg/2), nineOClock.Add(race.Millis(leg+1)*5000*pace)
				read := func(line int, tag string, at race.Instant) {
					reads[line][tag] = append(reads[line][tag], at, at.Add(400))
				}
				if leg == 0 {
					read(0, tag(0), nineOClock.Add(2000))
					want[bib] = ends
				}
				if leg == 0 && team%4 == 1 {
					read(1, tag(1), ends.Add(-60_000)) // waits
				}
				if read(line, tag(leg), ends); over && leg < 2 {
					read(1, tag(leg+1), ends.Add(3000))
				}
			}
		}
		for line := range reads {
			tags := slices.Sorted(maps.Keys(reads[line]))
			in.Reads = append(in.Reads, logOf(line, len(tags), func(i int) (string, []race.Instant) { return tags[i], reads[line][tags[i]] }))
		}
		for _, r := range reconcile.Compute(in).Results {
			if k := r.Filled[1]; k < 0 || r.Passings[k].At != want[r.Bib] {
				t.Errorf("over the line %t: team %s, leg-1: passing %d fills it", over, r.Bib, k)
			}
		}
	}
}
