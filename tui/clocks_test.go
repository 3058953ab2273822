package tui

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Whoever sees a clock that was set by hand must not look for it in the plan.
func TestAClockTellsWhatItIsSetBy(t *testing.T) {
	d := newDriver(t, 140, 30, 40, nil)
	s := *d.desk.State()
	s.Clocks = slices.Clone(s.Clocks)
	x := &s.Clocks[0]
	x.Fixed = true
	set := race.Ruling{Seq: 1, Rule: race.SetClock, Line: s.Plan.Lines[x.Line].ID, System: s.Plan.Logs[x.Source].System.String(), Offset: "+3.217"}
	other, stepped := set, set
	other.System, stepped.Offset, stepped.Stepped = "hand", "", "backup"
	for _, c := range []struct {
		rulings []race.Ruling
		undone  map[int]int
		want    string
	}{
		{nil, nil, "the plan"},
		{[]race.Ruling{set}, nil, "a ruling"},
		{[]race.Ruling{set}, map[int]int{1: 2}, "the plan"},
		{[]race.Ruling{other, stepped}, nil, "the plan"},
	} {
		s.Rulings, s.Undone = c.rulings, c.undone
		d.desk.state = &s
		d.feed()
		y := d.m.screens[screenClocks].(*clocks)
		if _, got := y.Cell(0, 10); got != c.want {
			t.Errorf("%+v, undone %v: %q, want %q", c.rulings, c.undone, got, c.want)
		}
	}
}
