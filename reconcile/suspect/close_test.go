package suspect

import (
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
