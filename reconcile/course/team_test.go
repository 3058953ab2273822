package course

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Whoever stands by the line with another chip of a bib waits for their team where each of its runners wears
// one. Where a baton has two, and a line reads them together, two have mixed theirs up, and both came by.
func TestNobodyWaitsWhereABatonHasTwoChips(t *testing.T) {
	c := splits("run", [2]float64{0, 2500}, [2]float64{1, 5000}, [2]float64{0, 7500}, [2]float64{1, 10000})
	for _, x := range []struct {
		most, few Chips
		teams     bool
		want      []int
	}{
		{ChipsApart, ChipsTogether, true, []int{0, -1, 1, 2, 3}},
		{ChipsTogether, ChipsApart, false, []int{0, 1, -1, 2, 3}},
		{OneChip, OneChip, false, []int{0, 1, -1, 2, 3}},
	} {
		var runs []Run
		for n := range 20 {
			r := Run{Start: race.NoInstant, Chips: x.most}
			if n < 5 {
				r.Chips = x.few
			}
			for k := range 4 {
				r.Times = append(r.Times, race.Instant((k+1)*(900_000+10_000*n)))
			}
			runs = append(runs, r)
		}
		f := Learn(c, runs)
		if f.Teams != x.teams {
			t.Errorf("%v: teams %t", x, f.Teams)
		}
		waiter := seen(1, 1790)
		waiter.Waits = true
		if got := Assign(c, []Passing{seen(0, 900), waiter, seen(1, 1850), seen(0, 2700), seen(1, 3600)}, gunAt0(), &f); !slices.Equal(got.Split, x.want) {
			t.Errorf("%v: %v, want %v", x, got.Split, x.want)
		}
	}
}
