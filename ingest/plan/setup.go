package plan

import (
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"
	_ "time/tzdata" // zones are the same on a laptop that has no list of its own

	"github.com/pelletier/go-toml/v2/unstable"

	"twinmat/reconcile/race"
)

// Defaults of the contract.
const (
	defaultWindow     = race.Millis(5000)
	defaultTolerance  = race.Millis(1000)
	defaultResolution = race.Millis(200)
	defaultEarly      = race.Millis(2000)
	defaultPrizes     = 10
)

const (
	hour   = race.Millis(3600_000)
	minute = race.Millis(60_000)
)

var (
	keeps  = []string{"first", "strongest", "last", "centre"}
	clocks = []string{"gun", "net"}
	ties   = []string{"exact", "official"}
	sports = []string{"run", "walk", "bike", "swim", "ski", "kart", "change"}
)

// setup is race.toml on its way to a plan.
type setup struct {
	sheet
	plan                 *race.Plan
	official             race.Official // [official], before courses override it
	window               race.Millis   // [dedupe]
	keep                 race.Keep     // [dedupe], KeepUnset where it says nothing
	dated                bool          // date and zone are sound, so distances in days mean something
	paths                []int         // where each log's path stands, as Plan.Logs
	waves                []int         // where each wave stands, as Plan.Waves
	written              int           // splits, laps counted
	lineNames, waveNames []string      // ids, to name what a wrong one may mean
}

// readSetup reads race.toml. The plan is complete in form even when it is faulty.
func readSetup(found *problems, text []byte) *setup {
	plainer, guessed := plainText(text)
	s := &setup{plan: &race.Plan{Zone: time.UTC, Date: time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)}}
	s.found = found
	switch {
	case len(text) > maxToml:
		s.faulty = true
		found.add(Problem{File: TomlFile, What: fmt.Sprintf("larger than %d bytes", maxToml), Want: "a plan"})
		return s
	case guessed >= 0:
		line, column := linesOf(text).place(guessed)
		s.faulty = true
		found.add(Problem{File: TomlFile, Line: line, Column: column, What: fmt.Sprintf("the byte 0x%02X is not UTF-8", text[guessed]),
			Want: "the file saved as UTF-8"})
	}
	s.doc = readDocument(found, plainer)
	s.faulty = s.faulty || s.doc.faults
	if s.doc.root == nil {
		return s
	}
	s.top(s.doc.root)
	return s
}

// top reads the document from above: what others refer to first.
func (s *setup) top(t *table) {
	s.need(t, "format", "format = 1")
	if v, it := s.integer(t, "format", 1, 1, 1_000_000); it != nil && v != 1 {
		s.bad(it.at, "format = 1; a later one needs a later program", "format is %d", v)
	}
	s.need(t, "name", `the race's name, such as name = "Saltmarsh Half"`)
	if v, it := s.text(t, "name", "the race's name"); it != nil {
		if strings.TrimSpace(v) == "" {
			s.bad(it.at, "the race's name", "name is empty")
		}
		s.plan.Name = v
	}
	s.day(t)
	s.rules(t)
	s.readLines(t)
	s.readCourses(t)
	s.readWaves(t)
	s.rest(t)
	s.settleKeep()
	s.unused(t)
}

// day reads date and time zone.
func (s *setup) day(t *table) {
	s.need(t, "timezone", `an IANA name such as timezone = "Europe/Lisbon"`)
	zone, zoneItem := read(&s.sheet, t, "timezone", `an IANA name such as "Europe/Lisbon"`, time.UTC, loadZone)
	s.plan.Zone = zone
	const want = "a day such as date = 2026-05-17"
	s.need(t, "date", want)
	it := s.take(t, "date")
	if it == nil {
		return
	}
	var w wall
	switch {
	case it.kind != unstable.LocalDate && it.kind != unstable.String:
		s.bad(it.at, want, "date is %s", shown(it))
	case !w.readDate(it.text):
		s.bad(it.at, want+", from 1900 on", "date is %s", shown(it))
	default:
		s.plan.Date = midnight(w.year, w.month, w.day, zone)
		s.dated = zoneItem != nil
	}
}

