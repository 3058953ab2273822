package tui

import (
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// Where there is no room for every board, each course's own stands before those by sex: the
// course that finishes now is not hidden by one that is still on its way.
func TestNoCourseHidesAnother(t *testing.T) {
	for _, h := range []int{20, 24} {
		d := newDriver(t, 80, h, 300, nil)
		s := d.screen()
		if !strings.Contains(s, "\nten ") || !strings.Contains(s, "\nfive ") {
			t.Errorf("80 by %d lacks a course:\n%s", h, s)
		}
		d.keys("l")
		d.sees("\nten ", "\nten F ", "\nten M ", "\nfive ", "\nfive F ", "\nfive M ")
		if s := d.screen(); strings.Index(s, "\nfive ") < strings.Index(s, "\nten M ") {
			t.Errorf("all boards stand by course:\n%s", s)
		}
	}
}

// Whoever cut the course and is in first leaves those behind with the time that they have.
func TestLeadersOnTheWayHaveTheirTime(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	s := d.desk.state
	for i := range s.Results {
		if r := s.Results[i]; r.Course == 0 && s.Ranks[i].All > 1 {
			r.Filled = []int{r.Filled[0], r.Filled[1], -1}
			s.Ranks[i], r.Finish, r.State, r.Official = race.Ranks{}, -1, race.Running, race.NoMillis
		}
	}
	d.feed()
	d.sees("ten          1 1 0:32:07±0.2       2 75 0:16:15 @turn")
}

// A time that is bounded by hours takes its bound's column, not the next athlete's; a bound of
// thousandths is not told as none; a bib is told whole, whatever stands beside it.
func TestBoundsOfLeaders(t *testing.T) {
	for _, c := range []struct {
		pm   race.Millis
		bib  string
		w    int
		want string
	}{
		{99_000_000, "1", 80, "1 1 0:32:07±99000     2 "},
		{99_000_000, "123456", 80, "1 123456 0:32:07      2 "},
		{3, "1", 80, "1 1 0:32:07±0.003     2 "},
		{40, "1", 80, "1 1 0:32:07±0.04      2 "},
		{60, "1", 80, "1 1 0:32:07±0.1       2 "},
		{200, "123456", 60, "1 123456 0:32~ 2 "},
	} {
		d := newDriver(t, c.w, 24, 300, func(o *Options) { o.ASCII = c.w == 60 })
		d.desk.state.Results[0].Bib, d.desk.state.Results[0].PM = c.bib, c.pm
		d.desk.state.ByBib[c.bib] = 0
		d.feed()
		d.sees(c.want)
	}
}

func TestHalfWidthsFitTheirColumn(t *testing.T) {
	for d, want := range map[race.Millis]string{race.NoMillis: "", 0: "0.00", 3: "0.003", 10: "0.01", 200: "0.20", 99_990: "99.99", 99_000_000: "99000"} {
		if got := seconds(d); got != want {
			t.Errorf("%d ms is told as %q, want %q", int64(d), got, want)
		}
	}
}

// Where laps rank, the boards tell them: a later time may lead.
func TestLeadersByLapsHaveTheirLaps(t *testing.T) {
	for _, rule := range []race.Course{{TimeLimit: 1}, {Flagged: true}, {Open: true}} {
		d := newDriver(t, 80, 24, 300, nil)
		c := &d.desk.state.Plan.Courses[0]
		c.TimeLimit, c.Flagged, c.Open = rule.TimeLimit, rule.Flagged, rule.Open
		d.desk.state.Results[0].Laps, d.desk.state.Results[74].Laps = 12, 1
		d.desk.state.Results[0].Bib = "1234"
		d.desk.state.ByBib["1234"] = 0
		d.desk.state.Results[74].HeldFor = []string{"missing-split:75:turn"}
		d.feed()
		d.sees("1 1234 12 laps        2 ■75 1 lap 0:32:21 ")
	}
}

// The head of a story begins another line where one has no room: a rank is never cut.
func TestTheRankIsToldWhole(t *testing.T) {
	for _, w := range []int{60, 80, 100, 150, 200} {
		d := newDriver(t, w, 30, 300, nil)
		r := d.desk.state.Results[0]
		d.desk.state.Ranks[0] = race.Ranks{All: 1178, Sex: 1049}
		r.State, r.Adjust, r.HeldFor = race.Held, 125_000, []string{"clash:1:finish"}
		d.desk.state.Plan.Courses[0].Open, r.Laps = true, 54
		d.feed()
		d.keys("3 enter")
		d.sees("54 laps", "net 0:32:03.076", "±0.20 s from main", "rank 1178 (f 1049) provisional", "adjusted by 0:02:05", "held for times clash 1 at finish")
		r.Laps = 0
		d.feed()
		d.seesNot("laps")
	}
}
