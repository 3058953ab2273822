// Package ruling tells what rulings mean: what they make of plan and lists, whether one can
// apply, and how one is written and read. Rulings are replayed in order; a later one wins,
// and an undo is a ruling too.
package ruling

import "twinmat/reconcile/race"

// BibSplit names one split of one bib.
type BibSplit struct{ Bib, Split string }

// VoidReads says that what was read at a line between two moments of the race clock counts
// for nothing.
type VoidReads struct {
	Line     int
	System   race.System
	All      bool // every system of the line
	From, To race.Instant
	Seq      int
}

// WitnessRead is a bib seen by eye at a line.
type WitnessRead struct {
	Bib   string
	Line  int
	At    race.Instant
	Seq   int
	Shown string // what the systems had read of them there when it was ruled
}

// TimeRuling is a time from another witness.
type TimeRuling struct {
	At        race.Instant
	PlusMinus race.Millis
	Seq       int
	Shown     string // what the systems said when it was ruled
}

// SystemRuling takes one system's time for a split.
type SystemRuling struct {
	System race.System
	Seq    int
}

// VoidPassing says that a passing near a moment didn't happen.
type VoidPassing struct {
	Bib  string
	Line int
	At   race.Instant
	Seq  int
}

// StatusRuling is dns, dnf, dsq, or "" for none.
type StatusRuling struct {
	Status string
	Made   race.Instant
	Seq    int
}

// ClockRuling is a clock decided by hand: an offset (that clock minus its reference's, for a
// reference minus the race clock), from a moment on or for the whole race; or which of two
// clocks it was that stepped.
type ClockRuling struct {
	Line    int
	System  race.System
	Offset  race.Millis
	From    race.Instant // NoInstant: the whole race
	Stepped string       // "" : an offset; else the system that stepped
	Right   string       // before, after: the side that keeps its times
	Seq     int
}

// AcceptRuling settles a suspect as it was shown.
type AcceptRuling struct {
	Seq      int
	Evidence string
}

// Effects is what the standing rulings make of plan and lists, and what they decide. Undone
// ones are left out of everything but Undone and ByBib. Nothing in it may be changed: what no
// ruling touched is the caller's own.
type Effects struct {
	Plan         *race.Plan // guns set; the plan itself when none was
	Athletes     []race.Athlete
	Chips        []race.Chip    // in order of precedence: what was assigned last first, then the list's
	AssignedSeq  map[string]int // tag to the last seq that assigned it
	Ignored      map[string]int // tag to seq
	Swaps        [][2]string    // in order; each exchanges all chips of two bibs
	VoidReads    []VoidReads
	Adjust       map[string]race.Millis // summed
	Closed       map[int]int            // course to seq
	Witnesses    []WitnessRead
	SetTimes     map[BibSplit]TimeRuling
	UseSystem    map[BibSplit]SystemRuling
	VoidPassings []VoidPassing
	Status       map[string]StatusRuling
	Clocks       []ClockRuling
	Accepts      map[string]AcceptRuling
	Undone       map[int]int      // seq to the seq that took it back
	Idle         map[int]string   // seq to why it changes nothing: plan or lists have changed since
	ByBib        map[string][]int // seqs that concern a bib, undone ones too
}
