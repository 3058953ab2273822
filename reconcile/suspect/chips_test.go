package suspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

func TestAnUnknownChipGoesToWhoeverIsMissing(t *testing.T) {
	m := makeRace(t, 300)
	m.stray("40", "FFFF0001")
	s := m.one("unassigned-chip:FFFF0001")
	if s.Proposes != "assign-chip --tag FFFF0001 --bib 40" || s.Weight != race.Hold || s.Holds != nil || !s.Strong {
		t.Errorf("%+v", s)
	}
}

func TestTwoUnknownChipsAreGivenToTwo(t *testing.T) {
	m := makeRace(t, 300)
	m.stray("40", "FFFF0001")  // wave A
	m.stray("260", "FFFF0002") // wave B
	if s := m.one("unassigned-chip:FFFF0001"); s.Proposes != "assign-chip --tag FFFF0001 --bib 40" {
		t.Errorf("%s: %s", s.Proposes, s.Says)
	}
	if s := m.one("unassigned-chip:FFFF0002"); s.Proposes != "assign-chip --tag FFFF0002 --bib 260" {
		t.Errorf("%s: %s", s.Proposes, s.Says)
	}
}

func TestAChipThatFitsNobodyIsIgnored(t *testing.T) {
	m := makeRace(t, 100)
	x := race.StrayTag{Tag: "0BADC0DE", Reads: 4, Lines: []int{3}, First: gunTime.Add(5400000), Last: gunTime.Add(5401000)}
	x.Passings = []race.Passing{passingAt(3, x.First, -1)}
	m.st.Strays = append(m.st.Strays, x)
	if s := m.one("unassigned-chip:0BADC0DE"); s.Proposes != "ignore-chip --tag 0BADC0DE" || !strings.Contains(s.Says, " to ") {
		t.Errorf("%+v", s)
	}
	m.st.Strays[0].Reads, m.st.Strays[0].Last = 1, x.First // one read is from no time to another
	if s := m.one("unassigned-chip:0BADC0DE"); strings.Contains(s.Says, " to ") {
		t.Errorf("%+v", s)
	}
	m.st.Strays[0].Ignored = true
	m.none(race.UnassignedChip)
}

func TestABibThatTheListLacksIsAddedToTheWaveItRanWith(t *testing.T) {
	m := makeRace(t, 200)
	r := m.result("150")
	r.Listed, r.Course, r.Wave, r.Gun = false, -1, -1, race.NoInstant
	r.Splits, r.Filled, r.Finish, r.State = nil, nil, -1, "running"
	for k := range r.Passings {
		r.Passings[k].Split, r.Passings[k].Fate = -1, race.NotOnCourse
	}
	s := m.one("unlisted-bib:150")
	if s.Proposes != "add-athlete --bib 150 --wave B" || s.Weight != race.Hold {
		t.Errorf("%+v", s)
	}
	r.Passings = r.Passings[:1]
	if s := m.one("unlisted-bib:150"); !strings.Contains(s.Says, "a chip and 1 passing, ") {
		t.Error(s.Says)
	}
}

func TestAllChipsOfABibThatNobodyHasAreIgnoredTogether(t *testing.T) {
	m := makeRace(t, 200)
	r := m.result("150")
	r.Listed, r.Course, r.Wave, r.Gun = false, -1, -1, race.NoInstant
	r.Splits, r.Filled, r.Finish, r.State = nil, nil, -1, "running"
	for k := range r.Passings {
		r.Passings[k].Split, r.Passings[k].Fate = -1, race.NotOnCourse
	}
	r.Chips = []string{"AA01", "AA02"}
	s := m.one("unlisted-bib:150")
	if s.Tag != "AA01" || !slices.Contains(s.Others, "ignore-chip --tag AA01 --tag AA02") {
		t.Errorf("%s: %q", s.Tag, s.Others)
	}
}

func TestMainLongAfterBackupHolds(t *testing.T) {
	m := makeRace(t, 60)
	p := &m.result("5").Passings[4]
	p.Seen[race.Main] = p.Seen[race.Main].Add(4000)
	p.At = p.Seen[race.Main]
	s := m.one("clash:5:finish")
	if s.Weight != race.Hold || s.Proposes != "use-system --bib 5 --split finish --system backup" {
		t.Errorf("%+v", s)
	}
	p.Seen[race.Main], p.Seen[race.Backup] = p.Seen[race.Backup], p.Seen[race.Main]
	p.At = p.Seen[race.Main]
	if s := m.one("clash:5:finish"); s.Weight != race.Look {
		t.Errorf("main first: %+v", s)
	}
	p.Bursts[race.Main].Count, p.Bursts[race.Main].Peak = 1, -700
	if s := m.one("clash:5:finish"); s.Weight != race.Hold {
		t.Errorf("main's a lone weak read: %+v", s)
	}
	p.PM[race.Backup] = 6000
	m.none(race.Clash)
}

