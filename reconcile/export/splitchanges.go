package export

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"

	"twinmat/reconcile/race"
)

// watchedSplits are the columns of splits.csv that may differ: a time and what it rests on.
// What else the systems saw of that passing moves with every read.
var watchedSplits = [...]string{"at", "gun_time", "net_time", "stretch_time", "from", "plus_minus_s"}

// CompareSplits lists what differs between two splits.csv, in order of bib: "10k at" is the cell
// at of split 10k. Both are read once, line by line, for there are millions.
func CompareSplits(before, after io.Reader) ([]Change, error) {
	a, err := openSplits(before)
	if err != nil {
		return nil, fmt.Errorf("the export before: %w", err)
	}
	b, err := openSplits(after)
	if err != nil {
		return nil, err
	}
	var out []Change
	sameColumns := slices.Equal(a.header, b.header)
	for a.line != nil || b.line != nil {
		if sameColumns && bytes.Equal(a.line, b.line) {
			a.next() // nearly all
			b.next()
			continue
		}
		x, y := a.bib(), b.bib()
		bib := x
		if x == "" || y != "" && race.CompareBibs(y, x) < 0 {
			bib = y
		}
		out = append(out, splitChanges(bib, a.of(bib), b.of(bib))...)
		if err := errors.Join(a.err, b.err); err != nil {
			return nil, err
		}
	}
	return out, errors.Join(a.err, b.err)
}

// splitChanges are those of one bib, in the order of the splits that are there now, then of
// those that went.
func splitChanges(bib string, before, after []splitRow) []Change {
	var out []Change
	tell := func(split string, x, y *splitRow) {
		for k, what := range watchedSplits {
			if x.watched[k] != y.watched[k] {
				out = append(out, Change{bib, split + " " + what, x.watched[k], y.watched[k]})
			}
		}
	}
	none, was := &splitRow{}, rowsOf(before)
	for i := range after {
		y := &after[i]
		x, ok := was[y.split]
		if !ok {
			x = none
		}
		tell(y.split, x, y)
	}
	now := rowsOf(after)
	for i := range before {
		if x := &before[i]; now[x.split] == nil {
			tell(x.split, x, none)
		}
	}
	return out
}

// splitRow is what is compared of a row.
type splitRow struct {
	split   string
	watched [len(watchedSplits)]string
}

// rowsOf are rows by split, the first of each.
func rowsOf(rows []splitRow) map[string]*splitRow {
	of := make(map[string]*splitRow, len(rows))
	for i := range rows {
		if r := &rows[i]; of[r.split] == nil {
			of[r.split] = r
		}
	}
	return of
}

// splitLines is a splits.csv that is read line by line.
type splitLines struct {
	lines  *bufio.Scanner
	header []string
	line   []byte       // the one that is next, nil at the end
	one    bytes.Reader // of that line alone, for cells: one reader for all lines
	cells  *csv.Reader
	row    splitRow // of the line, where it was looked into
	bibIs  string   // whose that is, "": it wasn't
	last   string   // bib of the last row
	err    error
}

func openSplits(r io.Reader) (*splitLines, error) {
	s := &splitLines{lines: bufio.NewScanner(r)}
	s.lines.Buffer(nil, 1<<20)
	s.cells = csv.NewReader(&s.one)
	s.cells.ReuseRecord, s.cells.FieldsPerRecord = true, -1
	s.next()
	if s.err == nil && s.line != nil {
		s.one.Reset(s.line)
		header, err := s.cells.Read()
		s.header, s.err = slices.Clone(header), err
		s.next()
	}
	return s, s.err
}

func (s *splitLines) next() {
	s.bibIs, s.line = "", nil
	for s.err == nil && len(s.line) == 0 {
		if !s.lines.Scan() {
			s.line, s.err = nil, s.lines.Err()
			return
		}
		s.line = s.lines.Bytes()
	}
}

// bib is whose line is next, "" at the end.
func (s *splitLines) bib() string {
	if s.line == nil || s.err != nil {
		return ""
	}
	if s.bibIs != "" {
		return s.bibIs
	}
	s.one.Reset(s.line)
	cells, err := s.cells.Read()
	if err != nil {
		s.err = err
		return ""
	}
	s.row = splitRow{}
	for i, c := range cells[:min(len(cells), len(s.header))] {
		switch what := s.header[i]; what {
		case "bib":
			s.bibIs = c
		case "split":
			s.row.split = c
		default:
			if k := slices.Index(watchedSplits[:], what); k >= 0 {
				s.row.watched[k] = c
			}
		}
	}
	if s.bibIs == "" || s.last != "" && race.CompareBibs(s.bibIs, s.last) < 0 {
		s.bibIs, s.err = "", errors.New("the rows are not in order of bib")
		return ""
	}
	s.last = s.bibIs
	return s.last
}

// of takes the lines of a bib that are next.
func (s *splitLines) of(bib string) []splitRow {
	var out []splitRow
	for bib != "" && s.bib() == bib {
		out = append(out, s.row)
		s.next()
	}
	return out
}
