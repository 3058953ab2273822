package ready

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// Level is how much a finding matters.
type Level string

// The levels, the worst first.
const (
	Fault Level = "problem" // must be mended before the race
	Wait  Level = "wait"    // not there yet; comes with the day
	Odd   Level = "look"    // odd; nothing need be done
	Fine  Level = "ok"
)

// The parts, in the order in which they are told.
var parts = []string{"plan", "lists", "chips", "waves", "logs", "clocks", "rulings"}

// Finding is one thing that was found.
type Finding struct {
	Part   string `json:"part"`
	Level  Level  `json:"level"`
	File   string `json:"file,omitempty"`   // below the race folder
	Line   int    `json:"line,omitempty"`   // from 1; 0: the file as a whole
	Column int    `json:"column,omitempty"` // from 1, 0 unknown
	Says   string `json:"says"`             // what was seen
	Do     string `json:"do,omitempty"`     // what was wanted, or what to do
}

// Findings is everything that was found.
type Findings struct {
	Race      string    `json:"race,omitempty"`
	Date      string    `json:"date,omitempty"`
	Zone      string    `json:"timezone,omitempty"`
	Ready     bool      `json:"ready"`
	Problems  int       `json:"problems"`
	Waiting   int       `json:"waiting"`
	PlanWrong bool      `json:"plan_wrong"` // race.toml can't be used
	Verdict   string    `json:"verdict"`
	List      []Finding `json:"findings"`
}

// listed is how many findings of a sort are told one by one.
const listed = 10

// look is a survey on its way to findings.
type look struct {
	*Survey
	st    *race.State
	found []Finding
}

// Look tells what a survey holds; st is the race as it stands by it, nil where race.toml is
// faulty.
func Look(s *Survey, st *race.State) *Findings {
	l := &look{Survey: s, st: st}
	out := &Findings{PlanWrong: s.Race == nil}
	if !out.PlanWrong {
		out.Race, out.Date, out.Zone = s.Plan.Name, s.Plan.Date.Format("2006-01-02"), s.Plan.Zone.String()
		l.plan()
		l.lists()
		l.chips()
		l.waves()
		l.logs()
		l.clocks()
		l.rulings()
	}
	l.reading()
	for _, p := range parts {
		for _, f := range l.found {
			if f.Part == p {
				out.List = append(out.List, f)
			}
		}
	}
	out.judge()
	return out
}

func (l *look) say(part string, level Level, do, format string, a ...any) *Finding {
	l.found = append(l.found, Finding{Part: part, Level: level, Says: fmt.Sprintf(format, a...), Do: do})
	return &l.found[len(l.found)-1]
}

// at gives a finding its place.
func (f *Finding) at(file string, line, column int) { f.File, f.Line, f.Column = file, line, column }

// judge counts, and says in one line whether the race can be timed.
func (f *Findings) judge() {
	for _, x := range f.List {
		switch x.Level {
		case Fault:
			f.Problems++
		case Wait:
			f.Waiting++
		}
	}
	f.Ready = f.Problems == 0 && f.Waiting == 0
	switch {
	case f.PlanWrong:
		f.Verdict = fmt.Sprintf("not ready: the plan can't be used (%s)", f.where(Fault))
	case f.Problems > 0:
		f.Verdict = fmt.Sprintf("not ready: %s (%s)", race.Counted(f.Problems, "problem", "problems"), f.where(Fault))
	case f.Waiting > 0:
		f.Verdict = fmt.Sprintf("not ready yet: nothing is wrong, but %s still to come (%s)", race.Counted(f.Waiting, "thing", "things"), f.where(Wait))
		if f.Waiting > 1 {
			f.Verdict = strings.Replace(f.Verdict, "things still", "things are still", 1)
		} else {
			f.Verdict = strings.Replace(f.Verdict, "thing still", "thing is still", 1)
		}
	default:
		f.Verdict = "ready: plan and lists are sound, every log is there, and the clocks are known"
	}
}

// where counts a level's findings by part.
func (f *Findings) where(level Level) string {
	var out []string
	for _, p := range parts {
		n := 0
		for _, x := range f.List {
			if x.Part == p && x.Level == level {
				n++
			}
		}
		if n > 0 {
			out = append(out, fmt.Sprintf("%s %d", p, n))
		}
	}
	return strings.Join(out, ", ")
}

// Lines tells the findings for people, the verdict last.
func (f *Findings) Lines() []string {
	var out []string
	if f.Race != "" {
		out = append(out, fmt.Sprintf("%s, %s, %s", f.Race, f.Date, f.Zone), "")
	}
	part := ""
	for _, x := range f.List {
		if x.Part != part {
			part = x.Part
			out = append(out, part)
		}
		out = append(out, "  "+x.String())
	}
	return append(out, "", f.Verdict)
}

func (f Finding) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-8s", f.Level)
	switch {
	case f.File != "" && f.Column > 0:
		fmt.Fprintf(&b, "%s:%d:%d: ", f.File, f.Line, f.Column)
	case f.File != "" && f.Line > 0:
		fmt.Fprintf(&b, "%s:%d: ", f.File, f.Line)
	case f.File != "":
		fmt.Fprintf(&b, "%s: ", f.File)
	}
	b.WriteString(f.Says)
	if f.Do != "" {
		b.WriteString("; " + f.Do)
	}
	return b.String()
}
