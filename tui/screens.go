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

// shortNames stand in the line of screens where the names themselves don't fit.
var shortNames = []string{"desk", "cross", "people", "clock", "sys", "out", "rule", "export"}

// titles are the names in the line of screens at this width, and the blanks after each.
func (m *root) titles() (names []string, gap int) {
	long := 1
	for _, s := range m.screens {
		names = append(names, s.name())
		long += len(s.name()) + 4
	}
	switch {
	case long <= m.w:
		return names, 2
	case long-len(names) <= m.w+1: // the last one needs no blank after it
		return names, 1
	}
	return shortNames, 1
}

func newScreens(s *sight) []screen {
	l := []screen{newDesk(s), newCrossings(s), newAthletes(s), newClocks(s), newSystems(s), newOut(s), newRulings(s), newGoing(s)}
	for _, x := range l {
		x.sync()
	}
	return l
}