func TestTwoChipsOfOneBibAtDifferentTimesPart(t *testing.T) {
	m := makeRace(t, 60)
	m.in.Seen = make([][]TagSeen, len(m.st.Results))
	for i, bib := range []string{"3", "33"} {
		other := []string{"33", "3"}[i]
		for n, of := range []string{bib, other} { // the second chip of each is on the other
			tag := fmt.Sprintf("T%d-%s", n+1, bib)
			s := TagSeen{Tag: tag}
			for _, p := range m.result(of).Passings {
				s.Passings = append(s.Passings, Sighting{Line: p.Line, System: race.Main, At: p.At})
			}
			k := m.st.ByBib[bib]
			m.in.Seen[k] = append(m.in.Seen[k], s)
			m.in.Chips = append(m.in.Chips, race.Chip{Tag: tag, Bib: bib})
		}
	}
	s := m.one("chips-apart:3")
	if s.Weight != race.Hold || s.Tag != "T2-3" || s.Proposes != "assign-chip --tag T2-3 --bib 33" {
		t.Errorf("%+v", s)
	}
	if s := m.one("chips-apart:33"); s.Proposes != "assign-chip --tag T2-33 --bib 3" {
		t.Errorf("%+v", s)
	}
}

// Of two bands that were put together wrongly one chip is given back, so one bib has three and the
// other one: the other chip is still told as the other's, as it was before, not as nobody's.
func TestTheSecondOfTwoMixedBandsIsStillTheOthers(t *testing.T) {
	for _, k := range []struct {
		name string
		two  bool // somebody else has one chip only too, and went round with them
		want string
	}{
		{"one lacks a chip", false, "assign-chip --tag T2-33 --bib 3"},
		{"two lack one, as likely", true, "ignore-chip --tag T2-33"},
	} {
		m := makeRace(t, 60)
		m.in.Seen = make([][]TagSeen, len(m.st.Results))
		tags := []string{"T1-33", "T2-3", "T2-33"}
		for n, of := range []string{"33", "33", "3"} {
			s := TagSeen{Tag: tags[n]}
			for _, p := range m.result(of).Passings {
				s.Passings = append(s.Passings, Sighting{Line: p.Line, System: race.Main, At: p.At})
			}
			i := m.st.ByBib["33"]
			m.in.Seen[i] = append(m.in.Seen[i], s)
		}
		if k.two {
			m.result("4").Passings = m.result("3").Passings
		}
		if s := m.one("chips-apart:33"); s.Proposes != k.want {
			t.Errorf("%s: proposes %q, want %q; it says %s", k.name, s.Proposes, k.want, s.Says)
		}
	}
}

// Each runner of a relay's team wears a chip of the team's bib: on a course where nearly everybody's
// chips part nobody is told so, and of few whose chips part while others' don't each is.
func TestTheChipsOfTeamsPartRightly(t *testing.T) {
	for _, k := range []struct{ parted, together, told int }{{8, 0, 0}, {8, 2, 0}, {2, 0, 2}, {4, 4, 4}, {3, 20, 3}} {
		m := makeRace(t, 60)
		m.in.Seen = make([][]TagSeen, len(m.st.Results))
		for n := range k.parted + k.together {
			later := race.Millis(0)
			if n < k.parted {
				later = 1800_000
			}
			r := m.st.ByBib[strconv.Itoa(n+1)]
			at := m.st.Results[r].Passings[1].At
			for c := range 2 {
				m.in.Seen[r] = append(m.in.Seen[r], TagSeen{Tag: fmt.Sprintf("T%d-%d", c, n+1), Passings: []Sighting{{Line: 1, System: race.Main, At: at}}})
				at = at.Add(later)
			}
		}
		if told := m.count(race.ChipsApart); told != k.told {
			t.Errorf("%d bibs whose chips part, %d whose chips don't: %d told, want %d", k.parted, k.together, told, k.told)
		}
	}
}

