package suspect

import (
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// Who was driven home is not proposed to stand: two splits unread, and the way from there to
// the finish in half of the time that their own level tells, which the fastest could run.
func TestASplitLeftOutInFarTooLittleTimeIsNotAccepted(t *testing.T) {
	m := makeRace(t, 100)
	slow := "1"
	for i := range m.st.Results {
		if m.st.Results[i].FinishAt.Sub(m.st.Results[i].StartAt) > m.result(slow).FinishAt.Sub(m.result(slow).StartAt) {
			slow = m.st.Results[i].Bib
		}
	}
	m.miss(slow, 2, 3)
	at := m.result(slow).Passings
	m.shift(slow, 4, -at[2].At.Sub(at[1].At)/2)
	s := m.one("missing-split:" + slow + ":10k")
	if s.Proposes != "set-status --bib "+slow+" --status dnf" || s.Strong {
		t.Errorf("%+v", s)
	}
	m.shift(slow, 4, at[2].At.Sub(at[1].At)) // at twice that it may stand
	if s := m.one("missing-split:" + slow + ":10k"); !strings.HasPrefix(s.Proposes, "accept ") {
		t.Errorf("%+v", s)
	}
}

// Where main was set back and told times twice, what fills no split for that is one case: no
// athlete who was read there is told as not read. A required split holds all the same.
func TestWhatATurnedClockLeavesOutIsOneCase(t *testing.T) {
	for _, k := range []struct {
		name     string
		back     bool
		required bool
		ruled    int
		missing  int
	}{{"set back", true, false, 0, 1}, {"set forward", false, false, 0, 2}, {"required", true, true, 0, 2}, {"ruled", true, false, 4, 2}} {
		m := makeRace(t, 40)
		for i := range m.st.Results {
			m.st.Results[i].Splits[2].Required = k.required
		}
		p := m.result("7").Passings[2]
		m.in.Steps = []ClockStep{{Line: 2, Source: 5, Before: p.At, After: p.At.Add(-3600_000), SizeS: 3600, PlusMinusS: 0.1, Pairs: 60, Back: k.back, Ruled: k.ruled}}
		m.miss("7", 2)
		m.add("7", 2, p.At.Add(-3600_000), race.BeforeGun)
		m.miss("8", 2) // read nowhere there
		if n := m.count(race.MissingSplit); n != k.missing {
			t.Errorf("%s: %d told, want %d", k.name, n, k.missing)
		}
		if s := m.find(); k.required && slices.ContainsFunc(s, func(s race.Suspect) bool {
			return s.ID == "missing-split:7:10k" && strings.HasPrefix(s.Says, "No system read")
		}) {
			t.Errorf("%s: who was read at times that do not fit is told as unread", k.name)
		}
	}
}

// What such a clock puts out of order is its one case too; what another line does is not.
func TestWhatATurnedClockPutsOutOfOrderIsOneCase(t *testing.T) {
	for _, k := range []struct {
		name string
		line int // where somebody else is out of order
		told int
	}{{"there", 2, 0}, {"elsewhere", 3, 1}} {
		m := makeRace(t, 40)
		p := m.result("7").Passings[2]
		m.in.Steps = []ClockStep{{Line: 2, Source: 5, Before: p.At, After: p.At.Add(-3600_000), SizeS: 3600, PlusMinusS: 0.1, Pairs: 60, Back: true}}
		m.miss("7", 2)
		m.add("7", 2, p.At.Add(-1800_000), race.Extra)
		m.in.OutOfOrder = []string{"7"}
		if k.line != 2 {
			m.add("7", k.line, p.At.Add(-1700_000), race.Extra)
		}
		if n := m.count(race.OutOfOrder); n != k.told {
			t.Errorf("%s: %d told, want %d", k.name, n, k.told)
		}
	}
}

// Who set out long before their gun, and was at the first line before it too, is no one whom
// nobody read there: the early start tells it. A required split has no time all the same.
func TestASplitPassedBeforeTheGunIsNotUnread(t *testing.T) {
	for _, required := range []bool{false, true} {
		m := makeRace(t, 100)
		for i := range m.st.Results {
			m.st.Results[i].Splits[1].Required = required
		}
		const early, other = "90", "91" // of the second wave
		r := m.result(early)
		gun, by := r.Gun, r.Gun.Sub(r.Passings[1].At)-120_000
		at := []race.Instant{r.Passings[0].At.Add(by), r.Passings[1].At.Add(by)}
		m.shift(early, 2, by)
		m.miss(early, 0, 1)
		m.miss(other, 1)
		m.add(early, 0, at[0], race.BeforeGun)
		m.add(early, 1, at[1], race.BeforeGun)
		m.one("early-start:" + early)
		if s := m.one("missing-split:" + other + ":5k"); !strings.HasPrefix(s.Says, "No system read") {
			t.Error(s.Says)
		}
		if !required {
			if n := m.count(race.MissingSplit); n != 1 {
				t.Errorf("%d told", n)
			}
			continue
		}
		if s := m.one("missing-split:" + early + ":5k"); s.Weight != race.Hold || !strings.Contains(s.Says, "before its gun") || !strings.HasPrefix(s.Proposes, "accept ") || at[1] >= gun {
			t.Errorf("%+v", s)
		}
	}
}
