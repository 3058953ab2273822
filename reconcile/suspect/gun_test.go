package suspect

import (
	"slices"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

func TestALateGunHoldsItsWaveAndNobodyElse(t *testing.T) {
	m := makeRace(t, 100)
	for i := range m.st.Results {
		if r := m.st.Results[i]; r.Wave == 1 {
			m.shift(r.Bib, 0, 120000)
		}
	}
	s := m.one("doubtful-gun:B")
	if s.Weight != race.Hold || len(s.Holds) != 50 || slices.Contains(s.Holds, "1") || len(s.Bibs) != 0 {
		t.Errorf("holds %d: %v", len(s.Holds), s.Holds)
	}
	// The front row crosses half a second after the gun.
	at := proposed(t, s.Proposes, "set-gun --wave B --at ")
	if d := at.Sub(gunTime.Add(720000)); d < -2000 || d > 2000 {
		t.Errorf("proposes %s", s.Proposes)
	}
	m.none(race.EarlyStart, race.WrongWave)
}

// A gun that was found right as it stands is in doubt no longer: who crossed before it started early.
func TestWhoCrossedBeforeAnAcceptedGunStartedEarly(t *testing.T) {
	m := makeRace(t, 100)
	for i := range m.st.Results {
		if r := m.st.Results[i]; r.Wave == 1 {
			p := &r.Passings[r.Filled[0]]
			p.At, p.Split, p.Fate = p.At.Add(-120_000), -1, race.BeforeGun
			r.Filled[0] = -1
			m.settle(i)
		}
	}
	s := m.one("doubtful-gun:B")
	m.none(race.EarlyStart)
	for _, evidence := range []string{"another", s.Evidence} {
		m.in.Accepted = func(id string) (string, bool) { return evidence, id == s.ID }
		want := 0
		if evidence == s.Evidence {
			want = 50
		}
		if n := m.count(race.EarlyStart); n != want || m.count(race.DoubtfulGun) != 1 {
			t.Errorf("accepted on %q, of %q: %d started early, want %d", evidence, s.Evidence, n, want)
		}
	}
}

// A front that goes with the gun is the wave's, however long those behind it are held; one or two
// who set out by the clock are not.
func TestAHeldBackFieldIsNoLateGun(t *testing.T) {
	for _, k := range []struct {
		front  int
		doubts int
	}{{5, 0}, {2, 1}} {
		m := makeRace(t, 100)
		n := 0
		for i := range m.st.Results {
			if r := m.st.Results[i]; r.Wave == 1 {
				if n++; n > k.front {
					m.shift(r.Bib, 0, 120000)
				}
			}
		}
		if got := m.count(race.DoubtfulGun); got != k.doubts {
			t.Errorf("%d ahead: %d told, want %d", k.front, got, k.doubts)
		}
	}
}

// Where people start as they like, one by one all morning, the first of them comes some time after the
// hour from which they may: that tells of no gun. Of who come in a crowd a few seconds apart it does.
func TestAMorningOfStartsTellsNoGun(t *testing.T) {
	for _, k := range []struct {
		apart  race.Millis
		doubts int
	}{{90_000, 0}, {1000, 1}} {
		m := makeRace(t, 100)
		n := race.Millis(0)
		for i := range m.st.Results {
			if r := m.st.Results[i]; r.Wave == 1 {
				m.shift(r.Bib, 0, 400_000+n*k.apart)
				n++
			}
		}
		if got := m.count(race.DoubtfulGun); got != k.doubts {
			t.Errorf("%v apart: %d told, want %d", k.apart, got, k.doubts)
		}
	}
}

func TestAWaveThatStartedWithoutAGunIsAskedFor(t *testing.T) {
	m := makeRace(t, 100)
	for i := range m.st.Results {
		if r := m.st.Results[i]; r.Wave == 1 {
			r.Gun = race.NoInstant
			m.settle(i)
		}
	}
	m.plan.Waves[1].Gun = race.NoInstant
	s := m.one("doubtful-gun:B")
	at := proposed(t, s.Proposes, "set-gun --wave B --at ")
	if d := at.Sub(gunTime.Add(600000)); d < -2000 || d > 2000 {
		t.Errorf("proposes %s", s.Proposes)
	}
}

func proposed(t *testing.T, proposes, before string) race.Instant {
	t.Helper()
	rest, ok := strings.CutPrefix(proposes, before)
	at, err := time.Parse(time.RFC3339, rest)
	if !ok || err != nil {
		t.Fatalf("proposes %q, want %s and a moment", proposes, before)
	}
	return race.Of(at)
}
