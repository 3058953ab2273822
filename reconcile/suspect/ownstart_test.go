package suspect

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// everyMinute gives everybody a start of their own, a minute after the one before, and lets them
// set out there.
func (m *made) everyMinute() {
	for i := range m.st.Results {
		r := m.st.Results[i]
		r.Start = gunTime.Add(race.Millis(60_000 * (i + 1)))
		r.Gun = r.Start
		m.shift(r.Bib, 0, r.Start.Add(race.Millis(500+7*i)).Sub(r.Passings[0].At))
	}
}

// Two who wore each other's chips set out at each other's start, however far apart those are;
// who is late alone, or whose slot another took who is not at theirs, is no pair.
func TestTwoWhoSetOutAtEachOthersStartAreSwapped(t *testing.T) {
	m := makeRace(t, 60)
	m.everyMinute()
	m.none(race.Swapped)
	m.exchange("7", "55")
	m.shift("20", 0, 300_000)  // late, at the start of 25
	m.shift("25", 0, 60_000)   // and 25 at that of 26
	m.shift("40", 0, -300_000) // early, at that of 35
	m.shift("35", 0, 60_000)
	if got := m.swaps(); !slices.Equal(got, []string{"swapped:7+55"}) {
		t.Fatalf("%v", got)
	}
	s := m.one("swapped:7+55")
	want := "7 set out at 09:55:00, which is the start of 55, and 55 at 09:07:00, which is that of 7: they may wear each other's bibs."
	if s.Says != want || s.Proposes != "swap-bibs --bib 7 --with 55" {
		t.Errorf("%s, %s", s.Says, s.Proposes)
	}
	m.result("7").Status = "dnf"
	m.none(race.Swapped)
}

// Who sets out is told by the last crossing of the start before the course goes on.
func TestWhoWarmsUpOverTheStartHasNotSetOut(t *testing.T) {
	m := makeRace(t, 20)
	m.everyMinute()
	m.exchange("3", "12")
	m.add("3", 0, gunTime.Add(20_000), race.BeforeGun)
	m.add("12", 4, gunTime.Add(90_000_000), race.Extra)
	if got := m.swaps(); !slices.Equal(got, []string{"swapped:3+12"}) {
		t.Errorf("%v", got)
	}
	// Where the starts are told wrong, as for all a quarter of an hour, nobody is off.
	for i := range m.st.Results {
		m.st.Results[i].Start -= 900_000
	}
	if got := m.swaps(); !slices.Equal(got, []string{"swapped:3+12"}) {
		t.Errorf("all starts a quarter of an hour off: %v", got)
	}
}

// Of a few the spread is too wide for anybody to be off.
func TestFourWhoSetOutTellNothing(t *testing.T) {
	m := makeRace(t, 4)
	m.everyMinute()
	m.exchange("1", "4")
	m.none(race.Swapped)
}
