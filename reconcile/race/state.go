package race

// Fate is what became of a passing.
type Fate uint8

// The fates of a passing.
const (
	InSplit    Fate = iota // fills a split
	Extra                  // fits no split: extra-passing
	StayedNear             // came again where the course can't have brought the athlete
	BeforeGun
	AfterLimit
	Voided
	NotOnCourse
	Started // the passing at the gun on the line of laps: the start, not a lap
)

func (f Fate) String() string {
	return [...]string{"in a split", "fits no split", "stayed near", "before the gun", "after the limit", "voided", "not on this course", "the start"}[f]
}

// From is what an exported time rests on.
type From uint8

// The sources of a time.
const (
	FromNone From = iota
	FromMain
	FromBackup
	FromHand
	FromRuling
)

func (f From) String() string { return [...]string{"", "main", "backup", "hand", "ruling"}[f] }

// FromSystem is the From of a system.
func FromSystem(s System) From { return FromMain + From(s) }

// Passing is one crossing of one line by one bib. A big race has a million of them.
type Passing struct {
	Line      int
	Bursts    [Systems]*Burst  // nil where the system saw nothing
	Seen      [Systems]Instant // each system's time on the race clock, NoInstant where it saw nothing
	PM        [Systems]Millis  // its 95 % half-width
	At        Instant          // the one time kept
	PlusMinus Millis
	Split     int // index among the athlete's splits, -1: none
	Ruling    int // seq of the ruling that decided time or fate, 0: none
	From      From
	Fate      Fate
	Doubtful  bool             // another assignment is nearly as likely
	unsure    *[Systems]string // nil: every system's time can be trusted
}

// Unsure tells why a system's time can't be trusted yet, a step or too few pairs; "" where it
// can.
func (p *Passing) Unsure(s System) string {
	if p.unsure == nil {
		return ""
	}
	return p.unsure[s]
}

// SetUnsure says why a system's time can't be trusted yet, "" that it can. Copies of the
// passing stay as they are.
func (p *Passing) SetUnsure(s System, why string) {
	if p.Unsure(s) == why {
		return
	}
	var all [Systems]string
	if p.unsure != nil {
		all = *p.unsure
	}
	if all[s] = why; all == [Systems]string{} {
		p.unsure = nil
		return
	}
	p.unsure = &all
}

// Same tells whether two passings are of the same bursts, and everything told of them is the same.
func (p *Passing) Same(q *Passing) bool {
	a, b := *p, *q
	a.unsure, b.unsure = nil, nil
	return a == b && (p.unsure == q.unsure || p.unsure != nil && q.unsure != nil && *p.unsure == *q.unsure)
}

// Result is one athlete's race as it stands.
type Result struct {
	Athlete
	Listed   bool // in athletes.csv or added by a ruling
	Course   int
	Gun      Instant // the gun that counts for them
	Passings []Passing
	Chips    []string // the tags that are theirs, read or not, in order of precedence; of who is on no list, those read
	Splits   []Split  // their course's, open laps written out as far as they came
	Filled   []int    // per split the index in Passings, -1: none

	State     string // clean, held, running, unseen, dns, dnf, dsq
	StartAt   Instant
	Finish    int // index in Splits of what counts as their finish, -1: none
	FinishAt  Instant
	From      From
	PM        Millis
	GunTime   Millis // gun to finish
	NetTime   Millis // own start to finish
	Official  Millis // the one of them that ranks, adjusted and rounded
	Adjust    Millis
	Laps      int
	LastSplit string

	HeldFor []string // ids of the open suspects that hold it, in order of the worklist
	Rulings []int    // seqs that concern this bib, undone ones too
}

// Ranks are somebody's places on their course: among all, their sex, their category; 0: none.
type Ranks struct{ All, Sex, Category int32 }

