package main

import (
	"testing"
	"time"

	"twinmat/cmd/internal/live"
	"twinmat/tui"
)

// What the race tells reaches the console as it is: what wants somebody, and what is over.
func TestNoticesReachTheConsole(t *testing.T) {
	x := forConsole(live.Update{Notices: []live.Notice{{Text: "a"}, {Text: "b", Bad: true}, {Text: "c", Bad: true, Over: true}}}, nil)
	for i, want := range []tui.Notice{{Says: "a", Level: tui.Quiet}, {Says: "b", Level: tui.Needed}, {Says: "c", Level: tui.Needed, Over: true}} {
		if n := x.Notices[i]; n.Says != want.Says || n.Level != want.Level || n.Over != want.Over {
			t.Errorf("%+v, want %+v", n, want)
		}
	}
	grew := time.Unix(1000, 0)
	x = forConsole(live.Update{Health: []live.Health{{LastNew: grew}, {}}}, func(t time.Time) time.Time { return t.Add(time.Hour) })
	if h := x.Health; h[0].Grew != grew.Add(time.Hour) || !h[1].Grew.IsZero() {
		t.Errorf("grew %v", x.Health)
	}
}
