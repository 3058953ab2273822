package tui

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// The order of every column is checked against the standard library's sort, on names made
// long, equal, empty and foreign (seed 1).
func TestSortsAgreeWithTheStandardLibrary(t *testing.T) {
	d := newDriver(t, 80, 24, 400, nil)
	rng := rand.New(rand.NewPCG(1, 1))
	s := *d.desk.state
	s.Results = slices.Clone(s.Results)
	for i := range s.Results {
		words := []string{"", "Íris", "aa", "Aa", "田中", "Featherstonehaugh-Longname", "Featherstonehaugh-Longnamf", "zz"}
		s.Results[i].Name = words[rng.IntN(len(words))] + words[rng.IntN(len(words))]
		s.Results[i].Team = words[rng.IntN(len(words))]
	}
	d.desk.state = &s
	d.feed()
	a := d.m.screens[screenAthletes].(*athletes)
	for by := range orders {
		a.by = by
		a.sort()
		want := make([]int32, len(s.Results))
		for i := range want {
			want[i] = int32(i)
		}
		o := &orders[by]
		slices.SortStableFunc(want, func(x, y int32) int {
			p, q := &s.Results[x], &s.Results[y]
			c := cmp.Compare(o.key(a.book, p), o.key(a.book, q))
			if c == 0 && o.word != nil {
				c = strings.Compare(tail(o.word(p)), tail(o.word(q)))
			}
			return c
		})
		if !slices.Equal(a.rows, want) {
			t.Errorf("by %s: %v, want %v", o.name, a.rows[:10], want[:10])
		}
	}
}

// tail is what follows the first eight bytes, its next eight without case and the nameless last.
func tail(w string) string {
	if len(w) <= 8 {
		return ""
	}
	w = w[8:]
	b := []byte(w)
	for i := range min(len(b), 8) {
		if b[i] >= 'A' && b[i] <= 'Z' {
			b[i] += 'a' - 'A'
		}
	}
	return string(b)
}
