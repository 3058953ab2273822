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
	s.Results, s.Ranks = copied(s.Results), slices.Clone(s.Ranks)
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
			p, q := s.Results[x], s.Results[y]
			c := cmp.Compare(o.key(a.book, int(x)), o.key(a.book, int(y)))
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

// An order by name is kept while the same people are in the race, and not longer.
func TestAnOrderHoldsAsLongAsItsRoster(t *testing.T) {
	d := newDriver(t, 80, 24, 60, nil)
	d.keys("3 o o home")
	d.sees("athletes by name")
	a := d.m.screens[screenAthletes].(*athletes)
	was := a.in.of
	d.feed()
	if a.in.of != was {
		t.Error("the same people are sorted again")
	}
	s := *d.desk.state
	s.Results, s.Ranks = copied(s.Results), slices.Clone(s.Ranks)
	s.Results[30].Name = "Aaa First"
	d.desk.state = &s
	d.feed()
	if d.keys("home"); a.ID(0) != s.Results[30].Bib {
		t.Errorf("%s stands first, not %s", a.ID(0), s.Results[30].Bib)
	}
}

// A screen that wasn't shown while the race changed shows the race as it is.
func TestAScreenCatchesUpWhenItIsShown(t *testing.T) {
	d := newDriver(t, 80, 24, 60, nil)
	d.keys("3 end 1")
	d.desk.state = fixture(5)
	d.feed()
	for _, k := range []string{"3", "2", "6", "7", "8", "5", "4", "3"} {
		d.keys(k)
	}
	d.sees("5 athletes by bib")
	d.desk.state = fixture(9)
	d.feed()
	d.keys("1 / 4")
	d.sees("found for 4")
}
