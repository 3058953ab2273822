package journal

import (
	"bytes"
	"unicode"
	"unicode/utf8"
)

// diskSector is what a disk writes whole or not at all.
const diskSector = 512

// halfWritten tells whether the unreadable end of a journal, from at on, is what a crash leaves
// of the last record: no newline, or a sector that was not written. Any other line was whole
// once, and acknowledged: somebody changed it.
func halfWritten(tail []byte, at int) bool {
	first, _, ended := bytes.Cut(tail, []byte("\n"))
	switch {
	case !ended:
		return true
	case !unwritten(tail, at):
		return false
	}
	return !isRecord(first) || unwritten(first, at)
}

// isRecord tells whether a line begins and ends as records do.
func isRecord(line []byte) bool {
	return bytes.HasPrefix(line, begin) && bytes.HasSuffix(bytes.TrimSpace(line), []byte("}"))
}

var begin = []byte(`{"seq":`)

// unwritten tells whether one of the sectors that bytes of the file lie in holds no text. Of the
// first one a few bytes may be all there is: they are how a record begins, or not.
func unwritten(b []byte, at int) bool {
	head := diskSector - at%diskSector
	if head < len(b) && head < 2*len(begin) {
		n := min(head, len(begin))
		if !bytes.Equal(b[:n], begin[:n]) {
			return true
		}
	}
	for len(b) > 0 {
		n := min(len(b), diskSector-at%diskSector)
		if noText(b[:n]) {
			return true
		}
		b, at = b[n:], at+n
	}
	return false
}

// noText tells whether a quarter or more of some bytes is nothing that a record holds: of
// zeros all are, of random bytes half.
func noText(b []byte) bool {
	odd := 0
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 || unicode.IsControl(r) && r != '\n' && r != '\r' {
			odd++
		}
		i += n
	}
	return 4*odd >= len(b)
}
