package suspect

import (
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// keyed makes a bib's finish one that a person keyed alone.
func (m *made) keyed(bib string) *race.Passing {
	r := m.result(bib)
	p := &r.Passings[r.Filled[4]]
	p.Bursts[race.Hand], p.Bursts[race.Main], p.Bursts[race.Backup] = &race.Burst{Source: 10, First: p.At, Count: 1, Peak: race.NoRSSI}, nil, nil
	p.From, p.PlusMinus = race.FromHand, 1200
	return p
}

func TestABibKeyedBeforeItWasReadHolds(t *testing.T) {
	for _, c := range []struct {
		name    string
		after   race.Millis
		systems [2]bool
		reads   int32
		witness int32
		want    bool
	}{
		{"half a minute before main and backup read it", 31000, [2]bool{true, true}, 9, 0, true},
		{"and main alone", 31000, [2]bool{true, false}, 9, 0, true},
		{"and backup alone", 31000, [2]bool{false, true}, 9, 0, true},
		{"a lone read of one system is of somebody who stays near", 31000, [2]bool{true, false}, 1, 0, false},
		{"an hour later they walk by", 3600000, [2]bool{true, true}, 9, 0, false},
		{"what was ruled seen by eye was seen", 31000, [2]bool{true, true}, 9, 3, false},
	} {
		m := makeRace(t, 60)
		p := m.keyed("9")
		p.Bursts[race.Hand].Witness = c.witness
		at := p.At
		m.add("9", 4, at.Add(c.after), race.StayedNear)
		r := m.result("9")
		q := &r.Passings[len(r.Passings)-1]
		for s, saw := range c.systems {
			if q.Bursts[s].Count = c.reads; !saw {
				q.Bursts[s] = nil
			}
		}
		var found *race.Suspect
		for _, s := range m.find() {
			if s.ID == "clash:9:finish" {
				found = &s
			}
		}
		if (found != nil) != c.want {
			t.Errorf("%s: %v", c.name, found)
			continue
		}
		if found != nil && (found.Weight != race.Hold || !strings.Contains(found.Says, "31.0 s later") || found.Proposes != voidPassing("9", "finish", at.Format(m.plan.Zone))) {
			t.Errorf("%s: %+v", c.name, found)
		}
	}
}

// One cause is told once: the passing that a keyed one clashes with is no extra passing besides.
func TestWhatAKeyedBibClashesWithIsToldOnce(t *testing.T) {
	m := makeRace(t, 60)
	at := m.keyed("9").At
	m.add("9", 4, at.Add(31000), race.Extra)
	for _, s := range m.find() {
		if s.Kind == race.ExtraPassing {
			t.Errorf("told twice: %s", s.Says)
		}
	}
	m.one("clash:9:finish")
}
