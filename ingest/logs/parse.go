package logs

import (
	"bytes"
	"fmt"
	"math"

	"twinmat/reconcile/race"
)

// fault is why a line is a bad one; the text is made only where it is kept.
type fault struct {
	why  string // "" : the line as a whole is said by say
	what string // the role that is wrong
	cell []byte // as seen
	at   []byte // the same where it stands in the line, for its column
}

func (f fault) says() string {
	switch {
	case f.what == "":
		return f.why
	case len(f.cell) == 0:
		return f.what + " is missing"
	}
	cell := f.cell
	if len(cell) > 40 {
		cell = cell[:40]
	}
	return fmt.Sprintf("%s %q %s", f.what, toUTF8(cell), f.why)
}

// parsed is one line's record. The instant is not yet fixed where the text names no zone
// or no day.
type parsed struct {
	tag     uint32
	kind    kind
	ms      int64
	antenna uint8
	rssi    int16
	time    []byte // its text
}

// cells are the parts of a line that matter.
type cells struct {
	tag, time, ant, rssi []byte
	columns              int // how many there are, counted up to the last that matters
	more                 bool
}

// split finds the cells that matter by their columns. It gives up (false) at the first
// cell that begins with a quote or a space: slowSplit takes that line.
func (l *layout) split(line []byte, c *cells) bool {
	rest := line
	for i, r := range l.role {
		cell := rest
		j := bytes.IndexByte(rest, l.delim)
		if j >= 0 {
			cell, rest = rest[:j], rest[j+1:]
		}
		if len(cell) > 0 && (cell[0] == '"' || cell[0] == ' ') {
			return false
		}
		c.set(r, cell)
		c.columns = i + 1
		if j < 0 {
			return true
		}
	}
	c.more = true
	return true
}

func (l *layout) slowSplit(line []byte, c *cells) {
	*c = cells{}
	for i, r := range l.role {
		cell, rest, more := cutCell(line, l.delim)
		c.set(r, cell)
		c.columns = i + 1
		if !more {
			return
		}
		line = rest
	}
	c.more = true
}

func (c *cells) set(r role, cell []byte) {
	switch r {
	case roleTag:
		c.tag = cell
	case roleTime:
		c.time = cell
	case roleAntenna:
		c.ant = cell
	case roleRSSI:
		c.rssi = cell
	}
}

// parse reads a line by its file's layout. final: its newline hasn't come and never will.
// Where it is false l.fault says why.
func (l *Log) parse(lay *layout, line []byte, final bool, p *parsed) bool {
	var c cells
	plain := lay.split(line, &c)
	stands := c.time
	if !plain {
		lay.slowSplit(line, &c)
		stands = c.time
	} else if lay.delim == ',' && bytes.Count(line, comma) == lay.width && l.joinFraction(line, &c) {
		plain = false
		lay.split(l.joined, &c)
	}
	p.kind, p.ms = l.stamp.read(c.time)
	if p.kind == notTime {
		c.time = bytes.TrimSpace(c.time)
		if p.kind, p.ms = l.stamp.read(c.time); p.kind == notTime {
			stands = bytes.TrimSpace(stands) // not as a decimal comma would make it
			l.fault = fault{l.stamp.why, "time", stands, stands}
			return false
		}
	}
	if c.columns <= lay.last || final {
		if why := lay.cutShort(&c, final); why != "" {
			l.fault = fault{why: why}
			return false
		}
	}
	if c.more && bytes.Count(line, []byte{lay.delim}) >= lay.width && lay.twoLines(line, &c) {
		l.fault = fault{why: "is two lines in one: a newline is missing"}
		return false
	}
	tag, why := l.tags.find(c.tag)
	if why != "" {
		l.fault = fault{why, l.tagWord(), bytes.TrimSpace(c.tag), c.tag}
		return false
	}
	p.tag = tag
	lay.timeLen = len(c.time)
	p.antenna = l.ants.find(trimSpaces(c.ant))
	p.rssi = strength(c.rssi)
	p.time = c.time
	if plain {
		lay.learn(line)
	}
	return true
}

var comma = []byte{','}

// twoLines tells whether a line with too many cells is one that was cut, or whose newline is
// missing, and the next one after it: that would be lost without a word. What follows the time
// ends as a whole line does, with a time that is written like the first and a tag as long at the least.
func (lay *layout) twoLines(line []byte, c *cells) bool {
	all := splitLine(line, lay.delim)
	next := len(all) - lay.width
	return next > lay.time && len(all[next+lay.tag]) >= len(c.tag) && sameShape(all[next+lay.time], c.time)
}

