package tui

import (
	"strings"
	"testing"
)

// A plan that changed and waits for a yes is told, shown and taken in by keys; one that was
// put back is told no more, and one that changed again is shown again first.
func TestAChangedPlanIsAskedAbout(t *testing.T) {
	d := newDriver(t, 160, 30, 20, nil)
	feed := func(pending string) {
		d.rev++
		d.send(bookMsg{newBook(Update{State: d.desk.State(), Revision: d.rev, Pending: pending}, d.m.live)})
	}
	d.m.watch.seenAll()
	d.keys("Y")
	if d.m.top() != nil {
		t.Fatal("there is nothing to ask about")
	}
	d.keys("esc")
	const first, second = "wave A: the gun was 09:00:00, becomes 10:00:00", "bib 7, who has passings, is gone"
	feed(first)
	d.sees("wait for a yes (Y): " + first)
	d.keys("Y")
	d.sees("the change: " + first)
	feed(second)
	d.keys("enter")
	d.sees("changed since you looked")
	if d.desk.planned != 0 {
		t.Fatal("taken in what was never shown")
	}
	d.sees("the change: " + second)
	d.keys("enter")
	if d.desk.planned != 1 {
		t.Fatal("not taken in")
	}
	feed("")
	if strings.Contains(d.m.View(), "wait for a yes") {
		t.Errorf("still asked:\n%s", d.m.View())
	}
	d.keys("Y")
	if d.m.top() != nil {
		t.Error("asked about what no longer waits")
	}
	d.keys("esc")
	feed(first)
	d.sees("wait for a yes (Y): " + first)
}

// A plan that was mended while the console is open gives the race its new name.
func TestTheRaceHasTheNameOfItsPlan(t *testing.T) {
	d := newDriver(t, 120, 30, 20, func(o *Options) { o.Title = "Reedholm Ten" })
	s, p := *d.desk.state, *d.desk.state.Plan
	p.Name = "Reedholm Evening Ten"
	s.Plan = &p
	d.desk.state = &s
	d.feed()
	d.keys("S")
	d.sees("Reedholm Evening Ten")
}
