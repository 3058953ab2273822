package result

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Ranks of a race that goes on, whoever comes in, is moved, leaves or is held, are those of the
// same race ranked by itself.
func TestRanksThatGoOnAreRanksAnew(t *testing.T) {
	const people = 40
	for seed := range uint64(200) {
		g := rand.New(rand.NewPCG(seed, 3))
		p := &race.Plan{Courses: []race.Course{{}, {Open: seed%2 == 0, Official: race.Official{Net: true}}}}
		st := &race.State{Plan: p, ByBib: map[string]int{}}
		for i := range people {
			x := &race.Result{Athlete: race.Athlete{Bib: fmt.Sprint(i), Sex: []string{"m", "F", "f", ""}[g.IntN(4)], Category: []string{"", "A", "B"}[g.IntN(3)]},
				Course: g.IntN(3) - 1, Finish: -1, State: race.Running, GunTime: race.NoMillis, NetTime: race.NoMillis, Official: race.NoMillis}
			st.Results = append(st.Results, x)
			st.ByBib[x.Bib] = i
		}
		var ranking Ranking
		var held Holds
		bare := st.Results
		for step := range 100 {
			bare = slices.Clone(bare)
			for range g.IntN(4) {
				i := g.IntN(people)
				x := *bare[i]
				switch g.IntN(4) {
				case 0:
					x.Finish, x.State, x.Official = -1, race.Running, race.NoMillis
				default:
					x.Finish, x.State, x.Laps = 0, []string{race.Clean, race.Clean, race.DSQ}[g.IntN(3)], g.IntN(3)
					x.GunTime = race.Millis(g.IntN(30))
					x.NetTime, x.Official = x.GunTime-1, x.GunTime
				}
				bare[i] = &x
			}
			next := race.State{Plan: p, ByBib: st.ByBib, Results: slices.Clone(bare)}
			for range g.IntN(5) {
				bib := fmt.Sprint(g.IntN(people))
				next.Suspects = append(next.Suspects, race.Suspect{Finding: &race.Finding{ID: fmt.Sprintf("clash:%s:%d", bib, g.IntN(3)), Weight: race.Hold, Holds: []string{bib}}})
			}
			anew := next
			anew.Results, anew.Suspects = slices.Clone(bare), slices.Clone(next.Suspects)
			none := func(string) (int, string, bool) { return 0, "", false }
			Settle(&next, &held, none)
			Settle(&anew, &Holds{}, none)
			was, stays := ranking.ranks, slices.Clone(ranking.ranks)
			Rank(&next, &ranking)
			if !slices.Equal(was, stays) {
				t.Fatalf("seed %d, step %d: the ranks of the state before are others", seed, step)
			}
			Rank(&anew, &Ranking{})
			if !slices.Equal(next.Ranks, anew.Ranks) {
				t.Fatalf("seed %d, step %d: ranks\n%v, anew\n%v", seed, step, next.Ranks, anew.Ranks)
			}
			for i, x := range next.Results {
				if y := anew.Results[i]; x.State != y.State || !slices.Equal(x.HeldFor, y.HeldFor) {
					t.Fatalf("seed %d, step %d: %s is %s for %v, anew %s for %v", seed, step, x.Bib, x.State, x.HeldFor, y.State, y.HeldFor)
				}
			}
		}
	}
}