// A bib that the list lacks is told by itself; where teams run it may be one, and its chips part rightly.
func TestTheChipsOfATeamThatTheListLacks(t *testing.T) {
	for _, teams := range []int{0, 8} {
		m := makeRace(t, 60)
		m.in.Seen = make([][]TagSeen, len(m.st.Results))
		for n := range teams + 1 {
			at := m.st.Results[n].Passings[1].At
			for c := range 2 {
				m.in.Seen[n] = append(m.in.Seen[n], TagSeen{Tag: fmt.Sprintf("T%d-%d", c, n), Passings: []Sighting{{Line: 1, System: race.Main, At: at.Add(race.Millis(c) * 1800_000)}}})
			}
		}
		x := m.st.Results[teams]
		x.Course, x.Wave, x.Finish, x.Splits, x.Filled = -1, -1, -1, nil, nil
		for k := range x.Passings {
			x.Passings[k].Split = -1
		}
		if told := m.count(race.ChipsApart); told != 1-min(1, teams) {
			t.Errorf("beside %d teams: %d told", teams, told)
		}
	}
}

func TestOneBodyWithTwoBibsIsToldFromFriends(t *testing.T) {
	m := makeRace(t, 100)
	a, b := m.result("20"), m.result("21")
	for k := range a.Passings {
		at := a.Passings[k].At.Add([]race.Millis{120, -80, 60, -150, 40}[k])
		b.Passings[k].At = at
	}
	m.settle(m.st.ByBib["21"])
	if s := m.one("carried-together:20+21"); s.Weight != race.Look {
		t.Errorf("%+v", s)
	}
	for k := range a.Passings { // side by side, as friends run
		b.Passings[k].At = a.Passings[k].At.Add([]race.Millis{900, -700, 1300, 400, -1100}[k])
	}
	m.settle(m.st.ByBib["21"])
	m.none(race.CarriedTogether)
	b.Passings = b.Passings[:3] // as one body, at three lines
	for k := range b.Passings {
		b.Passings[k].At = a.Passings[k].At
	}
	b.Filled = []int{0, 1, 2, -1, -1}
	m.settle(m.st.ByBib["21"])
	m.none(race.CarriedTogether)
}

// beside makes an unknown tag that somebody wears beside their own chip, a little apart.
func (m *made) beside(bib, tag string, apart ...race.Millis) {
	x := race.StrayTag{Tag: tag, Passings: slices.Clone(m.result(bib).Passings), Reads: 90}
	for k := range x.Passings {
		x.Passings[k].Split = -1
		x.Passings[k].At = x.Passings[k].At.Add(apart[k])
		x.Lines = append(x.Lines, x.Passings[k].Line)
	}
	x.First, x.Last = x.Passings[0].At, x.Passings[len(x.Passings)-1].At
	m.st.Strays = append(m.st.Strays, x)
}

// Last year's chip beside the right one is nobody's who was never read, though one such of the
// wave would fit as well; the start is loose. It is left out, unless it saw what theirs didn't.
func TestAChipWornBesideTheRightOneIsItsWearers(t *testing.T) {
	m := makeRace(t, 300)
	m.miss("40", 0, 1, 2, 3, 4)
	m.result("40").State = "unseen"
	m.beside("59", "FFFF0001", 1100, -120, 60, 150, -90)
	s := m.one("unassigned-chip:FFFF0001")
	if s.Proposes != "ignore-chip --tag FFFF0001" || !slices.Equal(s.Bibs, []string{"59"}) || s.Others[0] != "assign-chip --tag FFFF0001 --bib 59" || !s.Strong {
		t.Errorf("%+v", s)
	}
	m.miss("59", 2)
	if s := m.one("unassigned-chip:FFFF0001"); s.Proposes != "assign-chip --tag FFFF0001 --bib 59" {
		t.Errorf("10 km was seen by it alone: %+v", s)
	}
}

// Of a bunch several come with a chip every time: none of them wears it.
func TestAChipThatSeveralWentWithIsNotWorn(t *testing.T) {
	m := makeRace(t, 300)
	m.miss("40", 0, 1, 2, 3, 4)
	m.result("40").State = "unseen"
	m.beside("59", "FFFF0001", 100, -120, 60, 150, -90)
	for k := range m.result("60").Passings {
		m.result("60").Passings[k].At = m.result("59").Passings[k].At.Add(20)
	}
	m.settle(m.st.ByBib["60"])
	if s := m.one("unassigned-chip:FFFF0001"); s.Proposes != "assign-chip --tag FFFF0001 --bib 40" {
		t.Errorf("%+v", s)
	}
}

