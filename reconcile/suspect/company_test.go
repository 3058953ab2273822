package suspect

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Who goes beside whom is kept as it is found anew, while those who do are parted and meet again,
// one by one and many at once, while splits are less and more crowded than others, and while what
// tells of a body's noise is another.
func TestWhoGoesTogetherIsKept(t *testing.T) {
	accused, few := 0, map[int]bool{}
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 41))
		m, whole := makeRace(t, 300), makeRace(t, 300)
		m.in.Memory, m.in.Grown, m.in.Asked = &Memory{}, true, make([]bool, 300)
		for _, x := range []*made{m, whole} {
			x.goOn(25_000, 27_000)
		}
		for i := range m.st.Results {
			if m.in.Asked[i] = i%5 == 4; i%10 == 1 {
				whole.runBeside(rng, i, i-1)
			}
		}
		for i := range m.st.Results {
			for k := range whole.st.Results[i].Passings {
				p := &whole.st.Results[i].Passings[k]
				readAs(rng, p, p.At)
			}
			m.restore(whole, i)
		}
		for step := range 200 {
			m.in.Changed = nil
			if step > 0 {
				m.in.Same = true
				if rng.IntN(12) == 0 {
					m.in.Changed = append(m.in.Changed, m.readOtherwise(rng, rng.IntN(7))...)
				}
				for range []int{1, 1, 1, 9, 9, 9, 9, 250}[rng.IntN(8)] {
					m.in.Changed = append(m.in.Changed, m.moveAway(rng, whole, rng.IntN(300))...)
				}
			}
			slices.Sort(m.in.Changed)
			m.in.Changed = slices.Compact(m.in.Changed)
			kept, anew := fieldOf(m.in), newField(m.in)
			got, want := carriedTogether(kept), carriedTogether(anew)
			kept.searched = true
			a, b := &kept.courses[0].company, &anew.courses[0].company
			if !slices.Equal(a.pairs, b.pairs) || !slices.EqualFunc(a.lists, b.lists, slices.Equal) {
				t.Fatalf("seed %d, step %d: pairs %v at the splits, anew %v", seed, step, a.pairs, b.pairs)
			}
			if !slices.EqualFunc(got, want, func(a, b race.Suspect) bool {
				return a.ID == b.ID && a.Says == b.Says && a.Evidence == b.Evidence && a.At == b.At
			}) {
				t.Fatalf("seed %d, step %d: together %q, anew %q", seed, step, ids(got), ids(want))
			}
			accused += len(got)
			for _, k := range a.few {
				few[k] = true
			}
		}
	}
	if accused < 300 || len(few) < 4 {
		t.Errorf("%d together, few crowded %v", accused, few)
	}
}

// runBeside gives one the passings of another, some hundredths off or some tenths.
func (m *made) runBeside(rng *rand.Rand, i, other int) {
	x, y := m.st.Results[i], m.st.Results[other]
	x.Passings = nil
	for k := range y.Passings {
		x.Passings = append(x.Passings, passingAt(k, y.Passings[k].At.Add(race.Millis(rng.IntN(100+8*i))), k))
		x.Filled[k] = k
	}
	m.settle(i)
}

// goOn has everybody go on to further splits at their pace.
func (m *made) goOn(to ...float64) {
	c := &m.plan.Courses[0]
	for _, at := range to {
		k, l := len(c.Splits), len(m.plan.Lines)
		id := fmt.Sprint(at)
		m.plan.Lines = append(m.plan.Lines, race.Line{ID: id, Window: 5000, Tolerance: 1000, Logs: []int{2 * l, 2*l + 1}})
		for _, s := range []race.System{race.Main, race.Backup} {
			m.plan.Logs = append(m.plan.Logs, race.Log{Line: l, System: s, Path: id + s.String(), From: race.NoInstant, To: race.NoInstant})
		}
		c.Splits = append(c.Splits, race.Split{ID: id, Line: l, At: at, Sport: "run"})
		for i := range m.st.Results {
			r := m.st.Results[i]
			first, last := &r.Passings[0], &r.Passings[k-1]
			way := float64(last.At-first.At) * (at - c.Splits[k-1].At) / c.Splits[k-1].At
			r.Passings = append(r.Passings, passingAt(l, last.At.Add(race.Millis(way)), k))
			r.Splits, r.Filled = c.Splits, append(r.Filled, k)
		}
	}
	for i := range m.st.Results {
		m.settle(i)
	}
}

// moveAway changes something of one who may go with another: a time, a passing, a burst; or they
// come to one of the least crowded splits with many others.
func (m *made) moveAway(rng *rand.Rand, whole *made, i int) []int {
	if rng.IntN(2) == 0 {
		i += rng.IntN(2) - i%10
	}
	r := m.st.Results[i]
	p := &r.Passings[rng.IntN(len(r.Passings))]
	switch rng.IntN(9) {
	case 0:
		for len(r.Passings) > 4 && rng.IntN(2) == 0 {
			m.miss(r.Bib, r.Passings[rng.IntN(len(r.Passings))].Split)
		}
	case 1:
		m.shift(r.Bib, rng.IntN(7), race.Millis(rng.IntN(8_000)-4_000))
	case 2:
		m.shift(r.Bib, rng.IntN(7), race.Millis(rng.IntN(400)-200))
	case 3, 7:
		for k := range r.Passings {
			p := &r.Passings[k]
			p.Bursts[race.Main] = strongestAt(p.Bursts[race.Main], race.Millis(rng.IntN(3_000)-1_500))
		}
	case 5: // two who go together miss the least crowded splits
		i -= i % 10
		few := m.in.Memory.field.courses[0].company.few
		a, b := few[0], few[len(few)-1]
		for k := range 2 {
			m.restore(whole, i+k)
			m.miss(m.st.Results[i+k].Bib, a, b)
		}
		return []int{i, i + 1}
	case 4:
		if p.Split >= 4 {
			p.At = gunTime.Add(race.Millis(p.Split*3_600_000 + rng.IntN(8_000)))
			m.settle(i)
		}
	case 8: // sets out before the gun, with the one beside them
		if i -= i % 10; m.st.Results[i].Filled[0] >= 0 {
			for n := range 2 {
				m.setOutEarly(i+n, race.Millis(60_000+100*n))
			}
			return []int{i, i + 1}
		}
	default:
		m.restore(whole, i)
	}
	return []int{i}
}

// setOutEarly moves the start passing of one who has one to so long before their gun.
func (m *made) setOutEarly(i int, by race.Millis) {
	r := m.st.Results[i]
	n := r.Filled[0]
	if n < 0 {
		return
	}
	p := &r.Passings[n]
	p.At, p.Split, p.Fate = r.Gun.Add(-by), -1, race.BeforeGun
	r.Filled[0] = -1
	m.settle(i)
}

// readOtherwise has main at a line read everybody's strongest read by chance near the crossing or far from it.
func (m *made) readOtherwise(rng *rand.Rand, line int) []int {
	var some []int
	far := []float64{150, 1_000}[rng.IntN(2)]
	for i := range m.st.Results {
		for k := range m.st.Results[i].Passings {
			if p := &m.st.Results[i].Passings[k]; p.Line == line {
				p.Bursts[race.Main] = strongestAt(p.Bursts[race.Main], race.Millis(far*rng.NormFloat64()))
				some = append(some, i)
			}
		}
	}
	return some
}

// strongestAt is a burst whose strongest read was so much later than its crossing.
func strongestAt(b *race.Burst, by race.Millis) *race.Burst {
	c := *b
	c.SetStrongest(c.First.Add(1100 + by))
	return &c
}
