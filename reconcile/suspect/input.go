// Package suspect finds what a person must look at before a race's results can be trusted:
// the kinds of contract section 6, each a pure function of the race's state, with its
// evidence in numbers and with the ruling that is likeliest to settle it.
//
// Thresholds come from this race's own field wherever it can tell (medians and MADs, which
// outliers don't move); the constants beside them are floors, each with its reason.
package suspect

import (
	"fmt"
	"slices"

	"twinmat/reconcile/race"
)

// Input is what suspects are found from: the state with results, passings, strays, clocks
// and systems filled in, and what only the engine knows. Nothing in it is changed.
type Input struct {
	Each       func(n int, f func(i int)) // calls f for 0…n-1, at once if it can; nil: in turn
	State      *race.State                // Plan, Now, Results in order of bib, ByBib, Strays, Clocks, Systems, Rulings, Undone, Closed
	Memory     *Memory                    // of the search before; nil: none
	Same       bool                       // the results are those of the search before but for Changed, the plan and the lists too, and so are the rulings on all others
	Changed    []int                      // results
	Grown      bool                       // logs only grew, and every chip is whose it was
	Steps      []ClockStep                // jumps that the clocks' fits found
	Unsure     []ClockUnsure
	TwinLogs   []TwinLog
	Asked      []bool      // per result: they tell of the field; nil: all do
	Many       int         // times of theirs from which on the newest wait; 0: none do
	Chips      []race.Chip // effective owners, after rulings
	Seen       [][]TagSeen // per result: each tag that was read, of who has several; the same ones in memory as long as they are the same. nil: nobody has
	Adrift     []race.Suspect
	OutOfOrder []string                                   // bibs whose passings no order of the course gives
	Voided     []Voided                                   // stretches in which a ruling lets no read count
	Accepted   func(id string) (evidence string, ok bool) // what a person found right as it stands, and on which evidence, empty: any; nil: nothing
}

// accepted tells whether a person found a suspect right as it stands, on the evidence that it has.
func (in *Input) accepted(s *race.Suspect) bool {
	if in.Accepted == nil {
		return false
	}
	evidence, ok := in.Accepted(s.ID)
	return ok && (evidence == "" || evidence == s.Evidence)
}

// ClockStep is one jump of one log's clock against its line's reference.
type ClockStep struct {
	Line, Source  int
	Before, After race.Instant // the last pair before and the first after, on the race clock
	SizeS         float64      // seconds, after minus before
	PlusMinusS    float64
	Pairs         int     // of the smaller side
	Main          bool    // a ruling ascribes it to the reference
	Back          bool    // main was set back: the race clock tells the times from After to Before twice
	On            bool    // main was set on: by it nobody came for longer than ever, by the other log as always
	Told          string  // "main", "other": whose step other comparisons show it to be; "" : nothing
	EveryS        float64 // seconds from crossing to crossing beside it; 0: unknown
	Ruled         int     // seq of the set-clock that decided it, 0: none
}

// ClockUnsure is a log whose offset rests on too little.
type ClockUnsure struct {
	Line, Source int
	Why          string
	OffsetS      float64 // the best guess, that clock minus its reference's; NaN: none
	Pairs        int
	Set          string // how plan or a ruling sets it, which an accept is bound to; "": they don't
}

// TwinLog is a log that is its line's reference again: left out.
type TwinLog struct {
	Line, Source int
	Reads, Equal int // all its reads, and those that stand in the reference's too
}

// Voided is a stretch in which no read of a system counts, since a person said so.
type Voided struct {
	Line     int
	System   race.System
	All      bool // every system of the line
	From, To race.Instant
}

// TagSeen is what one of a bib's chips did.
type TagSeen struct {
	Tag      string
	Passings []Sighting // in order of time
}

// Sighting is one passing of one tag on the race clock.
type Sighting struct {
	Line   int
	System race.System
	At     race.Instant
}

// finder finds one kind of suspect, or one of the ways in which a kind comes about.
type finder func(*field) []race.Suspect

// inTurn read each the word that those before it left.
var inTurn = []finder{lineOff, doubtfulGun, otherCourse, swapped, impossiblePace, outOfOrder}

// atOnce read the word of all those and nothing of each other, and each writes only what it keeps
// for itself; the long ones stand first.
var atOnce = []finder{
	unassignedChip, silentLog, unlikelyPace, doubtfulLap, overdue, carriedTogether, clash,
	earlyStart, wrongWave, missingSplit, missingStart, unlistedBib, chipsApart,
	extraPassing, outButSeen, tooClose, clockStep, clockUnsure, twinLogs,
}

