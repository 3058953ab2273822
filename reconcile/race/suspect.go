package race

import "slices"

// Weight is whether a suspect holds its athlete's result.
type Weight uint8

// The weights: Look is worth a look, Hold keeps the time from going out.
const (
	Look Weight = iota
	Hold
)

func (w Weight) String() string { return [...]string{"look", "hold"}[w] }

// Suspect is something a person must look at before the result can be trusted: what was found, and
// where it stands on the worklist by now.
type Suspect struct {
	*Finding
	Settled   bool
	SettledBy int // seq of the ruling
	Urgency   int // greater comes first
}

// Own is the suspect with a finding of its own, to change.
func (s Suspect) Own() Suspect {
	f := *s.Finding
	s.Finding = &f
	return s
}

// Equal tells whether two findings tell the same.
func (f *Finding) Equal(g *Finding) bool {
	return f.ID == g.ID && f.Kind == g.Kind && f.Weight == g.Weight && slices.Equal(f.Bibs, g.Bibs) && slices.Equal(f.Holds, g.Holds) && f.Tag == g.Tag &&
		f.Line == g.Line && f.Split == g.Split && f.At == g.At && f.Says == g.Says && f.Proposes == g.Proposes && slices.Equal(f.Others, g.Others) &&
		f.Strong == g.Strong && f.Evidence == g.Evidence
}

// Finding is what somebody who looks for suspects found. It is shared by all states in which it stays as it
// is, and none changes it: a worklist of thousands is short to copy.
type Finding struct {
	ID       string // stable from run to run
	Kind     string // a name in SuspectKinds
	Weight   Weight
	Bibs     []string // whom it concerns
	Holds    []string // bibs whose result it holds while open; a subset of Bibs, or those resting on a clock
	Tag      string
	Line     string // id
	Split    string // id
	At       Instant
	Says     string   // the evidence, in numbers, one sentence
	Proposes string   // the likeliest ruling as arguments of `rule`, e.g. "set-status --bib 327 --status dnf"; may be ""
	Others   []string // further rulings worth offering, likeliest first, the same form
	Strong   bool     // the proposal is much likelier than the next
	Evidence string   // what an accept binds to: changes when what matters changes, and only then
}