// rules reads what holds for the whole race.
func (s *setup) rules(t *table) {
	dedupe := s.sub(t, "dedupe")
	s.window = s.length(dedupe, "window", defaultWindow, 1, hour)
	s.keep = s.readKeep(dedupe)
	s.rest(dedupe)

	official := s.sub(t, "official")
	s.official = s.readOfficial(official, race.Official{Rounding: race.Roundings[0]})
	s.rest(official)

	chips := s.sub(t, "chips")
	s.plan.Resolution = s.length(chips, "resolution", defaultResolution, 1, minute)
	s.plan.MaxSpeed, _ = read(&s.sheet, chips, "max_speed", wantSpeed, 0, speed)
	s.rest(chips)
}

func (s *setup) readKeep(t *table) race.Keep {
	v, it := s.choose(t, "keep", "", keeps)
	if it == nil {
		return race.KeepUnset
	}
	for k := race.KeepFirst; k <= race.KeepCentre; k++ {
		if k.String() == v {
			return k
		}
	}
	return race.KeepUnset
}

// readOfficial reads clock, rounding and ties over what the level above says.
func (s *setup) readOfficial(t *table, o race.Official) race.Official {
	if v, it := s.choose(t, "clock", "", clocks); it != nil {
		o.Net = v == "net"
	}
	names := make([]string, len(race.Roundings))
	for i, r := range race.Roundings {
		names[i] = r.Name
	}
	if v, it := s.choose(t, "rounding", "", names); it != nil {
		for _, r := range race.Roundings {
			if r.Name == v {
				o.Rounding = r
			}
		}
	}
	if v, it := s.choose(t, "ties", "", ties); it != nil {
		o.TiesOfficial = v == "official"
	}
	return o
}

// settleKeep gives each line that names no way of keeping the one above, else the default:
// first, but last where the line serves nothing but starts.
func (s *setup) settleKeep() {
	for i := range s.plan.Lines {
		line := &s.plan.Lines[i]
		if line.Keep != race.KeepUnset {
			continue
		}
		line.Keep = s.keep
		if line.Keep == race.KeepUnset {
			line.Keep = race.KeepFirst
			if s.onlyStarts(i) {
				line.Keep = race.KeepLast
			}
		}
	}
}

func (s *setup) onlyStarts(line int) bool {
	starts := false
	for _, c := range s.plan.Courses {
		for _, p := range c.Splits {
			if p.Line != line {
				continue
			}
			if p.At != 0 {
				return false
			}
			starts = true
		}
	}
	return starts
}

// unused warns of lines that no split uses and courses that no wave runs.
func (s *setup) unused(t *table) {
	if s.faulty {
		return
	}
	usedLines, usedCourses := make([]bool, len(s.plan.Lines)), make([]bool, len(s.plan.Courses))
	for _, c := range s.plan.Courses {
		for _, p := range c.Splits {
			usedLines[p.Line] = true
		}
	}
	for _, w := range s.plan.Waves {
		usedCourses[w.Course] = true
	}
	for i, e := range t.named["line"].item.list {
		if !usedLines[i] {
			s.mild(e.at, "a split that names it", "no split is at line %s", quote(s.plan.Lines[i].ID))
		}
	}
	for i, e := range t.named["course"].item.list {
		if !usedCourses[i] {
			s.mild(e.at, "a wave that names it", "no wave runs course %s", quote(s.plan.Courses[i].ID))
		}
	}
}

// seeLogs looks whether the logs are there. Most come later, so that is a warning.
func (s *setup) seeLogs(dir string) {
	if s.doc == nil || len(s.paths) != len(s.plan.Logs) {
		return
	}
	files := os.DirFS(dir)
	for i, log := range s.plan.Logs {
		if log.Path == "" {
			continue
		}
		names, err := fs.Glob(files, log.Path)
		if err != nil || len(names) == 0 {
			s.later(s.paths[i], "a log by the time of the race", "no file matches %s", quote(log.Path))
			continue
		}
		for _, name := range names {
			info, err := fs.Stat(files, name)
			switch {
			case err != nil:
				s.warn(s.paths[i], "a log that can be read", "%s", err)
			case info.IsDir():
				s.warn(s.paths[i], "a file or a pattern of files", "%s is a folder", quote(name))
			case !info.Mode().IsRegular():
				s.bad(s.paths[i], "a plain file", "%s is a device, pipe or socket, not a log", quote(name))
			}
		}
	}
}
