package clock

import (
	"testing"

	"twinmat/reconcile/race"
)

// stepping draws a comparison of a clock that steps by so much with one that steps by so much,
// at half of the race.
func stepping(seed uint64, other, main float64, pairs int) *Model {
	w := reference()
	w.pairs, w.step = pairs, other-main
	return Fit(w.draw(seed), Config{})
}

// torn is a comparison whose crossings agree on no offset.
func torn(seed uint64) *Model {
	w := reference()
	w.pairs = 200
	ps := w.draw(seed)
	for i := range ps {
		ps[i].Other = ps[i].Other.Add(race.Millis(i*37%120-60) * 1000)
	}
	return Fit(ps, Config{})
}

func TestAThirdClockTellsWhichOfTwoStepped(t *testing.T) {
	for _, c := range []struct {
		what string
		seen []Sighting
		want string // of the first sighting's step
	}{
		{"two clocks alone never tell", []Sighting{{"main", "backup", stepping(1, .75, 0, 200)}}, ""},
		{"backup's box at another line steps too", []Sighting{{"main-a", "box", stepping(1, .75, 0, 200)}, {"main-b", "box", stepping(2, .75, 0, 200)}}, "box"},
		{"backup's box at another line goes on", []Sighting{{"main-a", "box", stepping(1, .75, 0, 200)}, {"main-b", "box", stepping(2, 0, 0, 200)}}, "main-a"},
		{"a second backup sees main step", []Sighting{{"main", "b1", stepping(1, 0, .75, 200)}, {"main", "b2", stepping(2, 0, .75, 200)}}, "main"},
		{"a second backup sees main go on", []Sighting{{"main", "b1", stepping(1, .75, 0, 200)}, {"main", "b2", stepping(2, 0, 0, 200)}}, "b1"},
		{"main is another line's backup", []Sighting{{"box", "b1", stepping(1, 0, .75, 200)}, {"main-b", "box", stepping(2, .75, 0, 200)}}, "box"},
		{"a third with few pairs is silent", []Sighting{{"main", "b1", stepping(1, .75, 0, 200)}, {"main", "b2", stepping(2, 0, 0, 20)}}, ""},
		{"a third that saw nothing is silent", []Sighting{{"main", "b1", stepping(1, .75, 0, 200)}, {"main", "b2", nil}}, ""},
		{"a third that agrees on nothing is silent", []Sighting{{"main", "b1", stepping(1, 400, 0, 200)}, {"main", "b2", torn(2)}}, ""},
		{"witnesses that disagree are silent", []Sighting{{"main", "b1", stepping(1, .75, 0, 200)}, {"main", "b2", stepping(2, 0, 0, 200)}, {"main", "b3", stepping(3, .75, 0, 200)}}, ""},
	} {
		got := Ascribe(c.seen)
		if len(got[0]) != 1 || got[0][0] != c.want {
			t.Errorf("%s: got %q, want %q", c.what, got[0], c.want)
		}
	}
}
