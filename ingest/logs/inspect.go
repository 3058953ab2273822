package logs

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// Found is what a log turns out to be.
type Found struct {
	Encoding     string         // UTF-8, UTF-16 LE …
	Delimiter    string         // one character; "" : none found
	Header       bool           // it names its columns
	Columns      map[string]int // role (tag, time, antenna, rssi, bib, last_time, count) to column number from 1
	Names        []string       // of the columns, where there is a header
	TimeForm     string         // as the plan's time_format; "" : none found
	DecimalComma bool
	First, Last  race.Instant // NoInstant without reads

	Lines, Reads, Bad, Repeated, Tags int

	BadLines []race.BadLine // the first of them
	Sample   []string       // the first tags, in order

	Why []string // what the finding rests on, and what is odd
}

// Inspect reads a log to its end and tells what it is. Without a plan times that carry no
// zone are taken as UTC, and times of day as of 1970-01-01.
func Inspect(path string, data io.Reader, p *race.Plan) (Found, error) {
	l := New(p, -1)
	return l.inspect(path, data)
}

// maxSample is how many tags show what they look like.
const maxSample = 3

func (l *Log) inspect(path string, data io.Reader) (Found, error) {
	l.store.drop = true
	i := l.File(path)
	f := l.files[i]
	buf := make([]byte, pieceLen)
	var err error
	for err == nil {
		var n int
		n, err = data.Read(buf)
		l.Append(i, buf[:n])
	}
	l.Finish()
	r := l.Reads()
	found := Found{
		Encoding: f.encoding(l.tags.latin), First: race.NoInstant, Last: race.NoInstant,
		Lines: r.Lines, Reads: r.Kept, Bad: r.BadLines, Repeated: r.Repeated, Tags: r.Tags.Len(), BadLines: r.Bad,
	}
	for t := range r.Tags.All() {
		found.Sample = append(found.Sample, t.Tag)
		first, last := t.Reads[0].At, t.Reads[len(t.Reads)-1].At
		if found.First == race.NoInstant || first < found.First {
			found.First = first
		}
		found.Last = max(found.Last, last)
	}
	slices.Sort(found.Sample)
	found.Sample = slices.Clone(found.Sample[:min(len(found.Sample), maxSample)])
	found.describe(l, f)
	if err != io.EOF {
		return found, fmt.Errorf("%s: %w", path, err)
	}
	return found, nil
}

func (f *file) encoding(latin bool) string {
	switch {
	case f.dec.enc == utf16LE:
		return "UTF-16 LE"
	case f.dec.enc == utf16BE:
		return "UTF-16 BE"
	case latin:
		return "Latin-1"
	}
	return "UTF-8"
}

// describe adds the layout.
func (d *Found) describe(l *Log, f *file) {
	lay := f.lay
	if lay == nil {
		d.Why = append(d.Why, "no line holds a tag and a time")
		return
	}
	d.Delimiter = string(lay.delim)
	d.Header, d.Names = lay.header, lay.names
	d.Columns = map[string]int{}
	for r := roleTag; r < roles; r++ {
		if lay.at[r] >= 0 {
			d.Columns[roleNames[r]] = lay.at[r] + 1
		}
	}
	if d.Reads > 0 {
		d.TimeForm = l.stamp.form.String()
		d.DecimalComma = l.stamp.comma
	}
	if f.dec.marked {
		d.Why = append(d.Why, "it begins with a byte order mark")
	}
	if lay.header {
		d.Why = append(d.Why, fmt.Sprintf("the header names %d columns: %s", len(lay.names), strings.Join(lay.names, ", ")))
	}
	d.Why = append(d.Why, lay.why...)
	if f.headers > 1 {
		d.Why = append(d.Why, fmt.Sprintf("a header comes %d times", f.headers))
	}
	switch {
	case d.TimeForm == "":
	case l.stamp.form == formClock:
		d.Why = append(d.Why, "times tell no date: the first is taken to be on the race's day")
	case l.stamp.form == formDatetime:
		d.Why = append(d.Why, "times tell no zone: "+l.zone.loc.String()+" is taken")
	}
}

// Paste is the lines for race.toml.
func (d Found) Paste(path string) string {
	var b strings.Builder
	system := "main"
	if strings.Contains(strings.ToLower(path), "backup") {
		system = "backup"
	}
	_, bib := d.Columns["bib"]
	if _, tag := d.Columns["tag"]; bib && !tag {
		system = "hand"
	}
	fmt.Fprintf(&b, "  [[line.log]]\n  system = %q\n  path   = %s\n", system, quoteTOML(path))
	if d.Columns != nil && !d.Header {
		var parts []string
		for r := roleTag; r < roles; r++ {
			if at, ok := d.Columns[roleNames[r]]; ok {
				parts = append(parts, fmt.Sprintf("%s = %d", roleNames[r], at))
			}
		}
		fmt.Fprintf(&b, "  columns = { %s }\n  delimiter = %s\n", strings.Join(parts, ", "), quoteTOML(d.Delimiter))
		if d.TimeForm != "" {
			fmt.Fprintf(&b, "  time_format = %q\n", d.TimeForm)
		}
	}
	return b.String()
}

// quoteTOML writes a basic string of TOML.
func quoteTOML(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\t':
			b.WriteString(`\t`)
		case r < ' ' || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
