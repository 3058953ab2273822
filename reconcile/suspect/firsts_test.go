package suspect

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Who came first is kept as it is found anew, overall and by sex, while finishes come, move and go,
// and while the start passings of some, whose net time ranks, turn out to be none.
func TestWhoCameFirstIsKept(t *testing.T) {
	close, told, moved := 0, 0, 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 61))
		m := makeRace(t, 40)
		m.in.Memory, m.in.Grown = &Memory{}, true
		m.plan.Courses[0].Prizes, m.plan.Courses[0].Official.Net = int(seed%4), seed%2 == 1
		for i := range m.st.Results {
			if rng.IntN(3) > 0 {
				m.miss(m.st.Results[i].Bib, 4)
			}
		}
		whole := makeRace(t, 40)
		for step := range 150 {
			m.in.Changed = nil
			for range 1 + rng.IntN(2) {
				m.in.Changed = append(m.in.Changed, m.finish(rng, whole, rng.IntN(40)))
			}
			slices.Sort(m.in.Changed)
			m.in.Changed = slices.Compact(m.in.Changed)
			f := fieldOf(m.in)
			m.in.Same = true
			anew := newField(m.in)
			got, want := tooClose(f), tooClose(anew)
			f.searched = true // by the only kind that looks here
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d, step %d: too close %q, anew %q", seed, step, ids(got), ids(want))
			}
			close += len(got)
			a, b := &f.first.courses[0], &anew.first.courses[0]
			for sex, of := range b.bySex {
				if !reflect.DeepEqual(a.bySex[sex], of) || !reflect.DeepEqual(a.overall, b.overall) {
					t.Fatalf("seed %d, step %d: first %v, %s %v; anew %v, %v", seed, step, a.overall, sex, a.bySex[sex], b.overall, of)
				}
			}
			raw, found := slices.Clone(m.st.Results), []race.Suspect{}
			for range rng.IntN(3) * rng.IntN(20) {
				x := *m.st.Results[rng.IntN(40)]
				if x.NetTime = race.NoMillis; x.Finish >= 0 {
					x.GunTime += race.Millis(rng.IntN(2) * 3_600_000)
				}
				m.st.Results[m.st.ByBib[x.Bib]] = &x
				found = append(found, suspect(race.MissingStart, race.Hold, x.Bib))
			}
			f.unstarted = found
			best, ok := f.first.since(m.st, found)
			all := finishers(m.st, 0, f.courses[0].results)
			if told += tally(ok); ok && !slices.Equal(first(best[0], m.plan.Courses[0].Prizes), first(all, m.plan.Courses[0].Prizes)) {
				t.Fatalf("seed %d, step %d: first %v, anew %v", seed, step, best[0], first(all, m.plan.Courses[0].Prizes))
			}
			if a, b := places10(m.in), places10(&Input{State: m.st}); !reflect.DeepEqual(a, b) {
				t.Fatalf("seed %d, step %d: places %v, anew %v", seed, step, a, b)
			}
			moved += tally(len(found) > 0 && !slices.Equal(first(all, 3), first(f.first.courses[0].overall.best, 3)))
			m.st.Results = raw
		}
	}
	if close < 20 || told < 2000 || told == 3000 || moved < 100 {
		t.Errorf("%d too close; the first were told %d times, and were others without a start %d times", close, told, moved)
	}
}

// finish changes somebody's finish.
func (m *made) finish(rng *rand.Rand, whole *made, i int) int {
	r := m.st.Results[i]
	switch rng.IntN(7) {
	case 0:
		m.miss(r.Bib, 4)
	case 1:
		m.shift(r.Bib, 4, race.Millis(rng.IntN(600_000)-300_000))
	case 2, 6: // just before somebody
		x := m.st.Results[rng.IntN(40)]
		if r.Finish >= 0 && x.Finish >= 0 {
			m.shift(r.Bib, 4, x.FinishAt.Sub(r.FinishAt)-race.Millis(rng.IntN(100)))
		}
	case 3:
		r.Status = []string{"", "dnf", "dsq"}[rng.IntN(3)]
		m.settle(i)
	case 4:
		r.Adjust = race.Millis(rng.IntN(3) * 60_000)
	default:
		m.restore(whole, i)
	}
	return i
}
