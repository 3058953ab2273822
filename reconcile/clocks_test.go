package reconcile

import (
	"testing"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/race"
)

// Those who wait about a start tell of a clock until enough have crossed its lines, and no more.
func TestWhoWaitsAboutAStartTellsOfAClockOnlyAtFirst(t *testing.T) {
	for _, crossed := range []int{0, enoughPairs - 1, enoughPairs, 10 * enoughPairs} {
		var ps []clock.Pair
		for i := range crossed + 40 {
			ps = append(ps, clock.Pair{Tag: i, Early: i%2 == 0 && i < 80})
		}
		n := 0
		for _, p := range ps {
			if !p.Early {
				n++
			}
		}
		want := len(ps)
		if n >= enoughPairs {
			want = n
		}
		if got := len(withoutEarly(ps)); got != want {
			t.Errorf("%d early, %d not: %d left, want %d", len(ps)-n, n, got, want)
		}
	}
}

// A sprint to the line is no step of a clock: the last of so many laps has a distance between
// the antennas of its own, as a direction has. Where laps have no number none is the last. Rounds that
// the plan names one by one are laps too; out and back are directions.
func TestTheLastLapIsCrossedAtAnotherPace(t *testing.T) {
	laps := func(n int, open bool) *race.Course {
		c := &race.Course{Open: open}
		for k := range n {
			c.Splits = append(c.Splits, race.Split{ID: "lap", Lap: k + 1})
		}
		return c
	}
	named := func(at ...float64) *race.Course {
		c := &race.Course{}
		for k, m := range at {
			c.Splits = append(c.Splits, race.Split{ID: string(rune('a' + k)), At: m})
		}
		return c
	}
	for _, x := range []struct {
		c    *race.Course
		i    int
		want string
	}{{laps(3, false), 0, "lap"}, {laps(3, false), 1, "lap"}, {laps(3, false), 2, "last lap"}, {laps(2, false), 1, "lap"}, {laps(1, true), 0, "lap"}, {laps(1, false), 0, "lap"},
		{&race.Course{Splits: []race.Split{{ID: "10k"}}}, 0, "10k"},
		{named(1500, 4000, 6500, 9000), 0, "lap"}, {named(1500, 4000, 6500, 9000), 3, "last lap"}, {named(0, 2500, 5000, 7500), 0, "a"}, {named(0, 2500, 5000, 7500), 2, "lap"},
		{named(5000, 10000), 1, "b"}, {named(2000, 8000, 12000), 1, "b"}} {
		if got := groupName(x.c, x.i); got != x.want {
			t.Errorf("split %d of %d: %s, want %s", x.i, len(x.c.Splits), got, x.want)
		}
	}
}
