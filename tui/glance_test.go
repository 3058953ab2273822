package tui

import (
	"slices"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// The way back to now is at the foot of every screen that doesn't show it, at every width.
func TestTheWayBackToNowIsAtTheFoot(t *testing.T) {
	for _, w := range []int{40, 60, 80, 120} {
		d := newDriver(t, w, 24, 60, nil)
		d.keys("S esc")
		foot := func() string {
			all := lines(strings.TrimRight(d.screen(), "\n"))
			return all[len(all)-1]
		}
		for _, way := range []string{"z", "b - 5 enter"} {
			d.keys(way)
			for _, screen := range []string{"1", "2", "3", "4", "5", "6", "7", "8"} {
				d.keys(screen)
				if !strings.Contains(foot(), "esc now") {
					t.Errorf("%d columns, after %s, screen %s: %q", w, way, screen, foot())
				}
			}
			d.keys("esc")
			if strings.Contains(foot(), "esc now") || d.m.mode() != "LIVE" {
				t.Errorf("%d columns, after %s and esc: %s, %q", w, way, d.m.mode(), foot())
			}
		}
	}
}

// Whose a chip is that nobody owns is a guess, and looks like one, on the desk and on the table.
func TestALikelyOwnerIsNoOwner(t *testing.T) {
	d := newDriver(t, 100, 30, 60, nil)
	s := race.Suspect{Finding: &race.Finding{ID: "unassigned-chip:AB77", Kind: race.UnassignedChip, Weight: race.Hold, Tag: "AB77", Bibs: []string{"17"}, At: gunAt,
		Says: "9 reads of AB77; 17, 23, one as likely as the next: ask.", Proposes: "assign-chip --tag AB77 --bib 17", Others: []string{"ignore-chip --tag AB77"}}}
	d.desk.state.Suspects = append([]race.Suspect{s}, d.desk.state.Suspects...)
	d.feed()
	d.keys("home")
	d.sees("nobody's chip      17? ", "nobody's chip  17? chip AB77")
	d.desk.state.Suspects[0].Settled = true
	d.feed()
	d.keys("v home")
	d.seesNot("17?")
}

// What keeps a log from being read now is told before what a case tells of an hour ago, and names
// its file once.
func TestALogThatIsNotReadComesFirst(t *testing.T) {
	d := newDriver(t, 100, 30, 60, nil)
	d.keys("S esc")
	silent := Notice{Key: "silent", Level: Urgent, Says: "log is silent: Backup at turn read nobody for a while"}
	gone := "logs/turn-main.csv: the file is no longer there; what it held is kept"
	d.rev++
	d.send(bookMsg{newBook(Update{State: d.desk.State(), Revision: d.rev, Notices: []Notice{silent}, Health: []Health{{Source: 2, Trouble: gone}}}, d.m.live)})
	d.sees("▲ "+gone, "(1 more)")
	d.keys("S 5 home down down")
	d.sees("▲ " + gone)
	d.seesNot("logs/turn-main.csv: logs/turn-main.csv")
}

// Before the logs are read nobody is said to be in: a list of who is out that is empty would say so.
func TestNobodyIsSaidToBeInBeforeTheRaceIsRead(t *testing.T) {
	m := newRoot(Options{Desk: &fakeDesk{state: fixture(60)}}, lookFor("night", false))
	d := &driver{t: t, m: m}
	d.send(tea.WindowSizeMsg{Width: 80, Height: 24})
	for _, screen := range []string{"1", "6"} {
		d.keys(screen)
		d.sees("the race is being read")
		d.seesNot("nobody who was seen is still out")
		d.seesNot("nothing waits for a ruling")
	}
}

// Who stands there with a chip that nobody owns is asked for its code: its case is a key away.
func TestAChipThatIsNobodysIsFound(t *testing.T) {
	d := newDriver(t, 80, 24, 60, nil)
	const told = "chip AB00F77A is nobody's: 31 reads, the last at 09:45:00"
	says := func(want string) {
		t.Helper()
		if got := d.joined(); !strings.Contains(got, want) {
			t.Errorf("want %q:\n%s", want, d.screen())
		}
	}
	d.keys("S / f 7 7 a") // as it is read out: the end of the code
	says("0 found")
	says(told + "; enter puts its case on the table")
	d.keys("enter")
	says("holds nobody's chip")
	d.keys("esc / 7 a")
	d.seesNot("is nobody's:") // two letters may be anything
	d.desk.state.Results[3].Chips = []string{"AB00F700"}
	d.feed()
	d.keys("esc / a b 0 0 f 7") // of an athlete too, whom enter opens
	says("1 found")
	says(told + "; its case is on the desk")
	d.desk.state.Strays[0].Ignored = true
	d.desk.state.Suspects = nil
	d.feed()
	d.keys("esc / f 7 7 a")
	says("ignored by a ruling")
	d.keys("enter")
	d.sees("no athlete is meant here")
	d.keys("esc / f 7 7 a")
	more := *d.desk.state
	more.Strays = append(slices.Clone(more.Strays), race.StrayTag{Tag: "CD00F77A", Reads: 3, Last: gunAt})
	d.desk.state = &more
	d.feed()
	says("chip CD00F77A is nobody's: 3 reads") // read while it is searched for
}

// In a low window what is typed or chosen stands before what explains it.
func TestALowWindowShowsWhatIsTyped(t *testing.T) {
	for _, w := range []int{40, 60} {
		d := newDriver(t, w, 10, 60, nil)
		d.now = d.now.AddDate(0, 0, 30) // with the warning that takes room
		d.keys("S w 1 7")
		d.sees("bib 17")
		d.keys("esc g")
		d.sees("▌1 C", "enter shows", "▲ this laptop's clock")
		d.keys("down")
		d.sees("▌2 A", "has its gun at")
	}
}

// When a ruling was made is told in the race's zone, whichever the laptop's is.
func TestRulingsAreMadeInTheRacesZone(t *testing.T) {
	d := newDriver(t, 100, 30, 60, nil)
	d.desk.state.Rulings = []race.Ruling{{Seq: 1, Rule: race.SetStatus, Bib: "3", Status: "dnf", Who: "me", Made: "2026-05-17T18:40:07.500+10:00"}, {Seq: 2, Rule: race.SetStatus, Bib: "4", Status: "dnf", Who: "me", Made: "by hand"}}
	d.feed()
	d.keys("7")
	d.sees(" 1 09:40:07 me ", " 2 by hand  me ")
	d.seesNot("changes nothing")
	d.desk.state.Idle = map[int]string{2: `nobody on the list has bib "4"`}
	d.feed()
	d.keys("home")
	d.sees("▲   2 by hand  me ", `▲ it changes nothing now: nobody on the list has bib "4"`)
}

// However many change and however few lines there are, what a ruling settles and opens is said.
func TestWhatARulingOpensIsSaidHoweverManyChange(t *testing.T) {
	e := effect{moved: 3, settles: "clock stepped finish", opens: "clash 7 at finish"}
	for _, bib := range []string{"1", "2", "3", "4", "5", "6"} {
		e.changes = append(e.changes, change{bib: bib, name: "Ola", rows: []what{{"official", "1:00:00", "1:00:01"}, {"finish", "10:00:00", "10:00:01"}, {"20k", "9:00:00", "9:00:01"}}})
	}
	for limit := 8; limit < 30; limit++ {
		p := newPage(lookFor("mono", false), 80, 40)
		e.draw(p, limit)
		if p.written() > limit {
			t.Fatalf("%d lines are %d", limit, p.written())
		}
		all := p.String()
		for _, want := range []string{"settles clock stepped finish", "opens clash 7 at finish", "3 other athletes move"} {
			if !strings.Contains(all, want) {
				t.Errorf("%d lines, without %q:\n%s", limit, want, all)
			}
		}
	}
}
