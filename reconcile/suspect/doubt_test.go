package suspect

import (
	"fmt"
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

// A box of spares beside backup's antenna, heard now and then before the first come, is no silence of main;
// chips that nobody owns on people who go by are, and which the list lacks.
func TestABoxOfSparesIsNoSilence(t *testing.T) {
	for _, k := range []struct {
		chips, times int
		silent       bool
	}{{8, 6, false}, {25, 1, true}} {
		m := makeRace(t, 40)
		for i := range k.chips {
			x := race.StrayTag{Tag: fmt.Sprintf("B0C000%02d", i), Reads: k.times, Lines: []int{2}}
			for n := range k.times {
				p := passingAt(2, gunTime.Add(race.Millis(600_000+150_000*n+7000*i)), -1)
				p.Bursts[race.Main], p.Seen[race.Main] = nil, race.NoInstant
				x.Passings = append(x.Passings, p)
			}
			x.First, x.Last = x.Passings[0].At, x.Passings[k.times-1].At
			m.st.Strays = append(m.st.Strays, x)
		}
		if n := m.count(race.SilentLog); (n > 0) != k.silent {
			t.Errorf("%d chips %d times each: %d silences", k.chips, k.times, n)
		}
	}
}

// A field that waits for the gun before main's antenna, out of backup's reach, is no silence of
// backup, whether its bursts are long or many; one that warms up over the line, and backup reads
// nobody, is.
func TestAFieldThatWaitsForTheGunIsNoSilence(t *testing.T) {
	for _, k := range []struct {
		name   string
		bursts int
		length race.Millis
		silent bool
	}{{"one long burst each", 1, 40_000, false}, {"many short ones", 5, 1000, false}, {"a crossing each", 1, 3000, true}} {
		m := makeRace(t, 40)
		for i := range 20 {
			r := m.st.Results[i]
			for n := k.bursts - 1; n >= 0; n-- {
				p := passingAt(0, r.Gun.Add(race.Millis(-300_000+2000*i+8000*n)), -1)
				p.Fate, p.Bursts[race.Backup], p.Seen[race.Backup] = race.BeforeGun, nil, race.NoInstant
				b := *p.Bursts[race.Main]
				b.SetLast(b.First.Add(k.length))
				p.Bursts[race.Main] = &b
				r.Passings = append([]race.Passing{p}, r.Passings...)
			}
			for s := range r.Filled {
				r.Filled[s] += k.bursts
			}
		}
		if n := m.count(race.SilentLog); (n > 0) != k.silent {
			t.Errorf("%s: %d silences", k.name, n)
		}
	}
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

// Who goes over two lines before the gun, or stands on one after it, waits at neither.
func TestWhoGoesOnDoesNotWait(t *testing.T) {
	at := func(line int, seconds int, fate race.Fate) race.Passing {
		p := passingAt(line, gunTime.Add(race.Millis(1000*seconds)), -1)
		p.Fate = fate
		return p
	}
	for _, k := range []struct {
		name string
		ps   []race.Passing
		want bool
	}{
		{"waits", []race.Passing{at(0, -90, race.BeforeGun), at(0, -50, race.BeforeGun)}, true},
		{"goes on", []race.Passing{at(0, -90, race.BeforeGun), at(1, -50, race.BeforeGun)}, false},
		{"comes again much later", []race.Passing{at(0, -200, race.BeforeGun), at(0, -50, race.BeforeGun)}, false},
		{"stands at the finish", []race.Passing{at(0, 4000, race.InSplit), at(0, 4040, race.StayedNear)}, false},
	} {
		for n := range k.ps {
			if inPen(k.ps, n) != k.want {
				t.Errorf("%s: passing %d", k.name, n)
			}
		}
	}
}
