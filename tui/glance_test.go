package tui

import (
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
	s := race.Suspect{ID: "unassigned-chip:AB77", Kind: race.UnassignedChip, Weight: race.Hold, Tag: "AB77", Bibs: []string{"17"}, At: gunAt,
		Says: "9 reads of AB77; 17, 23, one as likely as the next: ask.", Proposes: "assign-chip --tag AB77 --bib 17", Others: []string{"ignore-chip --tag AB77"}}
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
