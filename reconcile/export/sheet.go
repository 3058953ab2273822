package export

import (
	"io"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"twinmat/reconcile/race"
)

// sheet writes the rows of a table cell by cell into one piece of memory, which goes out
// whenever it is full: a big race has ten million cells. What it writes is what encoding/csv
// would (FuzzSheet).
type sheet struct {
	w     io.Writer
	b     []byte
	zone  *time.Location
	begun bool // the row has a cell
	err   error
}

const sheetPiece = 1 << 16

// table writes a header and rows.
func table(w io.Writer, zone *time.Location, header string, rows func(*sheet)) error {
	s := &sheet{w: w, zone: zone, b: make([]byte, 0, sheetPiece+1<<12)}
	s.cells(strings.Split(header, ",")...)
	s.end()
	rows(s)
	s.flush()
	return s.err
}

func (s *sheet) next() {
	if s.begun {
		s.b = append(s.b, ',')
	}
	s.begun = true
}

// cell puts down a text as it is.
func (s *sheet) cell(text string) {
	s.next()
	if !quoted(text) {
		s.b = append(s.b, text...)
		return
	}
	s.b = append(s.b, '"')
	for i := range len(text) {
		if text[i] == '"' {
			s.b = append(s.b, '"')
		}
		s.b = append(s.b, text[i])
	}
	s.b = append(s.b, '"')
}

func (s *sheet) cells(texts ...string) {
	for _, t := range texts {
		s.cell(t)
	}
}

// quoted tells whether a cell stands in quotation marks: where RFC 4180 asks for them, where
// a reader would take away the space it begins with, and \. alone, which a database takes for
// the end of its input.
func quoted(text string) bool {
	if text == "" {
		return false
	}
	if text == `\.` {
		return true
	}
	for i := range len(text) {
		if c := text[i]; c == ',' || c == '"' || c == '\r' || c == '\n' {
			return true
		}
	}
	first, _ := utf8.DecodeRuneInString(text)
	return unicode.IsSpace(first)
}

func (s *sheet) number(n int) {
	s.next()
	s.b = strconv.AppendInt(s.b, int64(n), 10)
}

// place puts down a rank, nothing for none.
func (s *sheet) place(n int32) {
	if s.next(); n != 0 {
		s.b = strconv.AppendInt(s.b, int64(n), 10)
	}
}

func (s *sheet) at(t race.Instant) {
	s.next()
	s.b = t.Append(s.b, s.zone)
}

func (s *sheet) length(d race.Millis) {
	s.next()
	s.b = d.Append(s.b)
}

func (s *sheet) seconds(d race.Millis) {
	s.next()
	s.b = d.AppendDecimal(s.b)
}

// end ends a row.
func (s *sheet) end() {
	s.b, s.begun = append(s.b, '\n'), false
	if len(s.b) >= sheetPiece {
		s.flush()
	}
}

func (s *sheet) flush() {
	if s.err == nil {
		_, s.err = s.w.Write(s.b)
	}
	s.b = s.b[:0]
}
