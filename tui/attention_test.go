package tui

import (
	"fmt"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// New cases are one notice, which counts them whatever it says.
func TestNewCasesAreCounted(t *testing.T) {
	var a attention
	ids := func(from, to int) (out []string) {
		for i := from; i < to; i++ {
			out = append(out, fmt.Sprint("clash:", i))
		}
		return out
	}
	for _, c := range []struct {
		ids  []string
		want string
	}{{ids(0, 1), "new case: clash: 5 new things"}, {ids(1, 2), "2 new cases hold results"}, {ids(2, 42), "42 new cases hold results"}, {ids(42, 1042), "1042 new cases hold results"}} {
		if a.cases(c.ids, "clash: 5 new things"); len(a.waiting) != 1 || a.waiting[0].Says != c.want {
			t.Errorf("%+v, want %s", a.waiting, c.want)
		}
	}
	a.seen()
	if a.cases(ids(0, 2), "clash"); len(a.waiting) != 1 || a.waiting[0].Says != "2 new cases hold results" {
		t.Errorf("after they were seen: %+v", a.waiting)
	}
}

// Later reads clear cases, and people settle them: the notice tells of those that are still open,
// and of none that it is over.
func TestTheNoticeOfNewCasesCountsThoseStillOpen(t *testing.T) {
	d := newDriver(t, 100, 30, 60, nil)
	d.keys("S")
	was := slices.Clone(d.desk.state.Suspects)
	come := func(n int) {
		d.desk.state.Suspects = slices.Clone(was)
		for i := range n {
			d.desk.state.Suspects = append(d.desk.state.Suspects, race.Suspect{Finding: &race.Finding{ID: fmt.Sprint("clash:9:", i), Kind: race.Clash, Weight: race.Hold, Bibs: []string{"9"}, Says: fmt.Sprint("number ", i)}})
		}
		d.feed()
	}
	come(3)
	d.sees("3 new cases hold results")
	come(2)
	d.sees("2 new cases hold results")
	come(1)
	d.sees("new case: times clash: number 0")
	come(2)
	d.sees("2 new cases hold results")
	for i := range d.desk.state.Suspects {
		d.desk.state.Suspects[i].Settled = true
	}
	d.feed()
	d.seesNot("new case")
}

// What holds no more is taken back unseen: a plan that was mended is not said to be broken. Who
// never heard of it doesn't.
func TestWhatIsOverIsTakenBack(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	tell := func(ns ...Notice) {
		d.send(bookMsg{newBook(Update{State: d.desk.State(), Notices: ns}, d.m.live)})
	}
	broken, gap := Notice{Key: "1", Level: Needed, Says: "the plan can't be used"}, Notice{Key: "2", Level: Needed, Says: "a gap is possible"}
	d.keys("S esc")
	tell(broken, gap)
	d.sees("the plan can't be used", "(1 more)")
	broken.Over = true
	tell(broken, gap)
	d.sees("a gap is possible")
	d.seesNot("more)")
	d.seesNot("can't be used")
	d.keys("S esc")
	late := Notice{Key: "3", Level: Needed, Says: "a log was behind", Over: true}
	tell(broken, gap, late)
	late.Over = false // as it was before, of a snapshot that came between
	tell(broken, gap, late)
	d.seesNot("behind")
}

// A log that fails is told once, urgently, and by the name of its file; when it is read again
// that is taken back, and when it fails again, told again.
func TestALogThatFailsIsToldWhileItDoes(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	d.desk.state.Plan.Logs[2].Path = "logs/turn-main*.csv"
	fails := func(trouble string) {
		d.rev++
		d.send(bookMsg{newBook(Update{State: d.desk.State(), Revision: d.rev, Health: []Health{{Source: 2, Trouble: trouble}}}, d.m.live)})
	}
	d.keys("S esc")
	const gone = "logs/turn-main.csv: the file is no longer there"
	for range 2 {
		fails(gone)
		d.sees("▲ " + gone)
		if n := d.m.watch.first(); n == nil || n.Level != Urgent || len(d.m.watch.waiting) != 1 {
			t.Fatalf("told as %+v", d.m.watch.waiting)
		}
		fails("")
		d.seesNot("no longer there")
	}
	fails("a share that hangs")
	d.sees("logs/turn-main*.csv: a share that hangs")
	d.keys("s")
	fails("a share that hangs")
	d.seesNot("hangs")
}
