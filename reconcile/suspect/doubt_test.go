package suspect

import (
	"testing"

	"twinmat/reconcile/race"
)

// A start line whose clock nothing tells yet says nothing of guns and early starts.
func TestAClockThatNothingTellsAccusesNobody(t *testing.T) {
	m := makeRace(t, 60)
	for i := range m.st.Results {
		p := &m.st.Results[i].Passings[0]
		p.At = p.At.Add(-90_000)
		p.SetUnsure(race.Main, "no pairs")
		p.SetUnsure(race.Backup, "no pairs")
		m.settle(i)
	}
	m.none(race.DoubtfulGun, race.EarlyStart, race.WrongWave)
	for i := range m.st.Results {
		m.st.Results[i].Passings[0].SetUnsure(race.Main, "")
		m.st.Results[i].Passings[0].SetUnsure(race.Backup, "")
	}
	m.one(race.DoubtfulGun + ":A")
}

// Where main and backup differ alike for all who pass, nobody clashes; one alone does.
func TestWhoDiffersAsAllDoDoesNotClash(t *testing.T) {
	m := makeRace(t, 8)
	for i := range m.st.Results {
		p := &m.st.Results[i].Passings[2]
		p.Seen[race.Backup] = p.Seen[race.Main].Add(-1300)
	}
	m.none(race.Clash)
	p := &m.st.Results[3].Passings[1]
	p.Seen[race.Backup] = p.Seen[race.Main].Add(-1300)
	m.one(race.Clash + ":4:5k")
}

// One chip that lies beside a line and is missed again and again by one system is no silence.
func TestOneWhoWaitsBesideTheLineIsNoSilence(t *testing.T) {
	m := makeRace(t, 40)
	r := m.result("7")
	at := r.Passings[0].At.Add(-600_000)
	for n := range 8 {
		p := passingAt(0, at.Add(race.Millis(n*9000)), -1)
		p.Fate, p.Bursts[race.Backup], p.Seen[race.Backup] = race.BeforeGun, nil, race.NoInstant
		r.Passings = append(r.Passings[:n:n], append([]race.Passing{p}, r.Passings[n:]...)...)
	}
	for s := range r.Filled {
		r.Filled[s] += 8
	}
	m.none(race.SilentLog)
}

// A spare of a batch of its own ends in somebody's bib by chance, one of the list's batch
// because it is theirs.
func TestASpareThatEndsInABibIsNotTheirsByThat(t *testing.T) {
	m := makeRace(t, 60)
	m.in.Chips = nil
	for i := range m.st.Results {
		bib := m.st.Results[i].Bib
		m.in.Chips = append(m.in.Chips, race.Chip{Tag: "36C1000000"[:10-len(bib)] + bib, Bib: bib, From: race.NoInstant, To: race.NoInstant})
	}
	c := newField(m.in).chipList().codes
	if got := c.near(c.place("36C1009012"), "12"); got != 0 {
		t.Errorf("36C1009012 speaks for 12 with %v nats", got)
	}
	if got := c.near(c.place("36C1000012"), "12"); got <= 0 {
		t.Errorf("36C1000012 speaks for 12 with %v nats", got)
	}
}
