package suspect

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// Who shares a rank in times.csv shares it here: three within a hundredth, two of them equal.
func TestRanksThatAreToldAreThoseGiven(t *testing.T) {
	m := makeRace(t, 60)
	first, second, third := m.ranked(0), m.ranked(1), m.ranked(2)
	to := func(bib string, after race.Millis) {
		m.shift(bib, 4, m.result(first).GunTime+after-m.result(bib).GunTime)
	}
	to(second, 10)
	to(third, 10)
	a, b := second, third
	if race.CompareBibs(a, b) > 0 {
		a, b = b, a
	}
	says := func(x, y string) string {
		id, _ := pairID(race.TooClose, x, y)
		return m.one(id).Says
	}
	if got := says(a, b); !strings.HasPrefix(got, a+" and "+b+" share rank 2 (overall), 0.000 s apart;") {
		t.Error(got)
	}
	to(b, 20)
	if got := says(a, b); !strings.HasPrefix(got, "Ranks 2 and 3 (overall), "+a+" before "+b+", are 0.010 s apart;") {
		t.Error(got)
	}
	m.plan.Courses[0].Official.TiesOfficial = true
	for i := range m.st.Results {
		m.st.Results[i].Official = race.Roundings[1].Apply(m.st.Results[i].GunTime)
	}
	if got := says(a, b); !strings.HasPrefix(got, a+" and "+b+" share rank 1 (overall), 0.010 s apart;") {
		t.Error(got)
	}
}

// Whoever takes the other order is asked no more, and it is that of the times that rank: those of
// two waves are from two guns.
func TestTheOtherOrderIsRuledOnce(t *testing.T) {
	m := makeRace(t, 60)
	first, second := m.ranked(0), m.ranked(1)
	m.shift(second, 4, m.result(first).GunTime+10-m.result(second).GunTime)
	x := m.result(second)
	x.Gun = x.Gun.Add(600_000)
	m.shift(second, 0, 600_000)
	id, _ := pairID(race.TooClose, first, second)
	at := x.FinishAt.Add(-11)
	if want := fmt.Sprintf("set-time --bib %s --split finish --at %s", second, at.Format(m.plan.Zone)); !slices.Contains(m.one(id).Others, want) {
		t.Errorf("%q; want %q", m.one(id).Others, want)
	}
	m.shift(second, 4, -11)
	m.one(id)
	x = m.result(second)
	x.From, x.PM = race.FromRuling, 0
	for _, s := range m.find() {
		if s.ID == id {
			t.Errorf("ruled, and still: %s", s.Says)
		}
	}
}
