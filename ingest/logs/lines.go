package logs

import (
	"bytes"
)

const (
	maxLine  = 64 << 10 // a longer line is a bad one
	maxQuote = 200      // bytes of a bad line that are kept
)

// lines cuts a file's text into lines, which end at LF, CR LF or CR.
type lines struct {
	carry  []byte // the line that hasn't ended yet; only its start once it is long
	long   bool   // that line is over maxLine
	sawCR  bool   // the last byte was a CR: an LF that follows belongs to it
	number uint32 // of lines ended so far
}

// cut takes the lines of a piece of text, without their ends.
func (l *Log) cut(f *file, text []byte) {
	c := &f.lines
	if c.sawCR && len(text) > 0 {
		c.sawCR = false
		if text[0] == '\n' {
			text = text[1:]
		}
	}
	nextCR := next(text, 0, '\r')
	nextLF := next(text, 0, '\n')
	for at := 0; at < len(text); {
		if nextLF < at {
			nextLF = next(text, at, '\n')
		}
		if nextCR < at {
			nextCR = next(text, at, '\r')
		}
		end := min(nextLF, nextCR)
		if end == len(text) {
			c.hold(text[at:])
			return
		}
		line := text[at:end]
		if len(c.carry) > 0 || c.long {
			c.hold(line)
			line = c.carry
		} else if len(line) > maxLine {
			c.long = true
		}
		at = end + 1
		if end == nextCR {
			if at == len(text) {
				c.sawCR = true
			} else if text[at] == '\n' {
				at++
			}
		}
		l.end(f, line, false)
	}
}

// end takes a line. last: it has no newline.
func (l *Log) end(f *file, line []byte, last bool) {
	c := &f.lines
	if c.number+1 != 0 { // past four milliards the number stands still
		c.number++
	}
	if !last && l.quick(f, line) {
		if len(c.carry) > 0 {
			c.carry = c.carry[:0]
		}
		return
	}
	l.line(f, line, last)
	c.carry = c.carry[:0]
	c.long = false
}

// hold keeps part of a line whose end hasn't come. Of a long one it keeps the start alone.
func (c *lines) hold(b []byte) {
	if c.long {
		return
	}
	if len(c.carry)+len(b) > maxLine {
		c.long = true
		c.carry = append(c.carry, b[:min(len(b), maxQuote)]...)
		return
	}
	c.carry = append(c.carry, b...)
}

// open tells whether a line has begun that hasn't ended and isn't blank.
func (c *lines) open() bool { return c.long || !blank(c.carry) }

// next is the place of c in b from at on, len(b) where there is none.
func next(b []byte, at int, c byte) int {
	if i := bytes.IndexByte(b[at:], c); i >= 0 {
		return at + i
	}
	return len(b)
}

// blank tells whether a line holds nothing but spaces.
func blank(b []byte) bool {
	for len(b) > 0 {
		switch {
		case b[0] == ' ':
			b = b[1:]
		case bytes.HasPrefix(b, byteOrderMark):
			b = b[len(byteOrderMark):]
		default:
			return false
		}
	}
	return true
}

// byteOrderMark is U+FEFF in UTF-8. It comes again where files are put end to end.
var byteOrderMark = []byte{0xEF, 0xBB, 0xBF}
