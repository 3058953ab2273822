package export

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"sort"
	"strings"

	"twinmat/reconcile/race"
)

// watched are the columns of times.csv that may differ: all but the bib, by which rows are
// told.
var watched = slices.DeleteFunc(strings.Split(TimesHeader, ","), func(s string) bool { return s == "bib" })

// Change is one cell of times.csv or splits.csv that differs from the export before.
type Change struct{ Bib, What, Before, After string }

// Compare lists what differs between two times.csv, in order of bib. A bib that came or went
// differs in every cell that isn't empty.
func Compare(before, after io.Reader) ([]Change, error) {
	a, err := byBib(before)
	if err != nil {
		return nil, fmt.Errorf("the export before: %w", err)
	}
	b, err := byBib(after)
	if err != nil {
		return nil, err
	}
	var bibs []string
	for bib := range a.rows {
		bibs = append(bibs, bib)
	}
	for bib := range b.rows {
		if _, ok := a.rows[bib]; !ok {
			bibs = append(bibs, bib)
		}
	}
	sort.Slice(bibs, func(i, j int) bool { return race.CompareBibs(bibs[i], bibs[j]) < 0 })
	var out []Change
	for _, bib := range bibs {
		if slices.Equal(a.rows[bib], b.rows[bib]) && slices.Equal(a.header, b.header) {
			continue // nearly all
		}
		for _, what := range watched {
			if x, y := a.cell(bib, what), b.cell(bib, what); x != y {
				out = append(out, Change{bib, what, x, y})
			}
		}
	}
	return out, nil
}

// grid is a times.csv as it was read.
type grid struct {
	header []string
	rows   map[string][]string // by bib
}

// cell is what stands in a bib's row, "" where there is none.
func (g *grid) cell(bib, what string) string {
	row := g.rows[bib]
	for i := len(g.header) - 1; i >= 0; i-- {
		if g.header[i] == what && i < len(row) {
			return row[i]
		}
	}
	return ""
}

func byBib(r io.Reader) (*grid, error) {
	g := &grid{rows: map[string][]string{}}
	c := csv.NewReader(r)
	c.FieldsPerRecord = -1
	header, err := c.Read()
	if errors.Is(err, io.EOF) {
		return g, nil
	}
	if err != nil {
		return nil, err
	}
	g.header = header
	at := slices.Index(header, "bib")
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return g, nil
		}
		if err != nil {
			return nil, err
		}
		if at >= 0 && at < len(row) && row[at] != "" {
			g.rows[row[at]] = row
		}
	}
}

// Changes writes changes.csv.
func Changes(w io.Writer, changes []Change) error {
	return table(w, nil, "bib,what,before,after", func(t *sheet) {
		for _, c := range changes {
			before, after := c.Before, c.After
			switch c.What {
			case "name", "sex", "category", "team": // safe already, unless somebody wrote the export before by hand
				before, after = Text(before), Text(after)
			}
			t.cells(c.Bib, c.What, before, after)
			t.end()
		}
	})
}
