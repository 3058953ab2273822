package tui

import (
	"fmt"
	"slices"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// onCase puts the desk's cursor on a case.
func (d *driver) onCase(id string) {
	d.t.Helper()
	k := d.m.desk()
	if !k.t.selectID(k, id) {
		d.t.Fatalf("no case %s", id)
	}
	d.m.redraw()
}

func TestAnUnknownChipIsSettledInTwoKeys(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("unassigned-chip:AB00F77A")
	d.keys("enter")
	d.sees("assign-chip: AB00F77A 14", "settles", "much the likeliest", "reason")
	if len(d.desk.ruled) > 0 {
		t.Fatal("something was ruled before it was confirmed")
	}
	d.keys("enter")
	if n := len(d.desk.ruled); n != 1 {
		t.Fatalf("%d rulings, want 1", n)
	}
	r := d.desk.ruled[0]
	if r.Rule != race.AssignChip || r.Tag != "AB00F77A" || r.Bib != "14" || r.Why == "" || r.Who != "tester" {
		t.Fatalf("ruled %+v", r)
	}
	d.feed()
	d.sees("saved as ruling 1", "u undoes")
	d.seesNot("31 reads of AB00F77A")
}

// A ruling that is typed in full shows the reason that it will be kept with.
func TestATypedRulingShowsItsReason(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys(": set-status space --bib space 7 space --status space dnf enter")
	d.sees("reason  ruled at the console", "--why")
}

func TestAnotherOwnerIsOneKeyAway(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("unassigned-chip:AB00F77A")
	d.keys("enter 2 enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Bib != "21" {
		t.Fatalf("ruled %+v, want bib 21", r)
	}
}

func TestAChipIsGivenToABibTyped(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("unassigned-chip:AB00F77A")
	d.keys("a 1 7 enter")
	d.sees("assign-chip: AB00F77A 17", "enter saves it")
	d.keys("enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Bib != "17" || r[0].Tag != "AB00F77A" {
		t.Fatalf("ruled %+v", r)
	}
}

func TestASwappedPairIsExchanged(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	d.onCase("swapped:7+9")
	d.keys("enter enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Rule != race.SwapBibs || r[0].With != "9" {
		t.Fatalf("ruled %+v", r)
	}
}

func TestAWrongRulingIsUndone(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("overdue:30")
	open := d.m.live.open
	d.keys("enter enter")
	d.keys("u")
	if len(d.desk.ruled) != 1 {
		t.Fatal("undone without asking")
	}
	d.feed()
	d.keys("u")
	d.sees("take back ruling 1", "enter takes it back")
	d.keys("enter")
	d.feed()
	if r := d.desk.ruled; len(r) != 2 || r[1].Rule != race.Undo || r[1].UndoneSeq != 1 {
		t.Fatalf("ruled %+v", r)
	}
	d.sees("saved as ruling 2", fmt.Sprintf("%d open cases", open))
	d.keys("7 end u")
	d.sees("already taken back by ruling 2")
}

func TestAClockStepIsAscribed(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("clock-step:turn/backup@10:20")
	d.keys("enter tab")
	d.sees("set-clock: turn main")
	d.keys("enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Stepped != "main" {
		t.Fatalf("ruled %+v", r)
	}
}

func TestACaseIsAcceptedWithAReasonOfOnesOwn(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("overdue:30")
	d.keys("x e ctrl+u")
	for _, c := range "marshal saw him" {
		d.send(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{c}})
	}
	d.keys("enter enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Rule != race.Accept || r[0].Why != "marshal saw him" || r[0].Evidence != "overdue:30/1" {
		t.Fatalf("ruled %+v", r)
	}
}

func TestACaseWhoseEvidenceChangesAsksForAnotherLook(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("overdue:30")
	d.keys("enter")
	s := *d.desk.state
	s.Suspects = append([]race.Suspect(nil), s.Suspects...)
	for i := range s.Suspects {
		if s.Suspects[i].ID == "overdue:30" {
			s.Suspects[i] = s.Suspects[i].Own()
			s.Suspects[i].Evidence = "other"
		}
	}
	d.desk.state = &s
	d.feed()
	d.sees("the evidence has changed", "enter looks again")
	d.keys("enter")
	if len(d.desk.ruled) != 0 {
		t.Fatal("ruled on evidence that nobody had seen")
	}
	d.seesNot("the evidence has changed")
	d.keys("enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Status != "dnf" {
		t.Fatalf("ruled %+v", r)
	}
}

