package plan

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// cell is one field of a list with its place.
type cell struct {
	text string // without spaces about it
	at   int    // offset of its first byte, the quote included
}

// record is one record; a quoted field may reach over several lines.
type record struct {
	at    int
	cells []cell
}

// A cell longer than this is a quote that was never closed; a spreadsheet saves at most as
// many columns as were ever used.
const (
	maxCell  = 64 << 10
	maxCells = 2000
)

// list is a CSV file (RFC 4180, with the delimiter that its header shows).
type list struct {
	lines
	file   string
	found  *problems
	text   []byte
	comma  byte
	header map[string]int // column name in lower case to index
	names  []string
	rows   []record
	bad    bool
}

func (l *list) fault(at int, want, what string, args ...any) {
	l.bad = true
	line, column := l.place(at)
	l.found.add(Problem{File: l.file, Line: line, Column: column, What: fmt.Sprintf(what, args...), Want: want})
}

func (l *list) warn(at int, want, what string, args ...any) { l.tell(false, at, want, what, args) }

// mild warns of what is odd and harms nobody's time.
func (l *list) mild(at int, want, what string, args ...any) { l.tell(true, at, want, what, args) }

func (l *list) tell(mild bool, at int, want, what string, args []any) {
	line, column := l.place(at)
	l.found.add(Problem{File: l.file, Line: line, Column: column, What: fmt.Sprintf(what, args...), Want: want, Warning: true, Mild: mild})
}

// readList reads a list's cells and its header, with these columns wanted and those known.
func readList(found *problems, file string, b []byte, wanted, known []string) *list {
	l := &list{file: file, found: found, header: map[string]int{}}
	text, guessed := plainText(b)
	if !bytes.ContainsRune(text, '\n') {
		text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	}
	l.text, l.lines = text, linesOf(text)
	if guessed >= 0 {
		line, column := linesOf(b).place(guessed)
		found.add(Problem{File: file, Line: line, Column: column, Warning: true, Want: "the file saved as UTF-8",
			What: fmt.Sprintf("the byte 0x%02X is not UTF-8: the file is read as Windows-1252", b[guessed])})
	}
	at := l.delimiter(slices.Concat(wanted, known))
	for at < len(text) {
		at = l.record(at)
	}
	l.head(wanted, known)
	return l
}

// delimiter finds the one that makes most known columns of the first line, and where the
// header begins. A spreadsheet may have put "sep=;" before it.
func (l *list) delimiter(known []string) int {
	at := 0
	for {
		first, rest, _ := bytes.Cut(l.text[at:], []byte("\n"))
		first = bytes.TrimSpace(first)
		if len(first) == 5 && bytes.HasPrefix(bytes.ToLower(first), []byte("sep=")) {
			l.comma = first[4]
			return len(l.text) - len(rest)
		}
		if len(first) > 0 || len(rest) == 0 {
			break
		}
		at = len(l.text) - len(rest)
	}
	first, _, _ := bytes.Cut(l.text[at:], []byte("\n"))
	first = first[:min(len(first), maxCell)]
	l.comma = ','
	best := 0
	for _, c := range []byte(",;\t|") {
		hits := 0
		for _, name := range strings.Split(strings.ToLower(string(first)), string(c)) {
			for _, k := range known {
				if strings.Trim(name, "\" \r") == k {
					hits++
				}
			}
		}
		if hits > best {
			l.comma, best = c, hits
		}
	}
	return at
}

// record takes one record that begins at an offset and gives where the next begins. A record
// that isn't CSV is reported and left out; reading goes on with the next line.
func (l *list) record(at int) int {
	r := record{at: at}
	if n := len(l.rows); n > 0 {
		r.cells = make([]cell, 0, len(l.rows[n-1].cells))
	}
	for i := at; ; {
		c, next, fault := l.cell(i)
		if fault != nil {
			where := fault.at
			l.fault(where, fault.want, "%s", fault.what)
			return l.after(where)
		}
		r.cells = append(r.cells, c)
		if next < len(l.text) && l.text[next] == l.comma {
			if len(r.cells) >= maxCells {
				l.fault(next, "a list with one athlete or chip a line", "more than %d cells", maxCells)
				return l.after(next)
			}
			i = next + 1
			continue
		}
		for _, c := range r.cells {
			if c.text != "" {
				l.rows = append(l.rows, r)
				break
			}
		}
		return l.after(next)
	}
}

