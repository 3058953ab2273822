package suspect

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// While a race goes by, read by read and now and then with no read at all, who is out is expected
// when, and overdue where, as a search anew has it: those who are asked and those who aren't come,
// some of them by a clock that is ahead of now, some give up, and of some a log tells
// an earlier read later.
func TestWhoIsOutIsKeptAsTimePasses(t *testing.T) {
	for seed := range uint64(1) {
		rng := rand.New(rand.NewPCG(seed, 31))
		whole, m := makeRace(t, 240), makeRace(t, 240)
		m.in.Memory, m.in.Grown, m.in.Asked = &Memory{}, true, make([]bool, 240)
		for i := range m.in.Asked {
			m.in.Asked[i] = i%2 == 0
		}
		m.asOf(gunTime)
		for i := range m.st.Results {
			if rng.IntN(12) == 0 { // they don't get to the finish
				k := 1 + rng.IntN(4)
				whole.st.Results[i].Passings = whole.st.Results[i].Passings[:k]
			}
		}
		stood, late, told := 0, 0, 0
		for at := gunTime; at < gunTime.Add(3*3_600_000); {
			at = at.Add(race.Millis(rng.IntN([]int{3, 4_000, 16_000}[rng.IntN(3)])))
			m.st.Now = max(m.st.Now, at.Add(-race.Millis(rng.IntN(4_000))))
			m.in.Changed = m.come(whole, at)
			if rng.IntN(300) == 0 {
				i := rng.IntN(240)
				m.st.Results[i].Status = []string{"", "dnf"}[rng.IntN(2)]
				m.settle(i)
				m.in.Changed = append(m.in.Changed, i)
			}
			if rng.IntN(40) == 0 {
				m.in.Changed = append(m.in.Changed, m.readSooner(rng.IntN(240))...)
			}
			slices.Sort(m.in.Changed)
			m.in.Changed = slices.Compact(m.in.Changed)
			f := fieldOf(m.in)
			m.in.Same = true
			moves := f.courses[0].waits.inOrder.moved()
			got := overdue(f)
			f.searched = true // by the only kind that looks here
			expected := m.st.Expected
			want := overdue(newField(m.in))
			if !slices.Equal(expected, m.st.Expected) {
				t.Fatalf("seed %d, %v after the gun: who is out is expected otherwise than by a search anew", seed, at.Sub(gunTime))
			}
			if !slices.EqualFunc(got, want, func(a, b race.Suspect) bool { return a.ID == b.ID && a.Says == b.Says && a.Evidence == b.Evidence }) {
				t.Fatalf("seed %d, %v after the gun: overdue %q, anew %q", seed, at.Sub(gunTime), ids(got), ids(want))
			}
			stood += tally(moves == f.courses[0].waits.inOrder.moved())
			late += len(got)
			told++
		}
		if stood < told/2 || late < told {
			t.Errorf("seed %d: of %d searches the waits stood in %d; %d overdue", seed, told, stood, late)
		}
	}
}

// come gives everybody what they have passed by a moment in another race; who has more is told.
func (m *made) come(whole *made, by race.Instant) []int {
	var some []int
	for i := range m.st.Results {
		x, from := m.st.Results[i], len(m.st.Results[i].Passings)
		for k := from; k < len(whole.st.Results[i].Passings) && whole.st.Results[i].Passings[k].At <= by; k++ {
			x.Passings = append(x.Passings[:k:k], whole.st.Results[i].Passings[k])
			x.Filled[k] = k
		}
		if len(x.Passings) > from {
			now := m.st.Now
			m.settle(i)
			m.st.Now = now
			some = append(some, i)
		}
	}
	return some
}

// readSooner gives somebody's last passing an earlier first read, the time kept being the same.
func (m *made) readSooner(i int) []int {
	r := m.st.Results[i]
	if len(r.Passings) == 0 {
		return nil
	}
	r.Passings = slices.Clone(r.Passings)
	p := &r.Passings[len(r.Passings)-1]
	b := *p.Bursts[race.Main]
	b.First = b.First.Add(-7)
	p.Bursts[race.Main] = &b
	return []int{i}
}
