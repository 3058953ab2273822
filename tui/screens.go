package tui

// The screens in the order of their numbers.
const (
	screenDesk = iota
	screenCrossings
	screenAthletes
	screenClocks
	screenSystems
	screenOut
	screenRulings
	screenGoing
)

// shortNames stand in the line of screens where it is narrow.
var shortNames = []string{"desk", "cross", "people", "clock", "system", "out", "rule", "go"}

func newScreens(s *sight) []screen {
	l := []screen{newDesk(s), newCrossings(s), newAthletes(s), newClocks(s), newSystems(s), newOut(s), newRulings(s), newGoing(s)}
	for _, x := range l {
		x.sync()
	}
	return l
}
