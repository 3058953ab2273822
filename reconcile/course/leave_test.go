package course

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Whoever has come in goes where they like with their chip: what lines read afterwards that they had
// passed makes a finish that was read by a few reads no read from the line beside.
func TestWhoGoesHomePastALineHasFinished(t *testing.T) {
	c := splits("run", [2]float64{0, 0}, [2]float64{1, 5000}, [2]float64{2, 10000}, [2]float64{3, 15000})
	in := seen(3, 5400)
	in.Systems, in.Full = 1, .2
	ps := []Passing{seen(0, 3), seen(1, 1800), seen(2, 3600), in, seen(2, 9000), seen(1, 11000)}
	if a := Assign(c, ps, gunAt0(), nil); !slices.Equal(a.Split, []int{0, 1, 2, 3, -1, -1}) {
		t.Errorf("%v", a.Split)
	}
	for i := range ps { // another chip of the bib's, on another body, went by there
		ps[i].Worn = 1 + uint32(i/4)
	}
	if a := Assign(c, ps, gunAt0(), nil); slices.Equal(a.Split, []int{0, 1, 2, 3, -1, -1}) {
		t.Errorf("of two chips: %v", a.Split)
	}
	// Who is heard at the finish on the way to a line that the course comes to once more hasn't.
	c = splits("run", [2]float64{0, 0}, [2]float64{1, 5000}, [2]float64{2, 10000}, [2]float64{1, 15000}, [2]float64{3, 21000})
	ps = []Passing{seen(0, 3), seen(1, 1800), seen(2, 3600), seen(3, 4000), seen(1, 5400), seen(3, 7560)}
	if a := Assign(c, ps, gunAt0(), nil); !slices.Equal(a.Split, []int{0, 1, 2, -1, 3, 4}) {
		t.Errorf("%v", a.Split)
	}
}

// Nor is it out of order where they were missed at that line on the way: that the split is missing is told.
func TestWhoGoesHomePastALineThatMissedThemIsNotOutOfOrder(t *testing.T) {
	c := splits("run", [2]float64{0, 0}, [2]float64{1, 5000}, [2]float64{2, 10000}, [2]float64{3, 15000})
	got := Assign(c, []Passing{seen(0, 3), seen(2, 3600), seen(3, 5400), seen(1, 9000)}, gunAt0(), nil)
	if got.OutOfOrder || !slices.Equal(got.Split, []int{0, 2, 3, -1}) || got.Fate[3] != race.Extra {
		t.Errorf("after the finish: %t, %v, %v", got.OutOfOrder, got.Split, got.Fate)
	}
	if got := Assign(c, []Passing{seen(0, 3), seen(2, 1700), seen(1, 3500), seen(3, 5300)}, gunAt0(), nil); !got.OutOfOrder {
		t.Errorf("on the way: %v", got.Split)
	}
}
