package race

import (
	"fmt"
	"maps"
	"slices"
)

// The states of a result.
const (
	Clean   = "clean"
	Held    = "held"
	Running = "running"
	Unseen  = "unseen"
	DNS     = "dns"
	DNF     = "dnf"
	DSQ     = "dsq"
)

// States are all of them, in the order in which they are told.
var States = []string{Clean, Held, Running, Unseen, DNS, DNF, DSQ}

// Statuses are those that a list or a ruling gives.
var Statuses = []string{DNS, DNF, DSQ}

// NoStatus is the ruling that none of them stands.
const NoStatus = "none"

// How far somebody had been seen when a status was ruled: kept with the ruling, so that what a
// log tells that came later is told as news.
const (
	SeenNever      = "never read after the gun"
	SeenUnfinished = "not read at the finish"
	SeenFinish     = "read at the finish"
)

// Ends tells whether a passing is at the last split.
func (r *Result) Ends(p *Passing) bool { return p.Split >= 0 && p.Split == len(r.Splits)-1 }

// IdleRulings says of each ruling that stands and changes nothing why that is.
func (s *State) IdleRulings() []string {
	var out []string
	for _, seq := range slices.Sorted(maps.Keys(s.Idle)) {
		out = append(out, fmt.Sprintf("ruling %d changes nothing: %s", seq, s.Idle[seq]))
	}
	return out
}

// SeenSoFar is how far an athlete has been seen.
func SeenSoFar(r *Result) string {
	seen := SeenNever
	for k := range r.Passings {
		p := &r.Passings[k]
		switch {
		case p.Fate == Voided || p.From == FromRuling || r.Gun.Known() && p.At < r.Gun:
		case r.Ends(p):
			return SeenFinish
		default:
			seen = SeenUnfinished
		}
	}
	return seen
}
