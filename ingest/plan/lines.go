package plan

import (
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/pelletier/go-toml/v2/unstable"

	"twinmat/reconcile/race"
)

var (
	delimiters  = []string{",", ";", "\t", "|"}
	timeFormats = []string{"rfc3339", "datetime", "clock", "unix-s", "unix-ms", "unix-us"}
	logFields   = []string{"tag", "time", "last_time", "antenna", "rssi", "count", "bib"}
)

// Patterns come from whoever wrote the plan; none needs to be longer or wilder.
const (
	maxPath  = 512
	maxStars = 8
	maxLogs  = 1000
)

// readLines reads [[line]] and [[line.log]].
func (s *setup) readLines(t *table) {
	seen := map[string]int{}
	s.need(t, "line", "at least one [[line]]")
	for _, lt := range s.tables(t, "line", "line") {
		line := race.Line{
			ID:        s.id(lt, seen),
			Window:    s.length(lt, "window", s.window, 1, hour),
			Keep:      s.readKeep(lt),
			Tolerance: s.length(lt, "tolerance", defaultTolerance, 1, hour),
		}
		index := len(s.plan.Lines)
		s.plan.Lines = append(s.plan.Lines, line)
		logs := s.tables(lt, "log", "line.log")
		for i, reference := range references(logs) {
			if len(s.plan.Logs) >= maxLogs {
				s.bad(logs[i].at, fmt.Sprintf("at most %d logs", maxLogs), "one log too many")
				break
			}
			s.plan.Lines[index].Logs = append(s.plan.Lines[index].Logs, len(s.plan.Logs))
			s.plan.Logs = append(s.plan.Logs, s.readLog(logs[i], index, reference))
		}
		if len(logs) == 0 {
			s.warn(lt.at, "[[line.log]] with system and path", "line %s has no log", quote(line.ID))
		}
		s.rest(lt)
		if line.ID != "" {
			s.lineNames = append(s.lineNames, line.ID)
		}
	}
	s.sharedFiles()
	s.sharedClocks()
}

// references tells for each log of a line whether it is the one that the others are measured
// against: the first of main, else the first of all.
func references(logs []*table) []bool {
	list := make([]bool, len(logs))
	for i, t := range logs {
		if k := t.named["system"]; k != nil && k.item.text == "main" {
			list[i] = true
			return list
		}
	}
	if len(list) > 0 {
		list[0] = true
	}
	return list
}

// readLog reads one [[line.log]].
func (s *setup) readLog(t *table, line int, reference bool) race.Log {
	log := race.Log{Line: line, Zone: s.plan.Zone}
	s.need(t, "system", `system = "main", "backup" or "hand"`)
	system, it := s.choose(t, "system", "backup", race.SystemNames)
	log.System, _ = race.SystemOf(system)
	if it == nil {
		reference = false
	}
	log.Path = s.path(t)
	s.align(t, &log, reference)
	if v, it := s.text(t, "clock", "a name for the clock that several logs share"); it != nil {
		if err := checkID(v); err != nil {
			s.badValue(it.at, "clock", err)
		}
		log.Clock = v
	}
	log.From, log.To = s.span(t, s.plan)
	log.Zone, _ = read(&s.sheet, t, "timezone", `an IANA name such as "UTC"`, s.plan.Zone, loadZone)
	log.Columns = s.columns(t)
	if v, it := s.text(t, "delimiter", `",", ";", "\t" or "|"`); it != nil {
		if !slices.Contains(delimiters, v) {
			s.bad(it.at, `",", ";", "\t" or "|"`, "delimiter is %s", quote(v))
		}
		log.Delimiter = v
	}
	log.TimeFormat, _ = s.choose(t, "time_format", "", timeFormats)
	s.rest(t)
	return log
}

const wantPath = "a file or a pattern below the race folder, such as logs/finish-main*.csv"

// path takes the path of a log and refuses one that leads out of the race folder or to the
// program's own files.
func (s *setup) path(t *table) string {
	s.need(t, "path", wantPath)
	v, it := s.text(t, "path", wantPath)
	s.paths = append(s.paths, t.at)
	if it == nil {
		return ""
	}
	s.paths[len(s.paths)-1] = it.at
	if what := pathFault(v); what != "" {
		s.bad(it.at, wantPath, "path: %s %s", quote(v), what)
		return ""
	}
	return v
}

