package suspect

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// What a search remembers is worth what one finds that remembers nothing: of two courses, while
// splits come and go, some turn out to have run the other course or started with another wave,
// statuses are given and time passes.
func TestASearchThatRemembersFindsWhatOneAnewFinds(t *testing.T) {
	kinds := map[string]int{}
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 21))
		m := makeRace(t, 60)
		m.addTen()
		m.in.Asked, m.in.Many = make([]bool, len(m.st.Results)), int(seed%3)*20
		for i := range m.in.Asked {
			m.in.Asked[i] = i%(1+int(seed%4)) == 0
		}
		for i := range 60 { // they are under way
			if n := rng.IntN(4); n > 0 {
				m.miss(m.st.Results[i].Bib, []int{4, 3, 2}[:n]...)
			}
		}
		if seed%3 == 2 {
			m.cutShort(rng)
		}
		m.in.Memory, m.in.Grown = &Memory{}, true
		m.find()
		var given, were [][]race.Instant // what each state says of who is expected when
		for step := range 80 {
			m.in.Same, m.in.Changed = true, nil
			for range rng.IntN(3) {
				i := rng.IntN(len(m.st.Results))
				m.happen(rng, i)
			}
			slices.Sort(m.in.Changed)
			m.in.Changed = slices.Compact(m.in.Changed)
			m.timePasses(rng)
			got := m.find()
			expected := slices.Clone(m.st.Expected)
			given = append(given, m.st.Expected)
			were = append(were, expected)
			anew := *m.in
			anew.Memory = nil
			want := Begin(&anew).Find()
			Order(&anew, want)
			if a, b := ids(got), ids(want); !slices.Equal(a, b) {
				t.Fatalf("seed %d, step %d: remembered %q\nanew %q", seed, step, a, b)
			}
			if !slices.Equal(expected, m.st.Expected) {
				t.Fatalf("seed %d, step %d: remembered, who is out is expected %v\nanew %v", seed, step, expected, m.st.Expected)
			}
			for k := range got {
				kinds[got[k].Kind]++
				if got[k].Says != want[k].Says || got[k].Evidence != want[k].Evidence || got[k].Proposes != want[k].Proposes {
					t.Fatalf("seed %d, step %d: remembered %+v\nanew %+v", seed, step, got[k], want[k])
				}
			}
		}
		for step := range given {
			if !slices.Equal(given[step], were[step]) {
				t.Fatalf("seed %d: what the state of step %d says was changed after", seed, step)
			}
		}
	}
	for _, kind := range []string{race.OtherCourse, race.MissingSplit, race.Overdue, race.UnlikelyPace} {
		if kinds[kind] == 0 {
			t.Errorf("no %s among what was found", kind)
		}
	}
}

// cutShort writes out the course of some only as far as they came, as open laps are.
func (m *made) cutShort(rng *rand.Rand) {
	for i := range 60 {
		r := m.st.Results[i]
		n, _ := r.Reached()
		if n++; n > 2 && n < len(r.Filled) && rng.IntN(2) == 0 {
			r.Splits, r.Filled = r.Splits[:n], r.Filled[:n]
			m.settle(i)
		}
	}
}

// timePasses moves now: mostly on, by about a read, a lap or a stretch, and back where a log's clock
// is another; a course is closed and opened again.
func (m *made) timePasses(rng *rand.Rand) {
	by := race.Millis(rng.IntN([]int{4, 3_000, 60_000, 600_000}[rng.IntN(4)]))
	if rng.IntN(12) == 0 {
		by = -by
	}
	m.st.Now = m.st.Now.Add(by)
	if rng.IntN(16) == 0 {
		m.st.Closed[0] = !m.st.Closed[0]
	}
}

// happen changes something of one result, and who is changed; but of the one whom others run as.
func (m *made) happen(rng *rand.Rand, i int) {
	r := m.st.Results[i]
	if r.Bib == "1005" {
		return
	}
	m.in.Changed = append(m.in.Changed, i)
	last := len(r.Filled) - 1
	switch rng.IntN(7) {
	case 0:
		m.miss(r.Bib, 1+rng.IntN(last))
	case 1:
		m.shift(r.Bib, 1+rng.IntN(last), race.Millis(rng.IntN(400_000)-100_000))
	case 2:
		if r.Course == 0 && len(r.Splits) == len(m.plan.Courses[0].Splits) {
			m.runsTheTen(r.Bib, "1005")
		}
	case 3:
		m.shift(r.Bib, 0, []race.Millis{600_000, -600_000, 20_000}[rng.IntN(3)])
	case 4:
		r.Status = []string{"", "dnf"}[rng.IntN(2)]
		m.settle(i)
	case 6: // half of a field turns out to be far faster, or slower
		by := race.Millis(rng.IntN(1_600_000) - 800_000)
		for k := range m.st.Results {
			if x := m.st.Results[k]; x.Course == r.Course && k%2 == 0 && x.Bib != "1005" {
				m.shift(x.Bib, 1, by)
				m.in.Changed = append(m.in.Changed, k)
			}
		}
	case 5: // two wear each other's chips
		k := rng.IntN(len(m.st.Results))
		if x := m.st.Results[k]; x.Course == r.Course && x.Bib != "1005" {
			r.Passings, x.Passings, r.Filled, x.Filled, r.Splits, x.Splits = x.Passings, r.Passings, x.Filled, r.Filled, x.Splits, r.Splits
			m.settle(i)
			m.settle(k)
			m.in.Changed = append(m.in.Changed, k)
		}
	}
}

func ids(found []race.Suspect) []string {
	var out []string
	for i := range found {
		out = append(out, found[i].ID)
	}
	return out
}
