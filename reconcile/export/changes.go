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

// Change is one cell of times.csv that differs from the export before.
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
	for bib := range a {
		bibs = append(bibs, bib)
	}
	for bib := range b {
		if _, ok := a[bib]; !ok {
			bibs = append(bibs, bib)
		}
	}
	sort.Slice(bibs, func(i, j int) bool { return race.CompareBibs(bibs[i], bibs[j]) < 0 })
	var out []Change
	for _, bib := range bibs {
		for _, what := range watched {
			if x, y := a[bib][what], b[bib][what]; x != y {
				out = append(out, Change{bib, what, x, y})
			}
		}
	}
	return out, nil
}

func byBib(r io.Reader) (map[string]map[string]string, error) {
	out := map[string]map[string]string{}
	if r == nil {
		return out, nil
	}
	c := csv.NewReader(r)
	c.FieldsPerRecord = -1
	header, err := c.Read()
	if errors.Is(err, io.EOF) {
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		m := map[string]string{}
		for i, name := range header {
			if i < len(row) {
				m[name] = row[i]
			}
		}
		if bib := m["bib"]; bib != "" {
			out[bib] = m
		}
	}
}

// Changes writes changes.csv.
func Changes(w io.Writer, changes []Change) error {
	return table(w, "bib,what,before,after", func(put func(...string)) {
		for _, c := range changes {
			before, after := c.Before, c.After
			switch c.What {
			case "name", "sex", "category", "team": // safe already, unless somebody wrote the export before by hand
				before, after = Text(before), Text(after)
			}
			put(c.Bib, c.What, before, after)
		}
	})
}