// Who ran beside somebody for two lines of five, and elsewhere after, wears no chip of theirs.
func TestAChipThatPartsIsNotWorn(t *testing.T) {
	m := makeRace(t, 300)
	m.beside("59", "FFFF0001", 100, -120, 60, 60000, 90000)
	m.miss("40", 0, 1, 2, 3, 4)
	m.result("40").State = "unseen"
	if s := m.one("unassigned-chip:FFFF0001"); s.Proposes != "assign-chip --tag FFFF0001 --bib 40" {
		t.Errorf("%+v", s)
	}
}

// A test chip walked over all lines before the gun, and over two while the race runs as an
// absent athlete might have come, is nobody's.
func TestAChipWalkedOverTheLinesIsNobodys(t *testing.T) {
	m := makeRace(t, 300)
	m.stray("40", "FFFF0001")
	x := &m.st.Strays[0]
	x.Passings = x.Passings[1:3]
	for k := range 5 {
		p := passingAt(k, gunTime.Add(race.Millis(-3600000+600000*k)), -1)
		p.Fate = race.BeforeGun
		x.Passings = append(x.Passings, p)
	}
	slices.SortFunc(x.Passings, func(a, b race.Passing) int { return int(a.At - b.At) })
	if s := m.one("unassigned-chip:FFFF0001"); s.Proposes != "ignore-chip --tag FFFF0001" {
		t.Errorf("%+v", s)
	}
}

// Of two who were never read and run alike one is as likely as the other: the first is offered,
// and it is said that he is no likelier.
func TestAnOwnerWithoutAMarginIsSaidToBeADraw(t *testing.T) {
	m := makeRace(t, 300)
	m.stray("40", "FFFF0001")
	m.miss("43", 0, 1, 2, 3, 4)
	m.result("43").State = "unseen"
	for _, b := range []string{"40", "43"} {
		m.result(b).Sex, m.result(b).Category = "m", "M"
	}
	s := m.one("unassigned-chip:FFFF0001")
	if s.Strong || !strings.Contains(s.Says, "40, 43, one as likely as the next: ask") {
		t.Errorf("%+v", s)
	}
}

// Whose bib a person keyed as an unknown chip passed is its owner, of all who lack its passings; who
// was keyed at another time is no likelier than before.
func TestTheBibKeyedAsAChipPassedOwnsIt(t *testing.T) {
	for _, k := range []struct {
		late  race.Millis
		owner string
	}{{800, "43"}, {40_000, "40"}} {
		m := makeRace(t, 300)
		m.stray("43", "FFFF0001")
		m.miss("40", 0, 1, 2, 3, 4)
		m.result("40").State = "unseen"
		for _, b := range []string{"40", "43"} {
			m.result(b).Sex, m.result(b).Category = "m", "M"
		}
		m.add("43", 4, m.st.Strays[0].Last.Add(k.late), race.Extra)
		b := &m.result("43").Passings[0].Bursts
		b[race.Hand], b[race.Main], b[race.Backup] = &race.Burst{Source: -1, Count: 1}, nil, nil
		s := m.one("unassigned-chip:FFFF0001")
		if s.Proposes != "assign-chip --tag FFFF0001 --bib "+k.owner || s.Strong != (k.owner == "43") || strings.Contains(s.Says, "was keyed as it passed finish") != s.Strong {
			t.Errorf("keyed %v after it: %+v", k.late, s)
		}
	}
}

// Main's first read of somebody who stayed near comes late. Voiding it settles that where it was
// main's only one; who was read by main again then is as late by the next, and has backup's time.
func TestALateMainThatReadsOnIsNotVoided(t *testing.T) {
	m := makeRace(t, 60)
	r := m.result("5")
	p := &r.Passings[4]
	q := passingAt(p.Line, p.At, -1)
	q.Fate, q.Bursts[race.Main], q.Seen[race.Main] = race.StayedNear, nil, race.NoInstant
	p.At = p.At.Add(60_000)
	p.Bursts[race.Backup], p.Seen[race.Backup], p.Seen[race.Main] = nil, race.NoInstant, p.At
	late, backup := p.At, q.At
	r.Passings = append(r.Passings, q)
	void := fmt.Sprintf("void-passing --bib 5 --line finish --at %s", late.Format(m.plan.Zone))
	set := fmt.Sprintf("set-time --bib 5 --split finish --at %s", backup.Format(m.plan.Zone))
	if s := m.one("clash:5:finish"); s.Proposes != void || s.Others[0] != set {
		t.Errorf("once: %s, %q", s.Proposes, s.Others)
	}
	m.add("5", p.Line, late.Add(20_000), race.StayedNear)
	if s := m.one("clash:5:finish"); s.Proposes != set || s.Others[0] != void {
		t.Errorf("read on: %s, %q", s.Proposes, s.Others)
	}
}
