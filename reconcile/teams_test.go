package reconcile_test

import (
	"fmt"
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