// sameShape tells whether two cells have digits in the same places, and else the same.
func sameShape(a, b []byte) bool {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] && !(isDigit(a[i]) && isDigit(b[i])) {
			return false
		}
	}
	return len(a) == len(b)
}

// joinFraction undoes what a decimal comma does to a log whose columns are divided by
// commas: the line has one cell too many, and three digits follow a time of whole seconds.
// The line with a decimal point is put in l.joined.
func (l *Log) joinFraction(line []byte, c *cells) bool {
	at := columnOf(line, c.time) - 1 + len(c.time)
	if at < len(c.time) || !wholeSeconds(c.time) || !threeDigits(line[at+1:]) {
		return false
	}
	l.joined = append(l.joined[:0], line...)
	l.joined[at] = '.'
	return true
}

// wholeSeconds tells whether a time ends with its seconds.
func wholeSeconds(b []byte) bool {
	n := len(b)
	return n >= 8 && b[n-3] == ':' && b[n-6] == ':' && bytes.IndexByte(b, '.') < 0 || n == 10 && digitsOnly(b)
}

func digitsOnly(b []byte) bool {
	_, ok := digits(b)
	return ok
}

// threeDigits tells whether a cell of just three digits begins b.
func threeDigits(b []byte) bool {
	return len(b) >= 3 && digitsOnly(b[:3]) && (len(b) == 3 || b[3] == ',')
}

func (l *Log) tagWord() string {
	if l.wish.hand {
		return "bib"
	}
	return "tag"
}

// cutShort tells whether a line may have lost its end. A short line whose time isn't its
// last cell lost only what may be missing; one that ends in its time must have as much of
// it as the line before. A last line without newline must have all columns.
func (lay *layout) cutShort(c *cells, final bool) string {
	short := c.columns <= lay.last
	timeEnds := c.columns == lay.time+1 && !c.more
	switch {
	case short && final, short && timeEnds && lay.timeLen > len(c.time),
		final && timeEnds && lay.timeLen > len(c.time):
		return fmt.Sprintf("is cut: it ends in column %d of %d", c.columns, lay.last+1)
	case final && !c.more && lay.rssi == lay.last && lay.rssi >= 0 && lay.width == lay.last+1 && strength(c.rssi) == race.NoRSSI:
		return "is cut in its last column"
	}
	return ""
}

func trimSpaces(b []byte) []byte {
	if len(b) == 0 || b[0] > ' ' && b[len(b)-1] > ' ' {
		return b
	}
	return bytes.TrimSpace(b)
}

// strength reads dBm as tenths; NoRSSI where there is no number.
func strength(b []byte) int16 {
	if len(b) == 3 && b[0] == '-' && isDigit(b[1]) && isDigit(b[2]) {
		return -10 * (int16(b[1]-'0')*10 + int16(b[2]-'0'))
	}
	v, ok := tenths(b)
	if !ok || v > math.MaxInt16 || v <= math.MinInt16 {
		return race.NoRSSI
	}
	return int16(v)
}

// tenths reads a decimal number, with its unit or not, as tenths, cut.
func tenths(b []byte) (int64, bool) {
	b = bytes.TrimSpace(b)
	if n := len(b) - 3; n > 0 && bytes.EqualFold(b[n:], []byte("dBm")) {
		b = bytes.TrimSpace(b[:n])
	}
	neg := len(b) > 0 && b[0] == '-'
	if neg || len(b) > 0 && b[0] == '+' {
		b = b[1:]
	}
	if len(b) == 0 || len(b) > 12 || !isDigit(b[0]) {
		return 0, false
	}
	v, n := int64(0), 0
	for n < len(b) && isDigit(b[n]) {
		v = v*10 + int64(b[n]-'0')
		n++
	}
	v *= 10
	if n < len(b) {
		if b[n] != '.' && b[n] != ',' || n+1 == len(b) {
			return 0, false
		}
		for i := n + 1; i < len(b); i++ {
			if !isDigit(b[i]) {
				return 0, false
			}
		}
		v += int64(b[n+1] - '0')
	}
	if neg {
		v = -v
	}
	return v, true
}
