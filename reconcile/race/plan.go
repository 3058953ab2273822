package race

import (
	"slices"
	"time"
)

// System is one of the timing systems at a line.
type System uint8

// The systems, in the order in which their times are taken.
const (
	Main System = iota
	Backup
	Hand
	Systems = 3
)

// SystemNames are their names, in the same order.
var SystemNames = []string{"main", "backup", "hand"}

func (s System) String() string { return SystemNames[s] }

// SystemOf is the system of a name; false for none.
func SystemOf(name string) (System, bool) {
	k := slices.Index(SystemNames, name)
	return System(max(k, 0)), k >= 0
}

// Keep is which read's time a passing keeps.
type Keep uint8

// The forms of Keep; KeepUnset takes what the level above says.
const (
	KeepUnset Keep = iota
	KeepFirst
	KeepStrongest
	KeepLast
	KeepCentre
)

func (k Keep) String() string { return [...]string{"", "first", "strongest", "last", "centre"}[k] }

// Plan is race.toml, checked and with every default filled in.
type Plan struct {
	Name       string
	Date       time.Time      // midnight of the race's date in Zone
	Zone       *time.Location // of every exported instant
	Resolution Millis         // two chips closer than this can't be told apart
	MaxSpeed   float64        // metres a second; 0: none given
	Lines      []Line
	Logs       []Log // every [[line.log]], in the plan's order; "source" is an index here
	Courses    []Course
	Waves      []Wave
}

// Line is a physical place on the course with antennas across it.
type Line struct {
	ID        string
	Window    Millis
	Keep      Keep
	Tolerance Millis
	Logs      []int // indexes in Plan.Logs, in the plan's order
}

// Log is one [[line.log]]: a system's reads at a line, in one file or several.
type Log struct {
	Line     int
	System   System
	Path     string // as in the plan: a file or a glob below the race folder
	Offset   Offset
	Behind   Behind
	Clock    string  // logs with the same name share one clock; "" : its own
	From, To Instant // what lies outside belongs to another place; NoInstant: open

	Zone       *time.Location    // of times that carry none
	Columns    map[string]string // field (tag, time, last_time, antenna, rssi, count, bib) to header name or column number from 1
	Delimiter  string            // "" : found
	TimeFormat string            // "" : found
}

// Offset is a log's clock minus its reference: minus the race clock for a line's
// reference log, else minus the reference's clock.
type Offset struct {
	Auto  bool
	Fixed Millis
}

// Behind is how far past main's antenna this one stands, in metres as run.
type Behind struct {
	Auto  bool
	Fixed float64
}

// Official says which time ranks and in what form it is shown.
type Official struct {
	Net          bool // rank by net time
	Rounding     Rounding
	TiesOfficial bool // equal official times share a rank
}

// Course is a way round the lines.
type Course struct {
	ID        string
	Sport     string
	Limit     Millis // closes so long after its last gun; 0: never by itself
	TimeLimit Millis // ranks by laps inside it; 0: none
	Flagged   bool   // lapped = "flagged"
	Prizes    int
	Official  Official
	Splits    []Split // repeats written out, in order of distance
	Open      bool    // the last of Splits is the first of laps without end
	LapLength float64 // metres, of the repeated split; 0 where none repeats
}

// Split is a mark on a course.
type Split struct {
	ID       string
	Line     int
	At       float64 // metres from the start
	Required bool
	Sport    string // of the stretch that ends here
	Fastest  Millis // no one is faster over that stretch; 0: not given
	Keep     Keep   // KeepUnset: the line's
	Lap      int    // 1… for a repeated split, else 0
}

// Wave is athletes who share a course and a gun.
type Wave struct {
	ID     string
	Course int
	Gun    Instant // NoInstant: not yet fired
	Early  Millis  // a start passing so little before the gun belongs to it
}

// EarlyReach is how long before their gun somebody's crossing of the start can be an early
// start; what is earlier is warming up (contract section 8, Weights).
const EarlyReach = 30 * 60000 * Millis(1)

// LineIndex finds a line by its id, -1 if there is none.
func (p *Plan) LineIndex(id string) int {
	for i := range p.Lines {
		if p.Lines[i].ID == id {
			return i
		}
	}
	return -1
}

// WaveIndex finds a wave by its id, -1 if there is none.
func (p *Plan) WaveIndex(id string) int {
	for i := range p.Waves {
		if p.Waves[i].ID == id {
			return i
		}
	}
	return -1
}

// CourseIndex finds a course by its id, -1 if there is none.
func (p *Plan) CourseIndex(id string) int {
	for i := range p.Courses {
		if p.Courses[i].ID == id {
			return i
		}
	}
	return -1
}

// Athlete is a row of athletes.csv.
type Athlete struct {
	Bib, Name, Sex, Birth, Category, Team string
	Wave                                  int
	Status                                string  // "", dns, dnf, dsq
	Start                                 Instant // their own gun; NoInstant: the wave's
}

// Chip is a row of chips.csv.
type Chip struct {
	Tag      string // canonical
	Bib      string
	From, To Instant // NoInstant: open
}
