package tui

import (
	"fmt"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// What somebody who had never seen the console stumbled over, at 80 by 24.

// At the first key nothing may name a screen by a word that another screen could bear too.
func TestTheScreensAreNamedInFullAtEightyColumns(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	d.sees("1 desk 2 crossings 3 athletes 4 clocks 5 systems 6 still out 7 rulings 8 export")
}

// Somebody who hasn't come that far hasn't missed anything.
func TestASplitAheadIsNotYet(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("/ 1 4 1 enter")
	d.sees("not yet")
	d.seesNot("not seen")
}

// Times of leaders at different splits don't compare: each says where it was taken.
func TestALeaderNotAsFarAsTheFirstSaysWhere(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	s := *d.desk.state
	s.Results = slices.Clone(s.Results)
	for i := range s.Results { // one at the finish, one at the turn, all others at the start
		r := &s.Results[i]
		r.Rank, r.Finish, r.State, r.Course = 0, -1, "running", 0
		at := r.Filled[0]
		r.Filled = []int{at, -1, -1}
		if i == 0 {
			r.Filled[2] = at
		}
		if i < 2 {
			r.Filled[1] = at
		}
	}
	d.desk.state = &s
	d.feed()
	d.sees("ten @finish", "@turn")
}

// The numbers of a lot of chips begin alike: their ends tell them apart.
func TestALongChipIsShownByItsEnd(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	s := *d.desk.state
	s.Suspects = slices.Clone(s.Suspects)
	for i := range s.Suspects {
		if s.Suspects[i].Kind == race.UnassignedChip {
			s.Suspects[i].Tag = "36C19E3779FE000000090189"
		}
	}
	d.desk.state = &s
	d.feed()
	d.sees("…00000090189")
}

// A dozen notices are no dozen keys.
func TestAllNoticesAreSeenAtOnce(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	u := Update{State: d.desk.State()}
	for i := range 12 {
		u.Notices = append(u.Notices, Notice{Key: fmt.Sprint(i), Level: Needed, Says: fmt.Sprint("notice ", i)})
	}
	d.send(bookMsg{newBook(u, d.m.live)})
	d.sees("S: all")
	d.keys("S")
	d.seesNot("notice")
	d.keys("S")
	d.sees("no notice waits")
}

// An export each minute must not hide what needs somebody: news gives way, and keeps away.
func TestNewsHidesNothingThatNeedsSomebody(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	d.keys("S esc")
	tell := func(ns ...Notice) { d.send(bookMsg{newBook(Update{State: d.desk.State(), Notices: ns}, d.m.live)}) }
	tell(Notice{Key: "1", Says: "exported: 0 cells"})
	d.sees("exported: 0 cells")
	tell(Notice{Key: "2", Level: Needed, Says: "the plan can't be used"}, Notice{Key: "3", Says: "exported: 3 cells"})
	d.sees("the plan can't be used")
	tell(Notice{Key: "4", Says: "exported: 5 cells"})
	d.sees("the plan can't be used")
	d.seesNot("exported")
}

// The way out stands at the foot wherever something lies over a screen.
func TestTheWayOutIsAlwaysAtTheFoot(t *testing.T) {
	d := newDriver(t, 60, 24, 300, nil)
	for _, f := range frames {
		d.keys("esc esc esc esc " + f.keys)
		if d.m.top() != nil {
			d.sees("esc back")
		}
	}
}

// Held still, the screen doesn't compare old figures with new files.
func TestHeldStillNothingIsComparedWithTheFiles(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("8 E")
	d.sees("2 athletes have changed")
	d.keys("z")
	d.sees("held still")
	d.keys("z")
	d.sees("2 athletes have changed")
}

// A key that does nothing says so; enter too.
func TestEnterWhereNothingOpensSaysSo(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	d.keys("5 enter")
	d.sees("enter does nothing here")
}
