package race

// SuspectKind is a kind of suspect, and what everybody asks about kinds.
type SuspectKind struct {
	Name  string // as ids, exports and rulings write it
	Words string // as people say it
	IDOf  IDOf   // whom an id tells of: an accept of it stands in their story

	MovesTimes   bool // settling one that is only to look at can move a finish or a rank
	EndsByStatus bool // nobody's question any more once its athlete is ruled dns, dnf or dsq
	OfOneCause   bool // one fault or habit makes many of it, which one decision may settle; others are a question each
	OfMixedChips bool // of bibs whose chips part it only follows from that, which chips-apart tells better
	Field        bool // a whole field's times hang on it, whomever it holds: it stands with what holds many

	RaceWide RaceWide
}

// RaceWide is whether a kind costs the times of many, so that the console interrupts for it.
type RaceWide uint8

// How much a kind costs.
const (
	CostsFew RaceWide = iota
	CostsMany
	CostsManyNow // the longer it stands the more
)

// IDOf is whom what follows a kind in an id names (contract section 8, Ids).
type IDOf uint8

// What an id names after its kind.
const (
	OfNobody IDOf = iota // a line, a log, a chip, a wave
	OfBib                // 214
	OfBibAt              // 214:10k
	OfPair               // 214+377
	OfRuling             // 7: those whom that ruling is about
)

// The kinds of suspect (contract section 6); each has its row in SuspectKinds.
const (
	MissingSplit    = "missing-split"
	MissingStart    = "missing-start"
	Swapped         = "swapped"
	OtherCourse     = "other-course"
	DoubtfulGun     = "doubtful-gun"
	EarlyStart      = "early-start"
	WrongWave       = "wrong-wave"
	ImpossiblePace  = "impossible-pace"
	UnlikelyPace    = "unlikely-pace"
	UnassignedChip  = "unassigned-chip"
	UnlistedBib     = "unlisted-bib"
	Clash           = "clash"
	LineOff         = "line-off"
	RulingAdrift    = "ruling-adrift"
	ChipsApart      = "chips-apart"
	CarriedTogether = "carried-together"
	ExtraPassing    = "extra-passing"
	OutOfOrder      = "out-of-order"
	OutButSeen      = "out-but-seen"
	Overdue         = "overdue"
	TooClose        = "too-close"
	ClockStep       = "clock-step"
	ClockUnsure     = "clock-unsure"
	SilentLog       = "silent-log"
)

// SuspectKinds are all of them, in the order of the contract. A kind's weight is no part of
// it: most hold or not by what they found.
var SuspectKinds = []SuspectKind{
	{Name: MissingSplit, Words: "split missing", IDOf: OfBibAt, EndsByStatus: true, OfOneCause: true},
	{Name: MissingStart, Words: "no start passing", IDOf: OfBib, EndsByStatus: true, OfOneCause: true},
	{Name: Swapped, Words: "bibs swapped", IDOf: OfPair, MovesTimes: true},
	{Name: OtherCourse, Words: "ran another course", IDOf: OfBib},
	{Name: DoubtfulGun, Words: "gun in doubt", RaceWide: CostsManyNow},
	{Name: EarlyStart, Words: "started early", IDOf: OfBib, EndsByStatus: true, OfOneCause: true},
	{Name: WrongWave, Words: "wrong wave", IDOf: OfBib, MovesTimes: true, OfOneCause: true},
	{Name: ImpossiblePace, Words: "impossibly fast", IDOf: OfBibAt, EndsByStatus: true},
	{Name: UnlikelyPace, Words: "unlikely pace", IDOf: OfBibAt, MovesTimes: true, OfOneCause: true, OfMixedChips: true},
	{Name: UnassignedChip, Words: "nobody's chip"},
	{Name: UnlistedBib, Words: "bib not listed", IDOf: OfBib},
	{Name: Clash, Words: "times clash", IDOf: OfBibAt, MovesTimes: true, EndsByStatus: true, OfOneCause: true},
	{Name: LineOff, Words: "line is off", Field: true, RaceWide: CostsManyNow},
	{Name: RulingAdrift, Words: "ruling adrift", IDOf: OfRuling, RaceWide: CostsMany},
	{Name: ChipsApart, Words: "chips apart", IDOf: OfBib, EndsByStatus: true},
	{Name: CarriedTogether, Words: "carried together", IDOf: OfPair, MovesTimes: true, EndsByStatus: true, OfMixedChips: true},
	{Name: ExtraPassing, Words: "extra passing", IDOf: OfBibAt, OfOneCause: true, OfMixedChips: true},
	{Name: OutOfOrder, Words: "out of order", IDOf: OfBib, EndsByStatus: true, OfOneCause: true},
	{Name: OutButSeen, Words: "out but seen", IDOf: OfBib},
	{Name: Overdue, Words: "overdue", IDOf: OfBib, OfOneCause: true},
	{Name: TooClose, Words: "too close to call", IDOf: OfPair, MovesTimes: true, OfMixedChips: true},
	{Name: ClockStep, Words: "clock stepped", RaceWide: CostsManyNow},
	{Name: ClockUnsure, Words: "clock unsure", RaceWide: CostsMany},
	{Name: SilentLog, Words: "log is silent", RaceWide: CostsManyNow},
}

var suspectKindAt = func() map[string]*SuspectKind {
	at := make(map[string]*SuspectKind, len(SuspectKinds))
	for k := range SuspectKinds {
		at[SuspectKinds[k].Name] = &SuspectKinds[k]
	}
	return at
}()

// SuspectKindOf is the kind of a name; of one that there isn't, a kind that nobody knows
// more about.
func SuspectKindOf(name string) SuspectKind {
	if k, ok := suspectKindAt[name]; ok {
		return *k
	}
	return SuspectKind{Name: name, Words: name}
}
