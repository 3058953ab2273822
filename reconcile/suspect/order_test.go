package suspect

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// What can still change the first places comes before what holds somebody far behind, even
// where it is only to look at; what changes nobody's time waits, whoever it is about.
func TestWhatMayMoveTheFirstPlacesComesBeforeAHoldFarBehind(t *testing.T) {
	m := makeRace(t, 60)
	winner, late := m.ranked(0), m.ranked(50)
	var found []race.Suspect
	for _, k := range []string{race.UnlikelyPace, race.WrongWave, race.Swapped, race.CarriedTogether, race.TooClose, race.Clash, race.ExtraPassing, race.OutButSeen, race.MissingStart} {
		found = append(found, suspect(k, race.Look, winner))
	}
	found = append(found, suspect(race.MissingSplit, race.Hold, late, "10k"))
	Order(m.in, found)
	var kinds []string
	for _, s := range found {
		kinds = append(kinds, s.Kind)
	}
	want := []string{race.CarriedTogether, race.Clash, race.Swapped, race.TooClose, race.UnlikelyPace, race.WrongWave, race.MissingSplit, race.ExtraPassing, race.MissingStart, race.OutButSeen}
	if !slices.Equal(kinds, want) {
		t.Errorf("the desk has\n%v, want\n%v", kinds, want)
	}
}
