package story

import (
	"slices"
	"testing"
)

// Whoever reads an accept's reason, "looked at, right as it stands", must not find the same words
// over a case that nobody has looked at.
func TestACaseIsToldByHowItStands(t *testing.T) {
	for _, x := range []struct {
		c    Case
		want string
	}{
		{Case{ID: "overdue:7", Weight: "look", Status: "open"}, "open, to look at: overdue:7"},
		{Case{ID: "clash:7:10k", Weight: "hold", Status: "open"}, "held for clash:7:10k"},
		{Case{ID: "overdue:7", Weight: "look", Status: "settled"}, "settled: overdue:7"},
		{Case{ID: "overdue:7", Weight: "look", Status: "settled", Ruling: 3}, "settled by ruling 3: overdue:7"},
	} {
		s := &Story{Bib: "7", Cases: []Case{x.c}}
		if lines := s.Lines(); !slices.Contains(lines, x.want) {
			t.Errorf("%+v is told as\n%q, want %q among it", x.c, lines, x.want)
		}
	}
}
