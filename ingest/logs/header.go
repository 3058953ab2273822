package logs

import (
	"bytes"
	"strconv"
	"strings"
)

// delimiters are the signs that may stand between columns.
const delimiters = ",;\t|"

// maxColumns bounds how many columns of a line are looked at.
const maxColumns = 256

// layout is how a file's lines are to be read, from one header to the next.
type layout struct {
	delim   byte
	at      [roles]int // column of each role, -1: none
	tag     int        // the column of what identifies: tag or bib
	time    int
	ant     int
	rssi    int
	last    int    // the highest column used
	role    []role // by column, up to last
	header  bool
	names   []string
	width   int // columns of the header or of the first line
	why     []string
	timeLen int     // length of the time of the last line read
	shapes  []shape // by length of line, see quick
}

// finish fills in what follows from the roles' columns; nil if there is no tag or no time.
func (l *layout) finish(hand bool) *layout {
	tag, other := l.at[roleTag], l.at[roleBib]
	if hand {
		tag, other = other, tag
	}
	if tag < 0 {
		tag = other
	}
	l.tag, l.time, l.ant, l.rssi = tag, l.at[roleTime], l.at[roleAntenna], l.at[roleRSSI]
	if l.time < 0 {
		l.time = l.at[roleLastTime]
	}
	if l.tag < 0 || l.time < 0 || l.tag == l.time {
		return nil
	}
	l.last = max(l.tag, l.time, l.ant, l.rssi)
	l.role = make([]role, l.last+1)
	l.shapes = make([]shape, maxQuick+1)
	for _, p := range []struct {
		at int
		r  role
	}{{l.rssi, roleRSSI}, {l.ant, roleAntenna}, {l.time, roleTime}, {l.tag, roleTag}} {
		if p.at >= 0 {
			l.role[p.at] = p.r
		}
	}
	return l
}

func newLayout(delim byte) *layout {
	l := &layout{delim: delim}
	for i := range l.at {
		l.at[i] = -1
	}
	return l
}

// wish is what the plan says about a log's form.
type wish struct {
	delim   byte // 0: to be found
	columns map[string]string
	form    form
	hand    bool
}

func (w *wish) delims() string {
	if w.delim != 0 {
		return string(w.delim)
	}
	return delimiters
}

// apply sets the columns that the plan names, by number from 1 or by header name. It is
// false when a name isn't among names.
func (w *wish) apply(l *layout, names []string) bool {
	for r := roleTag; r < roles; r++ {
		want, ok := w.columns[roleNames[r]]
		if !ok {
			continue
		}
		at := columnNamed(names, want)
		if at < 0 {
			n, err := strconv.Atoi(want)
			if err != nil || n < 1 || n > maxColumns {
				return false
			}
			at = n - 1
		}
		l.at[r] = at
	}
	return true
}

func columnNamed(names []string, want string) int {
	for i, s := range names {
		if strings.TrimSpace(s) == strings.TrimSpace(want) {
			return i
		}
	}
	for i, s := range names {
		if p := plainName(s); p != "" && p == plainName(want) {
			return i
		}
	}
	return -1
}

// header reads a line as a header: it must name a tag (or bib) and a time, and hold no
// time itself. nil if it isn't one.
func (w *wish) header(line []byte, s *stamper) *layout {
	if len(line) > 4096 || mostlyDigits(line) {
		return nil
	}
	var best *layout
	score := 0
	for _, d := range []byte(w.delims()) {
		names := texts(splitLine(line, d))
		if len(names) < 2 {
			continue
		}
		l := newLayout(d)
		known := w.claim(l, names)
		if !w.apply(l, names) {
			continue
		}
		if known += len(w.columns); known > score && l.finish(w.hand) != nil {
			best, score = l, known
		}
	}
	if best == nil || best.namesAreData(s) {
		return nil
	}
	best.header = true
	return best
}

// mostlyDigits tells at little cost that a line names nothing: a log may hold millions of
// lines that are no reads.
func mostlyDigits(line []byte) bool {
	n := 0
	for _, c := range line {
		if isDigit(c) {
			n++
		}
	}
	return 2*n > len(line)
}

// claim gives columns their roles by name and tells how many names it knew.
func (w *wish) claim(l *layout, names []string) (known int) {
	var rank [roles]int
	l.names, l.width = names, len(names)
	for i, name := range names {
		r, k := wordRole(name)
		if r == noRole {
			continue
		}
		known++
		if l.at[r] < 0 || k < rank[r] {
			l.at[r], rank[r] = i, k
		}
	}
	return known
}

// namesAreData tells whether the line is a read: one of its cells is a time.
func (l *layout) namesAreData(s *stamper) bool {
	probe := *s
	for _, name := range l.names {
		if k, _ := probe.read([]byte(name)); k != notTime {
			return true
		}
	}
	// A plan that numbers the columns makes every line look like a header.
	tag, _ := wordRole(l.names[min(l.tag, len(l.names)-1)])
	time, _ := wordRole(l.names[min(l.time, len(l.names)-1)])
	return tag == noRole && time == noRole && !named(l.names)
}

// named tells whether cells look like names: letters in each, digits in none.
func named(cells []string) bool {
	for _, c := range cells {
		if strings.ContainsAny(c, "0123456789") || !strings.ContainsFunc(c, isLetter) {
			return false
		}
	}
	return true
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 0x7F }

// splitLine cuts a line into cells, quotes taken off.
func splitLine(line []byte, delim byte) [][]byte {
	var cells [][]byte
	for len(cells) < maxColumns {
		cell, rest, more := cutCell(line, delim)
		cells = append(cells, cell)
		if !more {
			break
		}
		line = rest
	}
	return cells
}

// cutCell takes the first cell off a line. A quote that never closes is read to the end
// of the line.
func cutCell(line []byte, delim byte) (cell, rest []byte, more bool) {
	if start := bytes.TrimLeft(line, " "); len(start) > 0 && start[0] == '"' {
		return cutQuoted(start[1:], delim)
	}
	i := bytes.IndexByte(line, delim)
	if i < 0 {
		return bytes.TrimSpace(line), nil, false
	}
	return bytes.TrimSpace(line[:i]), line[i+1:], true
}

// cutQuoted reads a cell whose opening quote is behind it.
func cutQuoted(b []byte, delim byte) (cell, rest []byte, more bool) {
	var copied []byte
	for {
		i := bytes.IndexByte(b, '"')
		if i < 0 {
			return bytes.TrimSpace(append(copied, b...)), nil, false
		}
		part := b[:i]
		b = b[i+1:]
		if len(b) > 0 && b[0] == '"' {
			copied = append(append(copied, part...), '"')
			b = b[1:]
			continue
		}
		// What stands between the closing quote and the delimiter belongs to the cell.
		tail := b
		if j := bytes.IndexByte(b, delim); j >= 0 {
			tail, rest, more = b[:j], b[j+1:], true
		}
		if copied == nil && len(bytes.TrimSpace(tail)) == 0 {
			return bytes.TrimSpace(part), rest, more
		}
		copied = append(append(copied, part...), tail...)
		return bytes.TrimSpace(copied), rest, more
	}
}

func texts(cells [][]byte) []string {
	s := make([]string, len(cells))
	for i, c := range cells {
		s[i] = toUTF8(c)
	}
	return s
}

// sameLayout tells whether two layouts read a line alike.
func sameLayout(a, b *layout) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.delim == b.delim && a.at == b.at && a.header == b.header
}
