package suspect

import (
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// In a field of forty, who was last read at 15 km among the quick ones is overdue once those
// at their pace are long in, though the slow ones are not. A tenth of the field gave up, so
// the race is not as good as over.
func TestOverdueAgainstOnesOwnPaceInASmallField(t *testing.T) {
	m := makeRace(t, 40)
	quick, gone := -1, 0
	for i := range m.st.Results {
		r := m.st.Results[i]
		took := r.Passings[3].At.Sub(r.Passings[0].At)
		switch {
		case quick < 0 && took < 4_300_000:
			quick = i
		case i%10 == 9:
			gone++
		default:
			continue
		}
		r.Passings, r.Filled[4] = r.Passings[:4], -1
		m.settle(i)
	}
	if quick < 0 || gone < 3 {
		t.Fatalf("%d, %d gone", quick, gone)
	}
	r := m.st.Results[quick]
	m.st.Now = r.Passings[3].At.Add(3_200_000) // their 6 km take half an hour
	m.asOf(m.st.Now)
	told := map[string]bool{}
	for _, s := range m.find() {
		if s.Kind == race.Overdue {
			told[s.Bibs[0]] = true
		}
	}
	if !told[r.Bib] {
		t.Errorf("%s isn't overdue; told of %v", r.Bib, told)
	}
	for i := range m.st.Results {
		if x := m.st.Results[i]; i != quick && i%10 != 9 && told[x.Bib] {
			t.Errorf("%s is on their way, and told as overdue", x.Bib)
		}
	}
}

// asOf takes away what comes later.
func (m *made) asOf(now race.Instant) {
	for i := range m.st.Results {
		x := m.st.Results[i]
		for k := len(x.Passings) - 1; k >= 0 && x.Passings[k].At > now; k-- {
			x.Passings, x.Filled[k] = x.Passings[:k], -1
		}
		m.settle(i)
	}
	m.st.Now = now
}

// Everybody who is out is expected somewhere, at about when they do come, whether the race is
// young or old; a case of theirs says the same, and who is in is expected nowhere.
func TestWhoIsOutIsExpectedWhenTheyCome(t *testing.T) {
	for _, minutes := range []race.Millis{12, 45, 100} {
		m := makeRace(t, 200)
		whole := makeRace(t, 200)
		m.asOf(gunTime.Add(minutes * 60_000))
		says := map[string]string{}
		for _, s := range m.find() {
			if s.Kind == race.Overdue {
				says[s.Bibs[0]] = s.Says
			}
		}
		asked := 0
		for i := range m.st.Results {
			x, expected := m.st.Results[i], m.st.Expected[i]
			last, at := x.Reached()
			if last < 0 || x.Finish >= 0 {
				if expected.Known() {
					t.Errorf("after %d minutes: %s, %s, is expected at %v", minutes, x.Bib, x.State, expected)
				}
				continue
			}
			asked++
			comes := whole.st.Results[i].Passings[last+1].At
			way, off := comes.Sub(at), expected.Sub(comes)
			if !expected.Known() && last == 0 {
				continue // too few have come to tell of those without a pace
			}
			share := 0.2
			if last == 0 {
				share = 0.5
			}
			if !expected.Known() || float64(max(off, -off)) > share*float64(way) {
				t.Errorf("after %d minutes: %s is expected %d s off on a way of %d s", minutes, x.Bib, off/1000, way/1000)
			}
			if s, ok := says[x.Bib]; ok && !strings.Contains(s, "about "+expected.Clock(m.plan.Zone)) {
				t.Errorf("expected at %s, but %q", expected.Clock(m.plan.Zone), s)
			}
		}
		if asked < 30 {
			t.Errorf("after %d minutes only %d are out", minutes, asked)
		}
	}
}

// Behind a cut-off half of a field stops: those of their pace who went on tell when they should have
// come, as long as that is a stretch on which a pace so far tells little.
func TestWhoAreTakenOutAtACutOffAreOverdue(t *testing.T) {
	m := makeRace(t, 120)
	var took []race.Millis
	for _, r := range m.st.Results {
		r.Passings[4].At = r.Passings[3].At.Add(r.Passings[4].At.Sub(r.Passings[3].At) / 2) // all downhill
		took = append(took, r.Passings[3].At.Sub(r.Gun))
	}
	slices.Sort(took)
	stopped := map[string]bool{}
	slowest := race.Instant(0)
	for i, r := range m.st.Results {
		if slowest = max(slowest, r.Passings[3].At); r.Passings[3].At.Sub(r.Gun) > took[len(took)*45/100] {
			stopped[r.Bib] = true
			r.Passings, r.Filled[4] = r.Passings[:4], -1
		}
		m.settle(i)
	}
	m.st.Now = slowest.Add(3 * 1000_000) // the slowest goes that way in some 25 minutes
	for _, s := range m.find() {
		if s.Kind == race.Overdue {
			delete(stopped, s.Bibs[0])
		}
	}
	if len(stopped) > 0 {
		t.Errorf("%d of those who stopped aren't overdue: %v", len(stopped), stopped)
	}
}

// Who was read before the gun alone is told as that, once the course is closed: nobody saw them at the gun.
func TestWhoWasReadBeforeTheGunAloneIsToldAsThat(t *testing.T) {
	m := makeRace(t, 60)
	m.miss("8", 0, 1, 2, 3, 4)
	m.add("8", 0, gunTime.Add(-300000), race.BeforeGun)
	m.result("8").State = race.Running
	m.st.Closed[0] = true
	s := m.one("overdue:8")
	if !strings.Contains(s.Says, "8 was read at no split since the gun at ") || !strings.Contains(s.Says, " ago, last at start at ") || s.Proposes != "set-status --bib 8 --status dns" {
		t.Errorf("%+v", s)
	}
}

// A far-off line whose log isn't there yet tells nobody how long the way to it takes. Who was last read
// before it and isn't in when nearly everybody else is, is overdue all the same.
func TestWhoGaveUpBeforeALineWhoseLogIsMissingIsOverdue(t *testing.T) {
	m := makeRace(t, 100)
	for _, r := range m.st.Results {
		m.miss(r.Bib, 1)
	}
	m.miss("40", 1, 2, 3, 4)
	told := false
	for _, s := range m.find() {
		if s.Kind == race.Overdue {
			if s.Bibs[0] != "40" {
				t.Errorf("%s is told as overdue, and is in", s.Bibs[0])
			}
			told = true
		}
	}
	if !told {
		t.Error("who gave up after the start isn't told as overdue")
	}
	m = makeRace(t, 100)
	m.asOf(gunTime.Add(100 * 60_000)) // many are out
	for _, r := range m.st.Results {
		m.miss(r.Bib, 1)
	}
	for _, s := range m.find() {
		if s.Kind == race.Overdue && !strings.Contains(s.Says, "expected") {
			t.Errorf("while many are out: %s", s.Says)
		}
	}
}
