package invent

import (
	"bufio"
	"cmp"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// Write writes the race folder as it is when the race is over.
func (r *Race) Write(dir string) error {
	if err := r.WriteLists(dir); err != nil {
		return err
	}
	for l := range r.lines {
		for k := range r.lines[l].logs {
			if err := r.writeLog(dir, &r.lines[l].logs[k]); err != nil {
				return err
			}
		}
	}
	return nil
}

// WriteLists writes the race folder as it is before the race: the plan, the athletes and
// the chips, and an empty folder for the logs.
func (r *Race) WriteLists(dir string) error {
	if err := os.MkdirAll(filepath.Join(dir, "logs"), 0o777); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "race.toml"), []byte(r.Plan()), 0o666); err != nil {
		return err
	}
	if err := writeTable(filepath.Join(dir, "athletes.csv"), r.athleteRows()); err != nil {
		return err
	}
	return writeTable(filepath.Join(dir, "chips.csv"), r.chipRows())
}

func writeTable(path string, rows [][]string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := csv.NewWriter(f)
	err = w.WriteAll(rows)
	if e := f.Close(); err == nil {
		err = e
	}
	return err
}

func (r *Race) athleteRows() [][]string {
	head := []string{"bib", "name", "sex", "birth", "category", "team", "wave"}
	status, own := false, false
	for i := range r.people {
		status = status || r.people[i].status != ""
		own = own || r.people[i].own != 0
	}
	if status {
		head = append(head, "status")
	}
	if own {
		head = append(head, "start")
	}
	rows := [][]string{head}
	for i := range r.people {
		p := &r.people[i]
		if !p.listed {
			continue
		}
		row := []string{p.label(), p.name, p.sex, strconv.Itoa(p.born), p.category, p.team, r.waves[p.wave].id}
		if status {
			row = append(row, p.status)
		}
		if own {
			row = append(row, r.clockTime(p.own))
		}
		rows = append(rows, row)
	}
	return rows
}

func (r *Race) chipRows() [][]string {
	rows := [][]string{{"tag", "bib"}}
	twice := len(r.people) > 0 && len(r.people[0].chips) > 0 && r.people[0].chips[0].to != 0
	if twice {
		rows[0] = append(rows[0], "from", "to")
	}
	for i := range r.people {
		for _, c := range r.people[i].chips {
			row := []string{r.written(c.tag), r.people[i].label()}
			if twice {
				row = append(row, r.orOpen(c.from), r.orOpen(c.to))
			}
			rows = append(rows, row)
		}
	}
	return rows
}

func (r *Race) orOpen(us int64) string {
	if us == 0 {
		return ""
	}
	return r.clockTime(us)
}

// written is a tag as the list has it: some lists space it out, some drop its zeros.
func (r *Race) written(tag string) string {
	switch r.tagForm {
	case "digits":
		return strings.TrimLeft(tag, "0")
	case "scattered":
		var b strings.Builder
		for k := 0; k < len(tag); k += 4 {
			if k > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(strings.ToLower(tag[k:min(len(tag), k+4)]))
		}
		return b.String()
	}
	return tag
}

func (r *Race) writeLog(dir string, p *logPlan) error {
	files := map[int]*bufio.Writer{}
	var open []*os.File
	for piece, err := range r.pieces(p) {
		if err == nil && files[piece.file] == nil {
			var f *os.File
			how := os.O_TRUNC
			if p.continues {
				how = os.O_APPEND
			}
			if f, err = os.OpenFile(filepath.Join(dir, filepath.FromSlash(p.filePath(piece.file))), os.O_CREATE|os.O_WRONLY|how, 0o666); err == nil {
				open = append(open, f)
				files[piece.file] = bufio.NewWriterSize(f, 1<<18)
			}
		}
		if err == nil {
			_, err = files[piece.file].Write(piece.bytes)
		}
		if err != nil {
			return err
		}
	}
	for k, w := range files {
		if err := w.Flush(); err != nil {
			return fmt.Errorf("%s: %w", p.filePath(k), err)
		}
	}
	for _, f := range open {
		if err := f.Close(); err != nil {
			return err
		}
	}
	return nil
}

