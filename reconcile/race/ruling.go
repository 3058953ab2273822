package race

// Ruling is one line of rulings.jsonl. Only the fields of its kind are set.
type Ruling struct {
	Seq  int    `json:"seq"`
	Made string `json:"at"` // when it was ruled, RFC 3339
	Who  string `json:"by"`
	Rule string `json:"rule"`

	Tag       string   `json:"tag,omitempty"`
	Tags      []string `json:"tags,omitempty"` // ignore-chip of several
	Bib       string   `json:"bib,omitempty"`
	With      string   `json:"with,omitempty"`
	Line      string   `json:"line,omitempty"`
	Split     string   `json:"split,omitempty"`
	System    string   `json:"system,omitempty"`
	Wave      string   `json:"wave,omitempty"`
	Course    string   `json:"course,omitempty"`
	Status    string   `json:"status,omitempty"`
	Suspect   string   `json:"suspect,omitempty"`
	Evidence  string   `json:"evidence,omitempty"` // what an accept, a set-time or a status was shown
	Time      string   `json:"time,omitempty"`     // --at, RFC 3339
	From      string   `json:"from,omitempty"`     // RFC 3339
	To        string   `json:"to,omitempty"`       // RFC 3339
	Shift     string   `json:"shift,omitempty"`    // --by of adjust-time, seconds with sign: "-12.500"
	Offset    string   `json:"offset,omitempty"`   // seconds with sign: "+3.217"
	Stepped   string   `json:"stepped,omitempty"`  // main, backup
	Right     string   `json:"right,omitempty"`    // before, after: the side that keeps its times
	PlusMinus string   `json:"plus_minus,omitempty"`
	Name      string   `json:"name,omitempty"`
	Sex       string   `json:"sex,omitempty"`
	Birth     string   `json:"birth,omitempty"`
	Category  string   `json:"category,omitempty"`
	Team      string   `json:"team,omitempty"`
	UndoneSeq int      `json:"undoes,omitempty"` // undo: the ruling taken back
	Why       string   `json:"why"`
}

// The kinds of ruling (contract section 7).
const (
	AssignChip  = "assign-chip"
	IgnoreChip  = "ignore-chip"
	VoidReads   = "void-reads"
	AdjustTime  = "adjust-time"
	CloseCourse = "close-course"
	SwapBibs    = "swap-bibs"
	SetGun      = "set-gun"
	SetWave     = "set-wave"
	Witness     = "witness"
	SetTime     = "set-time"
	UseSystem   = "use-system"
	VoidPassing = "void-passing"
	SetStatus   = "set-status"
	SetClock    = "set-clock"
	AddAthlete  = "add-athlete"
	Accept      = "accept"
	Undo        = "undo"
)

// RulingKinds lists them all, in the order of the contract.
var RulingKinds = []string{AssignChip, IgnoreChip, VoidReads, AdjustTime, CloseCourse, SwapBibs, SetGun, SetWave, Witness,
	SetTime, UseSystem, VoidPassing, SetStatus, SetClock, AddAthlete, Accept, Undo}
