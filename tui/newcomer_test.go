package tui

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

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
	s.Results, s.Ranks = copied(s.Results), slices.Clone(s.Ranks)
	for i := range s.Results { // one at the finish, one at the turn, all others at the start
		r := s.Results[i]
		s.Ranks[i], r.Finish, r.State, r.Course = race.Ranks{}, -1, "running", 0
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
	d.keys("space")
	d.sees("space does nothing here")
}

// A gun that is pressed by mistake must not take the place of one that was heard, unsaid.
func TestAGunThatReplacesAnotherSaysSo(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("g")
	d.seesNot("has started") // the wave that waits stands first
	d.keys("down")
	d.sees("wave A has started: this would replace its gun at 09:00:00 by 09:47:00")
}

func TestABibTypedAndLeftIsNotForgottenSilently(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("w 1 2 esc")
	d.sees("bib 12 was typed and not saved")
	d.keys("w esc")
	d.seesNot("not saved")
}

func TestASightingThatIsRefusedSaysWhyInFull(t *testing.T) {
	d := newDriver(t, 60, 24, 300, nil)
	d.desk.refuse = "refused: nobody on the list has bib 999, and the chips have no such bib either"
	d.keys("w 9 9 9 enter")
	words := strings.Join(strings.Fields(d.screen()), " ")
	if !strings.Contains(words, "and the chips have no such bib either") {
		t.Errorf("not in full:\n%s", d.screen())
	}
}

// What a ruling does to many is counted whole, however many are listed.
func TestTheEffectOnManyIsCounted(t *testing.T) {
	before := fixture(2000)
	after := *before
	after.Results, after.Ranks = copied(before.Results), slices.Clone(before.Ranks)
	lost := 0
	for i := range after.Results {
		r := after.Results[i]
		if r.Official.Known() {
			lost++
		}
		r.Official, r.State, after.Ranks[i] = race.NoMillis, "unseen", race.Ranks{}
	}
	e := compare(before, &after, nil)
	if n := len(e.changes) + e.more + e.moved + e.nudged; n != len(after.Results) || len(e.changes) != changesKept {
		t.Errorf("%d of %d are counted, %d kept", n, len(after.Results), len(e.changes))
	}
	if e.lose != lost || lost == 0 {
		t.Errorf("%d lose their time, want %d", e.lose, lost)
	}
	p := newPage(lookFor("night", false), 80, 20)
	e.draw(p, 20)
	said := ansi.Strip(p.String())
	for _, want := range []string{fmt.Sprintf("%d athletes lose their official time", lost), "… and 19"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q isn't said:\n%s", want, said)
		}
	}
}

func TestCasesAreNamedAsPeopleSayThem(t *testing.T) {
	for _, c := range []struct {
		ids  []string
		want string
	}{
		{[]string{"missing-split:26:bike", "missing-split:26:run", "overdue:9"}, "split missing 26 at bike, 26 at run; overdue 9"},
		{[]string{"extra-passing:33:bike-in@09:45:04"}, "extra passing 33 at bike-in at 09:45:04"},
		{[]string{"unassigned-chip:AB01"}, "nobody's chip AB01"},
		{[]string{"clock-step:turn/backup@10:17", "line-off:10k"}, "clock stepped turn/backup at 10:17; line is off 10k"},
	} {
		if got := casesWords(c.ids); got != c.want {
			t.Errorf("%v: %q, want %q", c.ids, got, c.want)
		}
	}
}

// A notice of a case tells what the case tells now, and goes when the case is on the table.
func TestTheNoticeOfACaseKeepsUpAndGoesWhenItIsOpened(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.sees("clock stepped: Backup at turn jumped")
	s := *d.desk.state
	s.Suspects = slices.Clone(s.Suspects)
	id := ""
	for i := range s.Suspects {
		if s.Suspects[i].Kind == race.ClockStep {
			s.Suspects[i] = s.Suspects[i].Own()
			s.Suspects[i].Says, id = "Backup at turn jumped by 0.912 s", s.Suspects[i].ID
		}
	}
	d.desk.state = &s
	d.feed()
	d.sees("clock stepped: Backup at turn jumped by 0.912 s")
	d.onCase(id)
	d.keys("enter")
	d.sees("clock stepped", "esc back")
	d.seesNot("s: seen")
}

// Every ruling that was made is told with its number, and that it can be taken back.
func TestASavedGunTellsItsNumber(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("g enter enter")
	d.feed()
	d.sees("saved as ruling 1", "u undoes")
}

// Cold fingers hold a key down, and a worn one bounces: that opens a case, and rules nothing.
func TestAHeldKeySavesNothing(t *testing.T) {
	for _, c := range []struct{ name, opens, kind string }{
		{"a case", "1 enter", race.SetStatus}, {"a gun", "g enter", race.SetGun}, {"a form", "3 p d enter", race.SetStatus},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := newDriver(t, 80, 24, 300, nil)
			d.onCase("overdue:30")
			now := time.Unix(1000, 0)
			d.m.steady = func() time.Time { return now }
			d.keys(c.opens)
			for range 30 {
				now = now.Add(33 * time.Millisecond)
				d.keys("enter")
			}
			d.sees("enter came twice at once")
			if len(d.desk.ruled) > 0 {
				t.Fatalf("ruled: %+v", d.desk.ruled)
			}
			now = now.Add(300 * time.Millisecond)
			d.keys("enter")
			if len(d.desk.ruled) != 1 || d.desk.ruled[0].Rule != c.kind {
				t.Fatalf("pressed anew it ruled %+v", d.desk.ruled)
			}
		})
	}
}

// Somebody whom several cases of a kind hold is one athlete, named once.
func TestWhoIsHeldTwiceIsOneAthlete(t *testing.T) {
	d := newDriver(t, 120, 30, 30, nil)
	for _, lap := range []string{"lap-4", "lap-6"} {
		d.desk.state.Suspects = append(d.desk.state.Suspects, race.Suspect{Finding: &race.Finding{ID: "clash:14:" + lap, Kind: race.Clash, Weight: race.Hold, Bibs: []string{"14"},
			Holds: []string{"14"}, Split: lap, At: race.NoInstant, Says: "14 at " + lap}})
	}
	d.feed()
	d.keys("8")
	d.sees("times clash               2        1 14 ")
}

// What is settled goes below the open cases: nothing is new above it.
func TestAFirstCaseThatIsSettledMakesNoOtherNew(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("home x enter")
	d.feed()
	d.keys("v")
	d.seesNot("new ↑")
	if len(d.desk.ruled) != 1 {
		t.Fatalf("%d rulings", len(d.desk.ruled))
	}
}

// The laptop's clock stands beside the race's, so it is told in the race's zone.
func TestTheLaptopsClockIsToldInTheRacesZone(t *testing.T) {
	d := newDriver(t, 120, 24, 30, nil)
	d.now = d.now.UTC()
	d.feed()
	d.sees("here 09:47:00")
}

// A lap that no system read holds whoever rode it, required or not: it isn't told as one that needn't be there.
func TestAMissingLapIsNotToldAsOneThatNeedntBe(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	r := d.desk.state.Results[5]
	r.Splits = slices.Clone(r.Splits)
	r.Splits[1].Required = false
	d.feed()
	d.keys("/ 6 enter")
	d.sees("not seen (not required)")
	r.Splits[1].Lap = 2
	d.feed()
	d.sees("not seen")
	d.seesNot("not required")
}