// after is where the line after an offset begins.
func (l *list) after(at int) int {
	if i := bytes.IndexByte(l.text[min(at, len(l.text)):], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(l.text)
}

type cellFault struct {
	at         int
	what, want string
}

// cell takes one field and gives the offset of the delimiter or line end after it.
func (l *list) cell(at int) (cell, int, *cellFault) {
	i := at
	for i < len(l.text) && l.text[i] == ' ' {
		i++
	}
	if i < len(l.text) && l.text[i] == '"' {
		return l.quoted(i)
	}
	end := i
	for end < len(l.text) && l.text[end] != l.comma && l.text[end] != '\n' {
		if l.text[end] == '"' {
			return cell{}, 0, &cellFault{end, "a quote inside a cell without quotes", `the whole cell in quotes, the quote doubled: "a ""b"" c"`}
		}
		end++
	}
	if end-at > maxCell {
		return cell{}, 0, &cellFault{at, fmt.Sprintf("a cell longer than %d bytes", maxCell), "a list of short cells"}
	}
	return cell{strings.TrimSpace(string(l.text[at:end])), at}, end, nil
}

// quoted takes a field in quotes that begins at an offset.
func (l *list) quoted(at int) (cell, int, *cellFault) {
	var b strings.Builder
	for i := at + 1; i < len(l.text) && i-at <= maxCell; i++ {
		if l.text[i] != '"' {
			b.WriteByte(l.text[i])
			continue
		}
		if i+1 < len(l.text) && l.text[i+1] == '"' {
			b.WriteByte('"')
			i++
			continue
		}
		end := i + 1
		for end < len(l.text) && (l.text[end] == ' ' || l.text[end] == '\r') {
			end++
		}
		if end < len(l.text) && l.text[end] != l.comma && l.text[end] != '\n' {
			return cell{}, 0, &cellFault{i + 1, "text after the closing quote of a cell", `a delimiter, or the quote doubled: "a ""b"" c"`}
		}
		return cell{strings.TrimSpace(b.String()), at}, end, nil
	}
	return cell{}, 0, &cellFault{at, "a quote that is never closed", `a closing quote: "…"`}
}

// head takes the first record for the header.
func (l *list) head(wanted, known []string) {
	want := "a header with the columns " + strings.Join(wanted, " and ") + " at least"
	if len(l.rows) == 0 {
		if !l.bad {
			l.fault(0, want, "the file is empty")
		}
		return
	}
	first := l.rows[0]
	l.rows = l.rows[1:]
	all := slices.Concat(wanted, known)
	for i, c := range first.cells {
		name := strings.ToLower(c.text)
		l.names = append(l.names, name)
		if at, twice := l.header[name]; twice && slices.Contains(all, name) {
			l.fault(c.at, "each column once", "column %s stands twice, first as number %d", quote(name), at+1)
			continue
		}
		l.header[name] = i
	}
	for _, name := range wanted {
		if !l.ready(name) {
			l.fault(first.at, want, "there is no column %s", name)
		}
	}
	for i, name := range l.names {
		if name == "" || slices.Contains(all, name) {
			continue
		}
		c, meant := first.cells[i], nearest(name, all)
		tell := l.mild // lists from a registration hold much else
		if meant != "" {
			tell = l.warn // what stands in it may be missing from the results
		}
		tell(c.at, "one of "+strings.Join(all, ", "), "column %s is not used%s", quote(c.text), meant)
	}
}

// ready tells whether the columns that must be there are.
func (l *list) ready(wanted ...string) bool {
	for _, name := range wanted {
		if _, there := l.header[name]; !there {
			return false
		}
	}
	return true
}

// get is a record's cell in a column, the record's start where it has none.
func (l *list) get(r record, name string) cell {
	i, there := l.header[name]
	if !there || i >= len(r.cells) {
		return cell{at: r.at}
	}
	return r.cells[i]
}

// width reports a record with cells beyond the header's: a delimiter in a name shifts all
// that follow, so the record can't be trusted.
func (l *list) width(r record) bool {
	for i := len(l.names); i < len(r.cells); i++ {
		if r.cells[i].text != "" {
			l.fault(r.cells[i].at, fmt.Sprintf("%d cells as in the header; a cell with a %s in quotes", len(l.names), delimiterName(l.comma)),
				"%d cells", len(r.cells))
			return false
		}
	}
	return true
}

func delimiterName(c byte) string {
	switch c {
	case '\t':
		return "tab"
	case ';':
		return "semicolon"
	case '|':
		return "bar"
	}
	return "comma"
}

// firstControl is the first control character of a text, 0 when it has none.
func firstControl(s string) rune {
	for _, c := range s {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' || c == 0x7F || c == utf8.RuneError {
			return c
		}
	}
	return 0
}
