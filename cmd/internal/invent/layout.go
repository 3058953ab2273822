package invent

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"time"
)

// The systems, in the order of the truth's tables.
const (
	mainSystem = iota
	backupSystem
	handSystem
)

var systemNames = [...]string{"main", "backup", "hand"}

// layout is what the plan tells, and the clocks and places behind it.
type layout struct {
	zone     *time.Location
	day      time.Time // midnight of the race's date
	size     int       // athletes
	usual    Rates
	window   string
	keep     string
	official string // gun, net
	rounding string
	resolve  float64 // seconds
	maxSpeed string
	chips    chipSort
	perBib   int    // chips to a bib
	tagForm  string // how tags look: hex, spaced, short, digits
	lines    []line
	courses  []course
	waves    []wave
	ills     ills
	steps    []stepPlan
	again    int64 // when the chips of the first half of the field go to the second; 0: never
}

// stepPlan is a clock that is set again during the race.
type stepPlan struct {
	line, system int
	after        float64 // share of the line's crossings that go before
	by           float64 // seconds
}

type line struct {
	id        string
	keep      string // "" : the race's
	window    string
	tolerance string
	behind    float64 // metres from main's antenna to backup's, in direction +1
	logs      []logPlan
	beside    int // another line near enough to be heard at times, -1: none
}

// logPlan is one log and the clock that stamps it.
type logPlan struct {
	line, system int
	path         string
	form         string
	offset       string // as the plan says; "" : the default
	behind       string
	clock        clock
	dead         []span // of no reads at all
	soil         string // the faults that the file is given
	box          string // the plan's name for the clock
	from, to     int64  // of a box that moves: what its file holds of this line; 0: open
	continues    bool   // its file was begun at another line
}

type span struct{ from, to int64 }

type course struct {
	id        string
	sport     string
	marks     []mark
	repeat    int // of the last mark; 0: marks stand as they are
	lap       float64
	open      bool
	limit     string
	timeLimit int64 // microseconds, 0: none
	bunch     int   // riders to a bunch; 0: everyone for themselves
	flagged   bool  // everyone's next passing after the leader's finish is theirs
	flag      int64 // the leader's finish, once run
	legs      int   // marks to a leg of a relay: a new runner after each; 0: none
}

// mark is a split as planned, and as it truly lies.
type mark struct {
	id       string
	line     int
	at       float64 // metres, as planned
	truly    float64 // metres, as run
	required bool
	sport    string
	dir      float64 // +1 main's antenna first, -1 backup's first
}

type wave struct {
	id     string
	course int
	gun    int64
	share  float64 // of the athletes; the shares of all waves make 1
	told   int64   // the gun as the plan has it, 0: as it went
}

// started is a wave that goes when the plan says.
func started(id string, course int, gun int64, share float64) wave {
	return wave{id: id, course: course, gun: gun, share: share}
}

// ills is how much goes wrong: counts for each hundred athletes, rounded by chance, unless said otherwise.
type ills struct {
	dns, dnsRuns, absent, drop, dnf float64
	spare, unlisted, swap, carry    float64
	cut, early, late                float64 // late: starts with a later wave
	warm, standStart, standFinish   float64
	stop, mixed, beside, turn       float64
	foreign                         int // chips of another race, in all
	otherCourse                     int
	dead                            []outage
}

// outage is a log that reads nothing for a while: from the moment when a share of the
// line's crossings has gone by.
type outage struct {
	line, system int
	after        float64
	long         int64
}

func (c *course) start() int {
	if len(c.marks) > 0 && c.marks[0].at == 0 {
		return 0
	}
	return -1
}

func (c *course) finish() int { return len(c.marks) - 1 }

// ranksByLaps tells whether the finish is the last lap that somebody made.
func (c *course) ranksByLaps() bool { return c.open || c.flagged }

// sleepers tells whether a gap may be a rest as well as a missed lap.
func (c *course) sleepers() bool { return c.timeLimit > 8*3600*second }

// addLine lays a line with main and backup, each with a log in a form of its own.
func (r *Race) addLine(g *rand.Rand, id string, behind float64, tolerance string) int {
	n := len(r.lines)
	l := line{id: id, behind: behind, tolerance: tolerance, beside: -1}
	for s := range 2 {
		p := logPlan{line: n, system: s, path: "logs/" + id + "-" + systemNames[s] + ".csv", form: "plain"}
		if g.Float64() < .4 {
			p.form = tidyForms[g.IntN(len(tidyForms))]
		}
		if s == backupSystem {
			p.offset, p.behind = "auto", "auto"
			p.clock = clock{offset: bell(g, 0, 9), ppm: max(-40, min(40, bell(g, 0, 15)))}
		}
		l.logs = append(l.logs, p)
	}
	r.lines = append(r.lines, l)
	return n
}

// addHand gives a line someone with a keyboard.
func (r *Race) addHand(g *rand.Rand, n int) {
	l := &r.lines[n]
	l.logs = append(l.logs, logPlan{line: n, system: handSystem, path: "logs/" + l.id + "-hand.csv", form: "hand",
		clock: clock{offset: bell(g, 0, 25)}})
}

// log finds a line's log of a system, nil if there is none.
func (l *line) log(system int) *logPlan {
	for i := range l.logs {
		if l.logs[i].system == system {
			return &l.logs[i]
		}
	}
	return nil
}

// on sets the race's day and zone.
func (r *Race) on(title, date, zone string) {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		loc = time.UTC
	}
	r.Title, r.Date, r.zone = title, date, loc
	r.day, err = time.ParseInLocation("2006-01-02", date, loc)
	if err != nil {
		panic("invent: a kind with a date of no form: " + date)
	}
}

// at is a time of day on the race's date, so many days later.
func (r *Race) at(days, h, m, s int) int64 {
	return time.Date(r.day.Year(), r.day.Month(), r.day.Day()+days, h, m, s, 0, r.zone).UnixMicro()
}

// settle writes repeats out, gives clocks their zero and checks that the layout holds together.
func (r *Race) settle() error {
	for i := range r.courses {
		c := &r.courses[i]
		if c.repeat > 0 || c.open {
			lap := c.marks[len(c.marks)-1]
			c.marks = c.marks[:len(c.marks)-1]
			n := c.repeat
			if c.open {
				n = int(seconds(c.timeLimit)*6.5/c.lap) + 4
			}
			for k := range n {
				m := lap
				m.id = lap.id + "-" + strconv.Itoa(k+1)
				m.at, m.truly = lap.at+float64(float64(k)*c.lap), lap.at+float64(float64(k)*c.lap)
				c.marks = append(c.marks, m)
			}
		}
		for k := range c.marks {
			m := &c.marks[k]
			if m.truly == 0 {
				m.truly = m.at
			}
			if m.dir == 0 {
				m.dir = 1
			}
			if m.sport == "" {
				m.sport = c.sport
			}
			if m.line < 0 || m.line >= len(r.lines) {
				return fmt.Errorf("kind %s: split %s has no line", r.Kind, m.id)
			}
		}
	}
	first := r.waves[0].gun
	for i := range r.lines {
		for k := range r.lines[i].logs {
			r.lines[i].logs[k].clock.zero = first
		}
	}
	return nil
}
