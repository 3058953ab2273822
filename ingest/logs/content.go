package logs

import (
	"bytes"
	"fmt"
	"slices"
)

// column is what the cells of one column look like.
type column struct {
	cells, times, clockTimes int
	negative, small          int // numbers below zero; whole numbers from 0 to 255
	code, length, distinct   int // letters and digits alone; total length; how often a cell differs from the one before
	first, before            string
}

// byContent finds the layout of lines without a header that is understood: by what the
// columns hold. nil if no line has a time in it. skip is the number of lines at the start
// that are a header whose words aren't known.
func (w *wish) byContent(sample [][]byte, s *stamper) (best *layout, skip int) {
	score := 0
	for _, d := range []byte(w.delims()) {
		rows, width, first := timedRows(sample, d, s)
		if n := len(rows); n == 0 || n < score || n == score && best != nil && width <= best.width {
			continue
		}
		if d == ',' && joinCells(rows, s) {
			width--
		}
		l, n := w.columnsOf(rows, d, width, sample[:first], s)
		if l != nil {
			best, skip, score = l, n, len(rows)
		}
	}
	return best, skip
}

// timedRows are the lines that have a time in them, cut at d, of the commonest width; and
// the index of the first.
func timedRows(sample [][]byte, d byte, s *stamper) (rows [][][]byte, width, first int) {
	var all [][][]byte
	count := map[int]int{}
	first = -1
	for i, line := range sample {
		if len(line) > 4096 {
			continue
		}
		cells := splitLine(line, d)
		if len(cells) < 2 || !anyTime(cells, s) {
			continue
		}
		if first < 0 {
			first = i
		}
		all = append(all, cells)
		count[len(cells)]++
	}
	for n, c := range count {
		if c > count[width] || c == count[width] && n > width {
			width = n
		}
	}
	for _, cells := range all {
		if len(cells) == width {
			rows = append(rows, cells)
		}
	}
	return rows, width, max(first, 0)
}

// joinCells joins times of whole seconds with the three digits that follow each of them:
// a decimal comma where columns are divided by commas. It is none if only small numbers
// follow, as antennas have.
func joinCells(rows [][][]byte, s *stamper) bool {
	at, large := -1, false
	for _, cells := range rows {
		for i := range cells {
			if at < 0 && wholeSeconds(cells[i]) && looksTime(cells[i], s) != notTime {
				at = i
			}
		}
		if at < 0 || at+1 >= len(cells) || len(cells[at+1]) != 3 || !digitsOnly(cells[at+1]) || !wholeSeconds(cells[at]) {
			return false
		}
		large = large || cells[at+1][0] == '0' || cells[at+1][0] > '2'
	}
	if !large {
		return false
	}
	for i, cells := range rows {
		joined := slices.Clone(cells[:at+1])
		joined[at] = slices.Concat(cells[at], []byte("."), cells[at+1])
		rows[i] = append(joined, cells[at+2:]...)
	}
	return true
}

func anyTime(cells [][]byte, s *stamper) bool {
	for _, c := range cells {
		if looksTime(c, s) != notTime {
			return true
		}
	}
	return false
}

// looksTime is read, but for numbers it wants years that a race can be in: a tag may be a
// number too.
func looksTime(b []byte, s *stamper) kind {
	probe := *s
	k, ms := probe.read(b)
	if k != instant || probe.form < formUnixS {
		return k
	}
	if b[0] == '0' {
		return notTime
	}
	from, to := int64(10957), int64(47482) // 2000 and 2100
	if s.nearDay != noDay {
		from, to = s.nearDay-366, s.nearDay+366
	}
	if day := ms / dayMS; day < from || day > to {
		return notTime
	}
	return k
}

// columnsOf gives the columns of rows their roles. head are the lines before them.
func (w *wish) columnsOf(rows [][][]byte, d byte, width int, head [][]byte, s *stamper) (*layout, int) {
	l := newLayout(d)
	l.width = width
	skip := 0
	if len(head) > 0 {
		if names := texts(splitLine(head[len(head)-1], d)); len(names) == width && named(names) {
			w.claim(l, names)
			l.header, skip = true, len(head)
		}
	}
	l.width = width
	if !w.apply(l, l.names) {
		return nil, 0
	}
	cols := make([]column, width)
	for _, cells := range rows {
		for i, c := range cells {
			cols[i].see(c, s)
		}
	}
	l.pick(roleTime, cols, (*column).timeScore, "the times")
	if l.at[roleTag] < 0 && l.at[roleBib] < 0 {
		l.pick(roleTag, cols, (*column).tagScore, "the most like codes")
	}
	if !l.header || l.at[roleRSSI] < 0 {
		l.pick(roleRSSI, cols, (*column).rssiScore, "negative numbers")
	}
	if !l.header {
		l.pick(roleAntenna, cols, (*column).antennaScore, "small whole numbers")
	}
	return l.finish(w.hand), skip
}

// pick gives a role that has no column yet to the free column of highest score.
func (l *layout) pick(r role, cols []column, score func(*column) int, why string) {
	if l.at[r] >= 0 {
		return
	}
	best := 0
	for i := range cols {
		if l.taken(i) {
			continue
		}
		if s := score(&cols[i]); s > best {
			best, l.at[r] = s, i
		}
	}
	if l.at[r] >= 0 {
		l.why = append(l.why, fmt.Sprintf("column %d holds %s: %s (such as %q)", l.at[r]+1, why, roleNames[r], cols[l.at[r]].first))
	}
}

func (l *layout) taken(i int) bool {
	for _, at := range l.at {
		if at == i {
			return true
		}
	}
	return false
}

func (c *column) see(b []byte, s *stamper) {
	b = bytes.TrimSpace(b)
	if len(b) == 0 {
		return
	}
	if c.cells == 0 {
		c.first = toUTF8(b[:min(len(b), maxTag)])
	} else if string(b) != c.before {
		c.distinct++
	}
	c.before = string(b)
	c.cells++
	c.length += min(len(b), 24)
	if k := looksTime(b, s); k != notTime {
		c.times++
		if bytes.IndexByte(b, ':') >= 0 {
			c.clockTimes++
		}
	}
	if v, ok := tenths(b); ok {
		if v < 0 {
			c.negative++
		} else if v <= 2550 && v%10 == 0 && len(b) <= 3 {
			c.small++
		}
	}
	if isCode(b) {
		c.code++
	}
}

// isCode tells whether b is what a tag may be: digits, letters and separators.
func isCode(b []byte) bool {
	digit := false
	for _, c := range b {
		switch {
		case isDigit(c):
			digit = true
		case c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z', c == '-' || c == ' ' || c == ':' || c == '_' || c == '.':
		default:
			return false
		}
	}
	return digit && b[0] != '-'
}

func (c *column) timeScore() int {
	if 2*c.times < c.cells || c.times == 0 {
		return 0
	}
	return 2*c.times + 100*c.clockTimes
}

func (c *column) tagScore() int {
	if c.cells == 0 || 2*c.code < c.cells || 2*c.times > c.cells {
		return 0
	}
	worth := 10 * c.length / c.cells
	switch {
	case c.small == c.cells: // as antennas are
		worth = 0
	case c.distinct == 0 && c.cells >= 4: // the name of a place, or a burst of one tag
		worth /= 2
	}
	return 1 + worth + 30*c.distinct/c.cells
}

func (c *column) rssiScore() int {
	if c.cells == 0 || 2*c.negative < c.cells {
		return 0
	}
	return 1 + c.negative
}

func (c *column) antennaScore() int {
	if c.cells == 0 || 2*c.small < c.cells {
		return 0
	}
	return 1 + c.small
}
