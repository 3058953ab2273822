package ready

import (
	"fmt"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"twinmat/ingest/logs"
	"twinmat/reconcile/race"
)

// Told is what a log turned out to be, in the words of the plan.
type Told struct {
	Log          string         `json:"log"`
	Encoding     string         `json:"encoding"`
	Delimiter    string         `json:"delimiter"`
	Header       bool           `json:"header"`
	Columns      map[string]int `json:"columns"` // what it holds to column number, from 1
	Names        []string       `json:"names,omitempty"`
	TimeForm     string         `json:"time_format"`
	DecimalComma bool           `json:"decimal_comma"`
	First        string         `json:"first"` // RFC 3339; a time of day alone for a log that tells no date
	Last         string         `json:"last"`
	All          int            `json:"lines"`
	Reads        int            `json:"reads"`
	Repeated     int            `json:"repeated_lines"`
	Bad          int            `json:"bad_lines"`
	Tags         int            `json:"tags"`
	Sample       []string       `json:"sample_tags"`
	BadLines     []Finding      `json:"bad"` // the first of them
	Why          []string       `json:"why"`
	Paste        string         `json:"paste"` // for race.toml
}

// Tell puts an inspection into words. zone is that of the race the log lies in; nil: none
// is known, and UTC was taken.
func Tell(path string, d logs.Found, zone *time.Location) Told {
	out := Told{Log: path, Encoding: d.Encoding, Delimiter: d.Delimiter, Header: d.Header, Columns: d.Columns, Names: d.Names, TimeForm: d.TimeForm,
		DecimalComma: d.DecimalComma, All: d.Lines, Reads: d.Reads, Repeated: d.Repeated, Bad: d.Bad, Tags: d.Tags, Sample: d.Sample, Why: d.Why}
	if zone == nil {
		zone = time.UTC
	}
	out.First, out.Last = d.First.Format(zone), d.Last.Format(zone)
	if d.TimeForm == "clock" && d.Reads > 0 {
		out.First, out.Last = d.First.Time(zone).Format("15:04:05.000"), d.Last.Time(zone).Format("15:04:05.000")
	}
	for _, b := range d.BadLines[:min(len(d.BadLines), listed)] {
		out.BadLines = append(out.BadLines, Finding{Level: Odd, File: path, Line: b.Line, Column: b.Column, Says: b.Why, Do: "it says " + fmt.Sprintf("%q", short(b.Text))})
	}
	if d.Reads > 0 {
		out.Paste = d.Paste(below(path))
	}
	return out
}

// below is a log's path as the plan names it: below the race folder, and logs lie in logs/.
func below(path string) string {
	parts := strings.Split(filepath.ToSlash(path), "/")
	for i := len(parts) - 2; i >= 0; i-- {
		if parts[i] == "logs" {
			return strings.Join(parts[i:], "/")
		}
	}
	return "logs/" + parts[len(parts)-1]
}

// Lines tells it for people.
func (t Told) Lines() []string {
	var out []string
	say := func(what, format string, a ...any) {
		out = append(out, fmt.Sprintf("%-11s", what)+fmt.Sprintf(format, a...))
	}
	say("log", "%s", t.Log)
	say("text", "%s, %s, %s", t.Encoding, delimiterName(t.Delimiter), map[bool]string{true: "a header names the columns", false: "no header"}[t.Header])
	say("columns", "%s", t.columns())
	if t.TimeForm != "" {
		comma := ""
		if t.DecimalComma {
			comma = ", with a decimal comma"
		}
		say("times", "%s%s", t.TimeForm, comma)
	}
	if t.Reads > 0 {
		say("span", "%s to %s", t.First, t.Last)
	}
	say("lines", "%d: %s, %d repeated, %d bad", t.All, race.Counted(t.Reads, "read", "reads"), t.Repeated, t.Bad)
	say("tags", "%d%s", t.Tags, like(t.Sample))
	for _, b := range t.BadLines {
		out = append(out, "bad        "+strings.TrimSpace(strings.TrimPrefix(b.String(), string(b.Level))))
	}
	if n := t.Bad - len(t.BadLines); n > 0 {
		say("bad", "and %d more", n)
	}
	for _, w := range t.Why {
		say("note", "%s", w)
	}
	if t.Paste != "" {
		out = append(out, "", "for race.toml, below its [[line]]:", "")
		out = append(out, strings.Split(strings.TrimRight(t.Paste, "\n"), "\n")...)
	}
	return out
}

func (t Told) columns() string {
	if len(t.Columns) == 0 {
		return "none found"
	}
	names := make([]string, 0, len(t.Columns))
	for n := range t.Columns {
		names = append(names, n)
	}
	sort.Slice(names, func(a, b int) bool {
		return t.Columns[names[a]] < t.Columns[names[b]] || t.Columns[names[a]] == t.Columns[names[b]] && names[a] < names[b]
	})
	for i, n := range names {
		at := t.Columns[n]
		names[i] = fmt.Sprintf("%s in %d", n, at)
		if at <= len(t.Names) {
			names[i] += fmt.Sprintf(" (%s)", t.Names[at-1])
		}
	}
	return strings.Join(names, ", ")
}

func like(sample []string) string {
	if len(sample) == 0 {
		return ""
	}
	return ", such as " + strings.Join(sample, ", ")
}

func delimiterName(d string) string {
	switch d {
	case ",":
		return "parted by commas"
	case ";":
		return "parted by semicolons"
	case "\t":
		return "parted by tabs"
	case "|":
		return "parted by pipes"
	case "":
		return "no delimiter found"
	}
	return fmt.Sprintf("parted by %q", d)
}

// Inspect reads a log and tells what it is. A log that lies in a race folder is read by
// that race's date and zone.
func Inspect(path string) (Told, error) {
	p := raceAround(path)
	d, err := inspect(path, p)
	if err != nil {
		return Told{}, err
	}
	var zone *time.Location
	if p != nil {
		zone = p.Zone
	}
	return Tell(path, d, zone), nil
}

// raceAround is the plan of the race folder that a log lies in, nil for none.
func raceAround(path string) *race.Plan {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil
	}
	dir := filepath.Dir(abs)
	for range 3 {
		if p := planIn(dir); p != nil {
			return p
		}
		dir = filepath.Dir(dir)
	}
	return nil
}
