package race

import "testing"

func TestLapsOfACourseWithoutEnd(t *testing.T) {
	c := Course{Open: true, LapLength: 1500, Splits: []Split{{ID: "lap-1", At: 1200, Lap: 1, Line: 3}}}
	first := &c.Splits[0]
	tenth := c.Lap(first, 10)
	if want := (Split{ID: "lap-10", At: 1200 + 9*1500, Lap: 10, Line: 3}); tenth != want {
		t.Errorf("lap 10 is %+v, want %+v", tenth, want)
	}
	if x := c.Lap(&tenth, 12); x != c.Lap(first, 12) {
		t.Errorf("lap 12 from the tenth is %+v", x)
	}
	for id, want := range map[string]int{"lap-1": 1, "lap-12": 12, "lap-0": 0, "lap--2": 0, "lap-+2": 0, "lap-007": 0, "lap-": 0, "lap-x": 0, "7": 0, "round-2": 0, "": 0} {
		if got := first.LapOf(id); got != want {
			t.Errorf("%q names lap %d, want %d", id, got, want)
		}
		if got := tenth.LapOf(id); got != want {
			t.Errorf("beside the tenth, %q names lap %d, want %d", id, got, want)
		}
	}
}