// ClockStretch is one stretch of time on which one model of one log's clock holds.
type ClockStretch struct {
	Line      int
	Source    int
	From, To  Instant // on the race clock
	Offset    float64 // seconds, that clock minus its reference's at the middle
	DriftPPM  float64
	Behind    float64 // metres
	PlusMinus float64 // seconds, 95 % half-width of Offset
	Spread    float64 // seconds, robust spread of the residuals
	Pairs     int
	Fixed     bool
	Says      string // in words: what was fitted, what was not and why
}

// ClockPoint is one pair on the Clocks screen.
type ClockPoint struct {
	At       Instant // race clock
	Residual float64 // seconds from the model
	Weight   float64 // 0: rejected as an outlier
}

// SystemRow is how one system did at one line.
type SystemRow struct {
	Line        int
	System      System
	Sources     []int
	Reads       int
	Tags        int
	Passings    int
	SeenOfAll   float64 // NaN: nothing to see
	First, Last Instant
	BadLines    int
	Repeated    int
	MissedByAll float64 // NaN: no estimate
	MissedSays  string  // what the estimate rests on
}

// StrayTag is a tag that belongs to nobody on the list.
type StrayTag struct {
	Tag     string
	Ignored bool
	Reads   int
	Lines   []int
	First   Instant
	Last    Instant
	// Passings are made as for a bib, so that an owner can be judged by them.
	Passings []Passing
}

// Sums account for every read.
type Sums struct {
	Lines, Kept, Repeated, Bad, Waiting int
	InPassings                          int // in passings of a listed or chips.csv bib, whatever their fate but those below
	Unassigned                          int // of tags nobody owns
	Ignored                             int // ignored chip
	Voided                              int // void-reads
	Elsewhere                           int // outside the log's from, to
	TwinLog                             int // in a backup that is main's own log again
}

// State is the race as it stands: everything that a screen shows or an export writes.
// It is made whole, never changed after, and may be read from any goroutine.
type State struct {
	Plan       *Plan
	Now        Instant   // race clock: the latest minute in which two tags or two systems were read
	Results    []*Result // in order of bib; states share those that are the same
	Ranks      []Ranks   // per result
	Expected   []Instant // per result: at the next split, as those like them went on; NoInstant: they are in, or nothing tells
	ByBib      map[string]int
	Suspects   []Suspect // most urgent first, settled ones last
	Clocks     []ClockStretch
	Laid       [][]Laid       // per source: how plan, rulings and votes lay its clock; of two that tell of a moment the later
	Points     [][]ClockPoint // per source
	Systems    []SystemRow
	Strays     []StrayTag
	MoreStrays int            // tags that nobody owns beyond those, each read at fewer places or less often: only counted
	Rulings    []Ruling       // all of them; undone ones are listed in Undone
	Undone     map[int]int    // seq of a ruling to the seq of its undo
	Idle       map[int]string // seq of a ruling that stands and changes nothing to why: plan or lists are others since
	Inputs     []*Reads       // per source
	Sums       Sums
	Closed     []bool // per course: nobody else will come
}

// RanksOf are the places of a state's result.
func (s *State) RanksOf(r *Result) Ranks {
	if i, ok := s.ByBib[r.Bib]; ok && i < len(s.Ranks) {
		return s.Ranks[i]
	}
	return Ranks{}
}

// Began is when the clock of a split time starts: the gun, or their own start where net
// time ranks.
func (s *State) Began(r *Result) Instant {
	if r.Course >= 0 && r.Course < len(s.Plan.Courses) && s.Plan.Courses[r.Course].Official.Net && r.StartAt.Known() {
		return r.StartAt
	}
	return r.Gun
}

// Reached is the last split an athlete filled, and when; -1 and NoInstant for none.
func (r *Result) Reached() (int, Instant) {
	for i := len(r.Filled) - 1; i >= 0; i-- {
		if k := r.Filled[i]; k >= 0 && k < len(r.Passings) {
			return i, r.Passings[k].At
		}
	}
	return -1, NoInstant
}