func TestTheGunIsTakenAtTheKey(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.now = time.Date(2026, 5, 17, 9, 50, 0, 250e6, fixtureZone)
	d.keys("g")
	d.now = d.now.Add(4 * time.Second)
	d.sees("gun at", "09:50:00.250", "waits for its gun")
	d.keys("enter enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Wave != "C" || r[0].Time != "2026-05-17T09:50:00.250+01:00" {
		t.Fatalf("ruled %+v", r)
	}
}

func TestBibsTypedAsTheyComeKeepTheTimeOfTheirFirstKey(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("w")
	first := time.Date(2026, 5, 17, 9, 51, 7, 120e6, fixtureZone)
	d.now = first
	d.send(press("1"))
	d.now = first.Add(900 * time.Millisecond)
	d.send(press("2"))
	d.now = first.Add(2 * time.Second)
	d.keys("enter 3 enter")
	r := d.desk.ruled
	if len(r) != 2 || r[0].Bib != "12" || r[0].Time != "2026-05-17T09:51:07.120+01:00" || r[1].Bib != "3" || r[1].Line != "finish" {
		t.Fatalf("ruled %+v", r)
	}
	d.sees("saved")
}

func TestAClockThatCantBeTheRacesIsTold(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	d.keys("w")
	d.seesNot("likely wrong")
	d.now = d.now.Add(-5 * time.Minute)
	d.keys("esc w")
	d.sees("this laptop's clock says 09:42:00", "09:47:00", "likely wrong")
	d.keys("esc g")
	d.sees("likely wrong")
}

// In a race of another day, played again, the laptop's clock is told with its date, and no time of
// its is saved.
func TestAClockOfAnotherDayTakesNoTimes(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	d.now = d.now.Add(72 * time.Hour)
	d.keys("w")
	d.sees("this laptop's clock says 2026-05-20 09:47:00", "no time taken by a key", "is saved")
	d.seesNot("likely wrong") // it isn't kept at all: who types many bibs knows it before the first
	d.keys("1 2 enter")
	d.sees("NOT saved", "set-time")
	if len(d.desk.ruled) > 0 {
		t.Errorf("ruled %+v", d.desk.ruled)
	}
}

// What came in while a ruling was looked at is not its effect.
func TestNewReadsAreNoEffect(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	later := fixture(300)
	later.Results[298].State = "dnf"
	d.desk.state = later // the screen still shows the snapshot before
	d.onCase("overdue:30")
	d.keys("enter")
	d.sees("set-status: 30 dnf")
	d.seesNot("299 ")
}

func TestAnExportWithSomeHeld(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("8")
	d.sees("split missing", "not exported yet", "ten               93       3", "five             144       4") // clean, held
	d.keys("E")
	if d.desk.said != 1 {
		t.Fatal("nothing was exported")
	}
	d.sees("written to /races/reedholm/out: 230 clean, 4 held", "2 athletes have changed since", "7 12")
}

func TestReadOnlySaysWhy(t *testing.T) {
	d := newDriver(t, 80, 24, 300, func(o *Options) { o.ReadOnly, o.Why = true, "another console rules" })
	for _, script := range []string{"g", "w", "a", "u", "1 enter enter", "esc 3 p", ": a c c e p t space x enter"} {
		d.keys(script)
		d.sees("read only: another console rules")
		d.keys("esc esc")
	}
	if len(d.desk.ruled) != 0 {
		t.Fatal("ruled")
	}
}

func TestARefusedRulingSaysWhyAndIsNotMade(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.desk.refuse = "bib 14 already has that chip"
	d.onCase("unassigned-chip:AB00F77A")
	d.keys("enter")
	d.sees("can't be applied: bib 14 already has that chip")
	d.keys("enter")
	d.sees("bib 14 already has that chip")
	if len(d.desk.ruled) != 0 {
		t.Fatal("ruled")
	}
}

