package tui

import (
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// way is what may be decided of all: a kind of ruling that each offers for itself.
type way struct {
	verb string // "" : accept
	like string // that of the one they are like
}

func (w way) accepts() bool { return w.verb == "" }

// of is the ruling it comes to for a case, "" where that offers none such.
func (w way) of(s *race.Suspect) string {
	if w.accepts() {
		return race.AcceptLine(s.ID)
	}
	for _, line := range append([]string{s.Proposes}, s.Others...) {
		if verbOf(line) == w.verb {
			return line
		}
	}
	return ""
}

// waysOf are what may be decided, the likeliest first.
func waysOf(s *race.Suspect) []way {
	ways := []way{{}}
	if s.Proposes != "" && !isAccept(s.Proposes) {
		ways = nil
	}
	for _, line := range append([]string{s.Proposes}, s.Others...) {
		verb := verbOf(line)
		known := slices.ContainsFunc(ways, func(w way) bool { return w.verb == verb })
		if verb != "" && !isAccept(line) && !known {
			ways = append(ways, way{verb, line})
		}
	}
	if slices.Contains(ways, way{}) {
		return ways
	}
	return append(ways, way{})
}

// verbOf is the kind of a ruling that is offered, and the status where it sets one.
func verbOf(line string) string {
	verb, _, _ := strings.Cut(line, " ")
	if _, status, ok := strings.Cut(line, " --status "); ok {
		status, _, _ = strings.Cut(status, " ")
		verb += " " + status
	}
	return verb
}
