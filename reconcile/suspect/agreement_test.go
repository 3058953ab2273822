package suspect

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// How systems agree is kept as it is told anew, and so are the clashes: while backup differs for
// one, for all at a line or for all on their way there, main reads weakly, and somebody was seen
// by backup long before main.
func TestClashesAreKept(t *testing.T) {
	clashes, late, quiet := 0, 0, 0
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 51))
		m, whole := makeRace(t, 60), makeRace(t, 60)
		m.in.Memory, m.in.Grown, m.in.Asked = &Memory{}, true, make([]bool, 60)
		for i := range m.in.Asked {
			m.in.Asked[i] = i%(1+int(seed%4)) == 0
		}
		for range 150 {
			m.in.Changed = nil
			for range 1 + rng.IntN(2) {
				m.in.Changed = append(m.in.Changed, m.differ(rng, whole, rng.IntN(60))...)
			}
			slices.Sort(m.in.Changed)
			m.in.Changed = slices.Compact(m.in.Changed)
			f := fieldOf(m.in)
			m.in.Same = true
			moves := f.agreement.clashes.moves
			got, want := clash(f), clash(newField(m.in))
			f.searched = true // by the only kind that looks here
			if !slices.EqualFunc(got, want, func(a, b race.Suspect) bool {
				return a.ID == b.ID && a.Says == b.Says && a.Evidence == b.Evidence && a.Weight == b.Weight && a.Strong == b.Strong
			}) {
				t.Fatalf("seed %d: clashes %q, anew %q", seed, ids(got), ids(want))
			}
			quiet += tally(moves == f.agreement.clashes.moves)
			for _, s := range got {
				clashes++
				late += tally(slices.Contains(s.Others, accept(s.ID)) && len(s.Others) == 2)
			}
		}
	}
	if clashes < 500 || late < 50 || quiet < 100 {
		t.Errorf("%d clashes, of them %d seen before main did; %d times nothing was looked at with a clash in it", clashes, late, quiet)
	}
}

// differ changes how systems saw somebody, or all.
func (m *made) differ(rng *rand.Rand, whole *made, i int) []int {
	r := m.st.Results[i]
	k := rng.IntN(5)
	at := func(r *race.Result) *race.Passing { return &r.Passings[r.Filled[k]] }
	some := func(do func(r *race.Result)) []int { // for one, or now and then for two of three
		if do(r); rng.IntN(4) > 0 {
			return []int{i}
		}
		var all []int
		for n := i % 3; n < len(m.st.Results); n++ {
			if n%3 > 0 {
				do(m.st.Results[n])
			}
			all = append(all, n)
		}
		return append(all, i)
	}
	switch rng.IntN(9) {
	case 0, 1:
		p := at(r)
		p.Seen[race.Backup] = p.Seen[race.Main].Add(race.Millis(rng.IntN(8_000) - 4_000))
	case 2: // all, at a line
		var all []int
		by, more := race.Millis(rng.IntN(4_000)-2_000), 1+rng.IntN(1_500)
		for i, r := range m.st.Results {
			at(r).Seen[race.Backup] = at(r).Seen[race.Main].Add(by + race.Millis(rng.IntN(more)))
			all = append(all, i)
		}
		return all
	case 3:
		return some(func(r *race.Result) {
			if b := at(r).Bursts[race.Main]; b != nil {
				c := *b
				c.Count, c.Peak = 1+rng.Int32N(3), int16(-700+rng.IntN(300))
				at(r).Bursts[race.Main] = &c
			}
		})
	case 4:
		why := []string{"", "too few pairs"}[rng.IntN(2)]
		return some(func(r *race.Result) { at(r).SetUnsure(race.Backup, why) })
	case 5:
		r.Status = []string{"", "dnf"}[rng.IntN(2)]
	case 6:
		pm := []race.Millis{race.NoMillis, 200, 3_000}[rng.IntN(3)]
		return some(func(r *race.Result) { at(r).PM[race.Backup] = pm })
	case 7: // backup alone sees them, and main not before they came back
		p := at(r)
		p.Bursts[race.Backup], p.Seen[race.Backup] = nil, race.NoInstant
		m.add(r.Bib, p.Line, p.At.Add(-race.Millis(20_000+rng.IntN(300_000))), race.StayedNear)
		for n := range r.Passings {
			if q := &r.Passings[n]; q.Split < 0 {
				q.Bursts[race.Main] = nil
			}
		}
	default:
		m.restore(whole, i)
	}
	return []int{i}
}

// restore gives somebody what they have in another race.
func (m *made) restore(whole *made, i int) {
	r := m.st.Results[i]
	r.Passings, r.Filled = slices.Clone(whole.st.Results[i].Passings), slices.Clone(whole.st.Results[i].Filled)
	m.settle(i)
}

// Where ten agree, an interval that is wider than a difference explains it; once one of them says
// nothing any more, it doesn't.
func TestEnoughOnceNeedNotBeEnough(t *testing.T) {
	m := makeRace(t, 60)
	m.in.Memory, m.in.Grown, m.in.Asked = &Memory{}, true, make([]bool, 60)
	for i := range agreeEnough {
		m.in.Asked[i] = true
	}
	p := &m.st.Results[40].Passings[1]
	p.Seen[race.Backup], p.PM[race.Backup] = p.Seen[race.Main].Add(2_000), 3_000
	m.none(race.Clash)
	m.st.Results[3].Passings[1].SetUnsure(race.Backup, "too few pairs")
	m.in.Same, m.in.Changed = true, []int{3}
	m.one(race.Clash + ":41:5k")
}

// An interval holds 95 of 100: where it is wide, as of those who start at a walk, who lies a little
// outside is one in twenty, and no clash; who lies far outside is one.
func TestChanceInAGreatFieldIsNoClash(t *testing.T) {
	for by, clash := range map[race.Millis]bool{2_000: false, 3_000: false, 4_000: true} {
		m := makeRace(t, 60)
		p := &m.st.Results[40].Passings[1]
		p.Seen[race.Backup], p.PM[race.Backup] = p.Seen[race.Main].Add(-by), 1_500
		if clash {
			m.one(race.Clash + ":41:5k")
		} else {
			m.none(race.Clash)
		}
	}
}