// pathFault says why a path can't be a log's, "" when it can.
func pathFault(v string) string {
	parts := strings.Split(v, "/")
	switch {
	case v == "":
		return "is empty"
	case len(v) > maxPath:
		return fmt.Sprintf("is longer than %d bytes", maxPath)
	case strings.ContainsFunc(v, unicode.IsControl):
		return "has a control character"
	case strings.Contains(v, `\`):
		return "has a backslash; folders are parted by /"
	case path.IsAbs(v) || filepath.IsAbs(v) || len(v) > 1 && v[1] == ':':
		return "is absolute"
	case slices.Contains(parts, ".."):
		return "leads out of the race folder"
	case !filepath.IsLocal(filepath.FromSlash(v)) || path.Clean(v) != v || v == ".":
		return "is not a plain path below the race folder"
	case strings.Count(v, "*") > maxStars:
		return fmt.Sprintf("has more than %d stars", maxStars)
	}
	if _, err := path.Match(v, ""); err != nil {
		return "has an open [ or a bad range in its pattern"
	}
	for _, own := range []string{TomlFile, AthletesFile, ChipsFile, "rulings.jsonl"} {
		if hit, _ := path.Match(v, own); hit {
			return "takes in " + own
		}
	}
	for _, own := range []string{"kept", "out"} {
		if hit, _ := path.Match(parts[0], own); hit && len(parts) > 1 {
			return "takes in " + own + "/, which this program writes"
		}
	}
	return ""
}

// align reads offset and behind. The reference has nothing to be measured against.
func (s *setup) align(t *table, log *race.Log, reference bool) {
	log.Offset.Auto = !reference && log.System != race.Main
	log.Behind.Auto = !reference && log.System == race.Backup
	const wantOffset = `"auto", or a fixed clock difference such as "+3.217s"`
	if v, it := s.text(t, "offset", wantOffset); it != nil {
		switch d, err := Length(v); {
		case v == "auto" && reference:
			s.warn(it.at, `"0s", or its known difference from the race clock`,
				`offset = "auto" on the log that the line's others are measured against: taken as 0s`)
		case v == "auto":
			log.Offset.Auto = true
		case err != nil:
			s.bad(it.at, wantOffset, "offset is %s", quote(v))
		default:
			log.Offset = race.Offset{Fixed: d}
		}
	}
	const wantBehind = `"auto", or a distance such as "2.0m"`
	if v, it := s.text(t, "behind", wantBehind); it != nil {
		switch d, err := metres(v); {
		case v == "auto" && reference:
			s.warn(it.at, `"0m"`, `behind = "auto" on the log that the line's others are measured against: taken as 0m`)
		case v == "auto":
			log.Behind.Auto = true
		case err != nil:
			s.bad(it.at, wantBehind, "behind is %s", quote(v))
		case d > 1000 || d < -1000:
			s.bad(it.at, "at most 1000 m; farther away it is another line", "behind is %s", quote(v))
		default:
			log.Behind = race.Behind{Fixed: d}
		}
	}
}

// columns reads which column of the log holds what: header names, or numbers from 1.
func (s *setup) columns(t *table) map[string]string {
	it := s.take(t, "columns")
	if it == nil {
		return nil
	}
	const want = `columns = { tag = "epc", time = "first_seen" }`
	if it.sub == nil {
		s.bad(it.at, want, "columns is %s", shown(it))
		return nil
	}
	list := map[string]string{}
	it.sub.name = "columns"
	for _, field := range logFields {
		c := s.take(it.sub, field)
		switch {
		case c == nil:
		case c.kind == unstable.Integer:
			if n, err := strconv.Atoi(c.text); err != nil || n < 1 || n > 1000 {
				s.bad(c.at, "a column number from 1 to 1000", "%s is %s", field, c.text)
				continue
			}
			list[field] = c.text
		case c.kind != unstable.String:
			s.bad(c.at, "the header's name in quotes, or a column number from 1", "%s is %s", field, shown(c))
		case strings.TrimSpace(c.text) == "":
			s.bad(c.at, "the header's name, or a column number from 1", "%s is empty", field)
		default:
			list[field] = c.text
		}
	}
	s.rest(it.sub)
	return list
}

// sharedFiles warns when two logs name the same path for overlapping spans: their reads
// would count twice.
func (s *setup) sharedFiles() {
	byPath := map[string][]int{}
	for i, log := range s.plan.Logs {
		if log.Path == "" {
			continue
		}
		for _, j := range byPath[log.Path] {
			if overlap(log.From, log.To, s.plan.Logs[j].From, s.plan.Logs[j].To) {
				line, _ := s.doc.place(s.paths[j])
				s.warn(s.paths[i], "another file, or from and to that part them",
					"path: %s is a log already, in line %d, at the same hours", quote(log.Path), line)
				break
			}
		}
		byPath[log.Path] = append(byPath[log.Path], i)
	}
}

// sharedClocks warns when one clock is said to stand two ways off the race clock: it may have
// been set in between, or one is a slip.
func (s *setup) sharedClocks() {
	first := map[string]int{}
	for i, log := range s.plan.Logs {
		if log.Clock == "" || log.Offset.Auto || log.System != race.Main {
			continue
		}
		j, seen := first[log.Clock]
		if !seen {
			first[log.Clock] = i
		} else if log.Offset != s.plan.Logs[j].Offset {
			line, _ := s.doc.place(s.paths[j])
			s.warn(s.paths[i], "one offset for one clock", "the clock %s has another offset here than for the log in line %d", quote(log.Clock), line)
		}
	}
}

// overlap tells whether two spans, open at an unknown end, share a moment. A span ends
// before its to.
func overlap(from1, to1, from2, to2 race.Instant) bool {
	return (!to1.Known() || !from2.Known() || from2 < to1) && (!to2.Known() || !from1.Known() || from1 < to2)
}