// Where two wear each other's chips and have passed as often as before, a search finds them by
// what they wear now, and still by what is theirs.
func TestSearchFindsWhoWearsAChipNow(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	finds := func(tag string, want ...int32) {
		t.Helper()
		if got := d.m.live.index.search(tag, nil, &candidates{}); !slices.Equal(got, want) {
			t.Errorf("%s is found at %v, want %v", tag, got, want)
		}
	}
	wears := func(i int, tag string) {
		for k := range d.desk.state.Results[i].Passings {
			p := &d.desk.state.Results[i].Passings[k]
			for sys, b := range p.Bursts {
				if b != nil {
					c := *b
					c.SetSeveral([]string{tag}, nil)
					p.Bursts[sys] = &c
				}
			}
		}
	}
	wears(0, "CAFE01")
	wears(1, "CAFE02")
	d.feed()
	finds("cafe01", 0)
	finds("cafe02", 1)
	wears(0, "CAFE02")
	wears(1, "CAFE01")
	d.feed()
	finds("cafe01", 1)
	finds("cafe02", 0)
}

func TestSearchFindsByBibNameChipAndTeam(t *testing.T) {
	d := newDriver(t, 120, 30, 300, nil)
	a := d.m.screens[screenAthletes].(*athletes)
	for q, bib := range map[string]string{"214": "214", "AB00100d": "14"} {
		d.keys("/ " + q)
		if got := a.bib(); got != bib {
			t.Errorf("%q finds %q first, want %s", q, got, bib)
		}
		d.keys("esc")
	}
	for _, q := range []string{"quay", "gsf", "田中"} { // a team, letters of a name, a name
		d.keys("/ " + q)
		if a.Len() == 0 || a.Len() == 300 {
			t.Errorf("%q finds %d", q, a.Len())
		}
		d.keys("esc")
	}
	if a.Len() != 300 {
		t.Errorf("after esc %d of 300 are shown", a.Len())
	}
}

func TestTheSelectionStaysOnItsRecord(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.onCase("swapped:7+9")
	s := *d.desk.state
	more := []race.Suspect{{Finding: &race.Finding{ID: "early-start:4", Kind: race.EarlyStart, Weight: race.Hold, Bibs: []string{"4"}, At: race.NoInstant, Says: "early"}, Urgency: 99},
		{Finding: &race.Finding{ID: "early-start:5", Kind: race.EarlyStart, Weight: race.Hold, Bibs: []string{"5"}, At: race.NoInstant, Says: "early"}, Urgency: 98}}
	s.Suspects = append(more, s.Suspects...)
	d.desk.state = &s
	d.feed()
	if got := d.m.desk().selected().ID; got != "swapped:7+9" {
		t.Fatalf("the cursor stands on %s", got)
	}
	d.sees("2 new")
	d.keys("n")
	d.seesNot("2 new")
}

func TestFreezeHoldsTheScreen(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("z")
	d.sees("FROZEN")
	s := *d.desk.state
	s.Suspects = nil
	d.desk.state = &s
	d.feed()
	d.sees("31 reads of AB00F77A")
	d.keys("z")
	d.sees("nothing waits for a ruling")
}

func TestLookingBackRulesNothing(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("b - 2 0 enter")
	d.sees("AS IT STOOD", "09:27:00")
	d.keys("enter enter")
	if len(d.desk.ruled) != 0 {
		t.Fatal("ruled on the past")
	}
	d.keys("esc esc esc")
	d.sees("LIVE", "09:47:00")
}

func TestQuitAsksOnlyWhenSomethingWouldBeLost(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.keys("w 1 ctrl+c")
	if d.quit {
		t.Fatal("left with a bib typed")
	}
	d.sees("typed and not saved")
	d.keys("esc esc q")
	if !d.quit {
		t.Fatal("q doesn't quit")
	}
}

func TestABundleOfKeysIsTakenOneByOne(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	d.send(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("jjk")})
	if at := d.m.desk().t.at; at != 1 {
		t.Fatalf("jjk moves to row %d, want 1", at)
	}
}
