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
var watchedSplits = []string{"at", "gun_time", "net_time", "stretch_time", "from", "plus_minus_s"}

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
func splitChanges(bib string, before, after []map[string]string) []Change {
	var out []Change
	of := func(rows []map[string]string, split string) map[string]string {
		for _, r := range rows {
			if r["split"] == split {
				return r
			}
		}
		return nil
	}
	tell := func(split string, x, y map[string]string) {
		for _, what := range watchedSplits {
			if x[what] != y[what] {
				out = append(out, Change{bib, split + " " + what, x[what], y[what]})
			}
		}
	}
	for _, y := range after {
		tell(y["split"], of(before, y["split"]), y)
	}
	for _, x := range before {
		if of(after, x["split"]) == nil {
			tell(x["split"], x, nil)
		}
	}
	return out
}

// splitLines is a splits.csv that is read line by line.
type splitLines struct {
	lines  *bufio.Scanner
	header []string
	line   []byte // the one that is next, nil at the end
	row    map[string]string
	last   string // bib of the last row
	err    error
}

func openSplits(r io.Reader) (*splitLines, error) {
	s := &splitLines{lines: bufio.NewScanner(r)}
	s.lines.Buffer(nil, 1<<20)
	s.next()
	if s.err == nil && s.line != nil {
		s.header, s.err = csv.NewReader(bytes.NewReader(s.line)).Read()
		s.next()
	}
	return s, s.err
}

func (s *splitLines) next() {
	s.row, s.line = nil, nil
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
	if s.row == nil {
		cells, err := csv.NewReader(bytes.NewReader(s.line)).Read()
		if err != nil {
			s.err = err
			return ""
		}
		s.row = map[string]string{}
		for i, c := range cells[:min(len(cells), len(s.header))] {
			s.row[s.header[i]] = c
		}
		if bib := s.row["bib"]; bib == "" || s.last != "" && race.CompareBibs(bib, s.last) < 0 {
			s.err = errors.New("the rows are not in order of bib")
			return ""
		}
		s.last = s.row["bib"]
	}
	return s.last
}

// of takes the lines of a bib that are next.
func (s *splitLines) of(bib string) []map[string]string {
	var out []map[string]string
	for bib != "" && s.bib() == bib {
		out = append(out, s.row)
		s.next()
	}
	return out
}