// stamp is an instant as RFC 3339 with milliseconds in the race's zone.
func (r *Race) stamp(us int64) string {
	return time.UnixMicro(wholeMillis(us)).In(r.zone).Format("2006-01-02T15:04:05.000Z07:00")
}

// clockTime is an instant of the race's date as a time of day, of another day in full.
func (r *Race) clockTime(us int64) string {
	t := time.UnixMicro(us).In(r.zone)
	if t.Format("2006-01-02") != r.Date {
		return r.stamp(us)
	}
	if us%second != 0 {
		return t.Format("15:04:05.000")
	}
	return t.Format("15:04:05")
}

// Plan is the text of race.toml.
func (r *Race) Plan() string {
	var b strings.Builder
	p := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	p("format   = 1\nname     = %q\ndate     = %s\ntimezone = %q", r.Title, r.Date, r.zone)
	p("\n[dedupe]\nwindow = %q\nkeep   = %q", r.window, r.keep)
	p("\n[official]\nclock    = %q\nrounding = %q", r.official, r.rounding)
	p("\n[chips]\nresolution = %q\nmax_speed  = %q", strconv.FormatFloat(r.resolve, 'f', -1, 64)+"s", r.maxSpeed)
	for l := range r.lines {
		r.planLine(p, &r.lines[l])
	}
	for c := range r.courses {
		r.planCourse(p, &r.courses[c])
	}
	for w := range r.waves {
		p("\n[[wave]]\nid = %q\ncourse = %q\ngun = %s", r.waves[w].id, r.courses[r.waves[w].course].id, r.clockTime(cmp.Or(r.waves[w].told, r.waves[w].gun)))
	}
	return b.String()
}

func (r *Race) planLine(p func(string, ...any), l *line) {
	p("\n[[line]]\nid = %q", l.id)
	if l.window != "" {
		p("window = %q", l.window)
	}
	if l.keep != "" {
		p("keep = %q", l.keep)
	}
	p("tolerance = %q", l.tolerance)
	for _, g := range l.logs {
		p("\n  [[line.log]]\n  system = %q\n  path   = %q", systemNames[g.system], g.path)
		if g.offset != "" {
			p("  offset = %q", g.offset)
		}
		if g.behind != "" {
			p("  behind = %q", g.behind)
		}
		if g.box != "" {
			p("  clock = %q", g.box)
		}
		if g.from != 0 {
			p("  from = %s", r.clockTime(g.from))
		}
		if g.to != 0 {
			p("  to = %s", r.clockTime(g.to))
		}
		switch g.form {
		case "naive-utc":
			p(`  timezone = "UTC"`)
		case "mapped":
			p("  columns = { tag = \"epc\", time = \"first_seen\" }\n  delimiter = \";\"\n  time_format = \"unix-us\"")
		}
	}
}

func (r *Race) planCourse(p func(string, ...any), c *course) {
	p("\n[[course]]\nid = %q\nsport = %q", c.id, c.sport)
	if c.limit != "" {
		p("limit = %q", c.limit)
	}
	if c.flagged {
		p("lapped = \"flagged\"")
	}
	if c.timeLimit > 0 {
		p("time_limit = %q", strconv.FormatInt(c.timeLimit/(3600*second), 10)+"h")
	}
	for k := range c.marks {
		m := &c.marks[k]
		p("\n  [[course.split]]")
		if c.lap > 0 {
			p("  id = %q\n  line = %q\n  at = %q\n  repeat = %d", strings.TrimSuffix(m.id, "-1"), r.lines[m.line].id, metres(m.at), c.repeat)
			if m.required {
				p("  required = true")
			}
			break
		}
		p("  id = %q\n  line = %q\n  at = %q", m.id, r.lines[m.line].id, metres(m.at))
		if m.required {
			p("  required = true")
		}
		if m.sport != c.sport {
			p("  sport = %q", m.sport)
		}
	}
}

func metres(d float64) string {
	if d >= 1000 && d == float64(int(d/10)*10) {
		return strconv.FormatFloat(d/1000, 'f', -1, 64) + "km"
	}
	return strconv.FormatFloat(d, 'f', -1, 64) + "m"
}
