package suspect

import (
	"testing"

	"twinmat/reconcile/race"
)

// heardAs lets both systems hear a bib's passing with so many reads, over so long, the strongest of
// them so strong.
func (m *made) heardAs(p *race.Passing, reads int32, long race.Millis, peak int16) {
	for s := race.Main; s <= race.Backup; s++ {
		b := *p.Bursts[s]
		b.Count, b.Peak = reads, peak
		b.SetLast(b.First.Add(long))
		p.Bursts[s] = &b
	}
}

// Who was missed as they crossed, and is heard faintly beside the finish for minutes afterwards, has a
// time that is too late: it waits for a person.
func TestWhoStandsByTheFinishHasNotCrossedThen(t *testing.T) {
	for _, x := range []struct {
		about string
		reads int32
		long  race.Millis
		peak  int16
		again bool
		told  bool
	}{
		{"now and then for minutes", 60, 150_000, -610, false, true},
		{"two reads, and again a minute later", 2, 1_300, -640, true, true},
		{"a crossing, and stood there afterwards", 90, 150_000, -510, false, false},
		{"a chip that is worn badly, and stood there afterwards", 9, 1_500, -610, true, false},
		{"hardly heard, and gone", 2, 1_300, -640, false, false},
		{"a log without strengths", 60, 150_000, race.NoRSSI, false, false},
	} {
		m := makeRace(t, 40)
		r := m.result("10")
		m.heardAs(&r.Passings[4], x.reads, x.long, x.peak)
		if x.again {
			m.add("10", 4, r.Passings[4].At.Add(60_000), race.StayedNear)
		}
		if !x.told {
			m.none(race.Clash)
			continue
		}
		if s := m.one("clash:10:finish"); s.Weight != race.Hold {
			t.Errorf("%s: %s", x.about, s.Says)
		}
		r.Status = race.DNF
		m.settle(m.st.ByBib["10"])
		if s := m.one("clash:10:finish"); s.Weight != race.Look {
			t.Errorf("%s, dnf: %s", x.about, s.Says)
		}
	}
}

// Where backup read somebody in time, how much too late main's faint reads are is known.
func TestBackupTellsWhoWasReadLateByMain(t *testing.T) {
	m := makeRace(t, 40)
	r := m.result("10")
	p := &r.Passings[4]
	was := *p
	was.Split, was.Fate, was.Bursts[race.Main] = -1, race.StayedNear, nil
	p.At = p.At.Add(25_000)
	m.heardAs(p, 60, 150_000, -610)
	p.Bursts[race.Backup] = nil
	r.Passings = []race.Passing{r.Passings[0], r.Passings[1], r.Passings[2], r.Passings[3], was, *p}
	r.Filled[4] = 5
	m.settle(m.st.ByBib["10"])
	if s := m.one("clash:10:finish"); s.Evidence[:5] == "stood" {
		t.Error(s.Says)
	}
}