// Search is one look at a race.
type Search struct{ f *field }

// Begin reads what changed since the search before.
func Begin(in *Input) *Search { return &Search{fieldOf(in)} }

// Find is all suspects of the race as it stands, in no promised order.
func (s *Search) Find() []race.Suspect {
	f, in := s.f, s.f.in
	out := f.leaveWord()
	found := make([][]race.Suspect, len(atOnce))
	in.each(len(atOnce), func(i int) { found[i] = atOnce[i](f) })
	out = withoutMixed(slices.Concat(append(found, out)...), f.mixed)
	overtaken(f, out)
	f.searched = true
	f.turn++
	return append(out, in.Adrift...)
}

// leaveWord finds what those kinds find whose word others read, and works out what those that read at
// once share.
func (f *field) leaveWord() []race.Suspect {
	var out []race.Suspect
	for _, find := range inTurn {
		out = append(out, find(f)...)
	}
	f.exchanges(out)
	f.news.sameWord = !f.news.all && f.word.equal(&f.before)
	f.byLine()
	f.allLevels()
	f.allOffOwnPace()
	return out
}

// Unstarted are, after Find, those of whom no start passing is known.
func (s *Search) Unstarted() []race.Suspect { return s.f.unstarted }

// tells tells whether a result is asked of the field.
func (in *Input) tells(i int) bool { return in.Asked == nil || in.Asked[i] }

func (in *Input) each(n int, f func(i int)) {
	if in.Each != nil {
		in.Each(n, f)
		return
	}
	for i := range n {
		f(i)
	}
}

// withoutMixed leaves out what only follows from mixed-up bands: pairs that go together,
// passings that fit no split and odd paces of bibs whose chips part, which tells it better.
func withoutMixed(found, parted []race.Suspect) []race.Suspect {
	if len(parted) == 0 {
		return found
	}
	apart := map[string]bool{}
	for i := range parted {
		for _, b := range parted[i].Bibs {
			apart[b] = true
		}
	}
	return slices.DeleteFunc(found, func(s race.Suspect) bool {
		return race.SuspectKindOf(s.Kind).OfMixedChips && !slices.ContainsFunc(s.Bibs, func(b string) bool { return !apart[b] })
	})
}

// overtaken settles what a ruled status has answered: splits and paces of an athlete who is
// out by a ruling are nobody's question any more.
func overtaken(f *field, found []race.Suspect) {
	ruled := f.statusRulings()
	if len(ruled) == 0 {
		return
	}
	for i := range found {
		s := &found[i]
		if !race.SuspectKindOf(s.Kind).EndsByStatus {
			continue
		}
		for _, b := range s.Bibs {
			k, ok := f.st.ByBib[b]
			if x, by := ruled[b]; ok && by && uncounted(f.st.Results[k]) {
				s.Settled, s.SettledBy = true, x.seq
			}
		}
	}
}

// suspect begins one: kind, id and weight; the id's parts as contract section 8 has them.
func suspect(kind string, weight race.Weight, bib string, more ...string) race.Suspect {
	id := kind
	if bib != "" {
		id += ":" + bib
	}
	for _, m := range more {
		id += ":" + m
	}
	s := race.Suspect{Finding: &race.Finding{ID: id, Kind: kind, Weight: weight, At: race.NoInstant}}
	if bib != "" {
		s.Bibs = []string{bib}
		if weight == race.Hold {
			s.Holds = s.Bibs
		}
	}
	return s
}

// holds is the weight of what holds a result that counts: one that is out by its status holds nobody up.
func holds(r *race.Result) race.Weight {
	if uncounted(r) {
		return race.Look
	}
	return race.Hold
}

// pairID is the id of a suspect about two bibs, the lower first.
func pairID(kind, a, b string) (string, []string) {
	if race.CompareBibs(a, b) > 0 {
		a, b = b, a
	}
	return kind + ":" + a + "+" + b, []string{a, b}
}

func arg(s string) string { return race.Arg(s) }

func accept(id string) string { return race.AcceptLine(id) }

func ignoreChip(tags ...string) string {
	s := "ignore-chip"
	for _, tag := range tags {
		s += " --tag " + arg(tag)
	}
	return s
}

func assignChip(tag, bib string) string {
	return "assign-chip --tag " + arg(tag) + " --bib " + arg(bib)
}

func setStatus(bib, status string) string {
	return fmt.Sprintf("set-status --bib %s --status %s", arg(bib), status)
}
