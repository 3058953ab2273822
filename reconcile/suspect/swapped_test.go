package suspect

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// exchange lets two of the same course wear each other's chips; each start falls as it does.
func (m *made) exchange(a, b string) {
	x, y := m.result(a), m.result(b)
	x.Passings, y.Passings = y.Passings, x.Passings
	for _, r := range []*race.Result{x, y} {
		for k := range r.Passings {
			r.Passings[k].Split, r.Passings[k].Fate, r.Filled[k] = k, race.InSplit, k
		}
		if p := &r.Passings[0]; p.At < r.Gun.Add(-2000) {
			p.Split, p.Fate, r.Filled[0] = -1, race.BeforeGun, -1
		}
		m.settle(m.st.ByBib[r.Bib])
	}
}

// named gives everybody a name and a team of their own kind: families of two or three.
func (m *made) named() {
	for i := range m.st.Results {
		m.st.Results[i].Name, m.st.Results[i].Team = fmt.Sprintf("Ada Name%d", i%41), fmt.Sprintf("Team %d", i%9)
	}
}

func (m *made) family(bibs ...string) {
	for _, b := range bibs {
		m.result(b).Name, m.result(b).Team = "Ada Own"+bibs[0], "Club "+bibs[0]
	}
}

// swaps are the pairs told as swapped whose exchange is proposed.
func (m *made) swaps() (proposed []string) {
	for _, s := range m.find() {
		if s.Kind == race.Swapped && strings.HasPrefix(s.Proposes, race.SwapBibs) {
			proposed = append(proposed, s.ID)
		}
	}
	slices.Sort(proposed)
	return proposed
}

// Whose start no system read has gone with another wave all the same: the way to the first line tells.
func TestTwoWhoExchangedAreToldWithOneStartUnread(t *testing.T) {
	for _, unread := range []string{"10", "150"} {
		m := makeRace(t, 200)
		m.exchange("10", "150")
		m.named()
		m.family("10", "150")
		r := m.result(unread)
		r.Passings = r.Passings[1:]
		for k := range r.Filled {
			r.Filled[k] = k - 1
		}
		m.settle(m.st.ByBib[unread])
		if got := m.swaps(); !slices.Equal(got, []string{"swapped:10+150"}) {
			t.Errorf("without the start of %s: %v", unread, got)
		}
	}
}

// Who went with an earlier gun flew from their own: nobody is to be disqualified for wearing another's bib.
func TestWhoFlewFromAnothersGunExchanged(t *testing.T) {
	m := makeRace(t, 200)
	fast := slices.IndexFunc(m.st.Results, func(r *race.Result) bool { return r.Passings[1].At < r.Gun.Add(19*60_000) })
	bib := m.st.Results[fast].Bib
	m.exchange(bib, "150")
	m.named()
	m.family(bib, "150")
	r := m.result("150")
	r.Passings = r.Passings[1:]
	for k := range r.Filled {
		r.Filled[k] = k - 1
	}
	m.settle(m.st.ByBib["150"])
	if s := m.one("impossible-pace:150:5k"); s.Proposes != "swap-bibs --bib "+bib+" --with 150" || s.Strong || s.Others[0] != "set-status --bib 150 --status dsq" {
		t.Errorf("%+v", s)
	}
}

// Of two pairs between the same waves family and club tell who exchanged with whom; without
// them none is likelier, and no exchange is proposed, not by others' cases either.
func TestWhoExchangedWithWhomIsToldByFamilyOrNotAtAll(t *testing.T) {
	m := makeRace(t, 200)
	m.exchange("10", "150")
	m.exchange("30", "180")
	m.named()
	for _, b := range []string{"10", "150", "30", "180"} { // sex tells nothing
		m.result(b).Sex, m.result(b).Category = "m", "M"
	}
	if got := m.swaps(); len(got) != 0 {
		t.Errorf("strangers: %v", got)
	}
	if s := m.one("early-start:150"); s.Proposes != "accept --suspect early-start:150" {
		t.Errorf("%+v", s)
	}
	m.family("10", "150")
	m.family("30", "180")
	if got := m.swaps(); !slices.Equal(got, []string{"swapped:10+150", "swapped:30+180"}) {
		t.Errorf("families: %v", got)
	}
}

// Two of one family, each entered for what the other ran, are one exchange, and either's case
// proposes it: two moves would give each the other's time.
func TestTwoWhoRanEachOthersCourseAreSwapped(t *testing.T) {
	m := makeRace(t, 100)
	m.addTen()
	half := slices.Clone(m.result("6").Passings)
	m.runsTheTen("6", "1005")
	r := m.result("1005")
	r.Passings = half
	for k := range r.Passings {
		r.Passings[k].Split, r.Passings[k].Fate = -1, race.Extra
	}
	r.Filled = []int{-1, -1, -1}
	m.settle(m.st.ByBib["1005"])
	m.named()
	if s := m.one("other-course:6"); s.Proposes != "set-wave --bib 6 --wave T" {
		t.Errorf("strangers took a wrong turn each: %+v", s)
	}
	m.family("6", "1005")
	if s := m.one("swapped:6+1005"); s.Proposes != "swap-bibs --bib 6 --with 1005" {
		t.Errorf("%+v", s)
	}
	for _, b := range []string{"6", "1005"} {
		if s := m.one("other-course:" + b); s.Proposes != "swap-bibs --bib 6 --with 1005" || s.Weight != race.Hold {
			t.Errorf("%+v", s)
		}
	}
}

// Where no line tells of the start, the other stretches tell with whose gun somebody began.
func TestWithoutAStartLineTheFirstStretchTellsTheGun(t *testing.T) {
	m := makeRace(t, 200)
	m.plan.Courses[0].Splits = m.plan.Courses[0].Splits[1:]
	m.exchange("10", "150")
	for i := range m.st.Results {
		r := m.st.Results[i]
		r.Splits, r.Passings, r.Filled, r.StartAt = m.plan.Courses[0].Splits, r.Passings[1:], []int{0, 1, 2, 3}, race.NoInstant
		for k := range r.Passings {
			r.Passings[k].Split = k
		}
		m.settle(i)
	}
	m.named()
	m.family("10", "150")
	if got := m.swaps(); !slices.Equal(got, []string{"swapped:10+150"}) {
		t.Errorf("%v", got)
	}
}

// The sex is compared without case: written in capitals by half of the list, it tells the same.
func TestSexIsComparedWithoutCase(t *testing.T) {
	cases := func(m *made) (ids []string) {
		for _, s := range m.find() {
			ids = append(ids, s.ID+" "+s.Proposes)
		}
		return ids
	}
	for seed := range 6 {
		m := makeRace(t, 90)
		for i := range m.st.Results { // few of each, and odd ones among them
			m.st.Results[i].Category = ""
			if i%11 == seed {
				m.shift(m.st.Results[i].Bib, 1, race.Millis(3000000*(i%2)))
			}
		}
		m.exchange("10", "80")
		want := cases(m)
		for i := range m.st.Results {
			if i%2 == 0 {
				m.st.Results[i].Sex = strings.ToUpper(m.st.Results[i].Sex)
			}
		}
		if got := cases(m); !slices.Equal(got, want) {
			t.Errorf("%d: in capitals %v, else %v", seed, got, want)
		}
	}
}
