package course

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Whoever says which lap a crossing was says it of those after it too: that no lap was missed
// in a long one, that one was, and that one that seemed to stay near went round.
func TestARuledLapCounts(t *testing.T) {
	open := &race.Course{Sport: "run", Open: true, LapLength: 1500, Splits: []race.Split{{ID: "lap-1", At: 1500, Sport: "run", Lap: 1}}}
	twelve := lapsCourse(12, 1, 1500, "run")
	for _, c := range []struct {
		name   string
		course *race.Course
		at     []float64
		named  map[int]int // passing: split
		free   []int
		want   []int
	}{
		{"rested", open, []float64{480, 970, 1455, 2420, 2905, 3390}, map[int]int{3: 3}, []int{0, 1, 2, 4, 5, 6}, []int{0, 1, 2, 3, 4, 5}},
		{"missed", open, []float64{480, 970, 1455, 2060, 2545, 3030}, map[int]int{3: 4}, []int{0, 1, 2, 3, 4, 5}, []int{0, 1, 2, 4, 5, 6}},
		{"rested, of twelve", twelve, []float64{480, 970, 1455, 2420, 2905, 3390}, map[int]int{3: 3}, []int{0, 1, 2, 4, 5, 6}, []int{0, 1, 2, 3, 4, 5}},
		{"told laps later", open, []float64{480, 970, 1455, 2420, 2905, 3390}, map[int]int{5: 5}, []int{0, 1, 2, 4, 5, 6}, []int{0, 1, 2, 3, 4, 5}},
		{"nothing else than it seems", open, []float64{480, 970, 1455}, map[int]int{1: 1}, []int{0, 1, 2}, []int{0, 1, 2}},
	} {
		var ps []Passing
		for _, at := range c.at {
			ps = append(ps, seen(0, at))
		}
		if got := Assign(c.course, ps, gunAt0(), nil); !slices.Equal(got.Split, c.free) {
			t.Errorf("%s, unruled: %v; want %v", c.name, got.Split, c.free)
		}
		for k, split := range c.named {
			ps[k].As = split + 1
		}
		if got := Assign(c.course, ps, gunAt0(), nil); !slices.Equal(got.Split, c.want) {
			t.Errorf("%s: %v; want %v", c.name, got.Split, c.want)
		}
	}
}
