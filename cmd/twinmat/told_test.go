package main

import (
	"os"
	"path/filepath"
	"strings"
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

// A ruling on a line, wave or bib that plan and lists have no more is in force and does nothing:
// who exports hears of it, and so does who asks how that bib's times came about.
func TestARulingThatChangesNothingIsTold(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	if status, says, _ := command([]string{"new", dir}); status != 0 {
		t.Fatal(says)
	}
	ruled := `{"seq":1,"at":"2026-05-17T10:00:00Z","by":"kim","rule":"witness","bib":"101","line":"goal","time":"2026-05-17T10:30:00Z","why":"seen"}
{"seq":2,"at":"2026-05-17T10:00:00Z","by":"kim","rule":"set-gun","wave":"Z","time":"2026-05-17T09:00:00Z","why":"heard"}
{"seq":3,"at":"2026-05-17T10:00:00Z","by":"kim","rule":"undo","undoes":2,"why":"no"}
`
	if err := os.WriteFile(filepath.Join(dir, "rulings.jsonl"), []byte(ruled), 0o600); err != nil {
		t.Fatal(err)
	}
	_, says, err := command([]string{"export", dir})
	if err != nil || !strings.Contains(says, `ruling 1 changes nothing: the plan has no line "goal"`) || strings.Contains(says, "ruling 2") {
		t.Error(says, err)
	}
	if _, says, _ := command([]string{"explain", dir, "101"}); !strings.Contains(says, `(seen); it changes nothing: the plan has no line "goal"`) {
		t.Error(says)
	}
}

// The way from backup's own clock to the race clock is told in its parts: what main is off is no
// part of the antenna's.
func TestTheStoryTellsMainsOffsetByItself(t *testing.T) {
	b, err := os.ReadFile("testdata/contract/systems.txt")
	if err != nil {
		t.Fatal(err)
	}
	c := &contract{t: t, dir: filepath.Join(t.TempDir(), "race")}
	c.unpack(string(b))
	says := c.says("explain", c.dir, "1")
	if !strings.Contains(says, "its clock reads +3.217 s to main's then (as set, drift +0.0 ppm), and main's +2.000 s to the race clock") || strings.Contains(says, "for its antenna") {
		t.Error(says)
	}
}
