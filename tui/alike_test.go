package tui

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// missed are the open cases of missing splits, in the desk's order.
func (d *driver) missed() []string {
	var ids []string
	for i := range d.m.live.open {
		if s := &d.m.live.Suspects[i]; s.Kind == race.MissingSplit {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

func TestCasesThatAreAlikeAreSettledWithOneDecision(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	if len(all) < 5 {
		t.Fatalf("only %d cases", len(all))
	}
	d.onCase(all[0])
	d.keys("X")
	d.sees(fmt.Sprintf("%d of %d cases", len(all), len(all)), "accept: each is right", fmt.Sprintf("enter makes %d rulings", len(all)))
	d.keys("home down space")
	d.sees(fmt.Sprintf("%d of %d cases", len(all)-1, len(all)), "left out", "not looked at yet")
	d.keys("enter")
	if len(d.desk.ruled) > 0 {
		t.Fatal("ruled what wasn't tried")
	}
	d.sees(fmt.Sprintf("enter makes %d rulings", len(all)-1))
	d.keys("enter")
	d.feed()
	if left := d.missed(); !slices.Equal(left, all[1:2]) {
		t.Errorf("open are %v, want the one left out, %s", left, all[1])
	}
	if len(d.desk.ruled) != len(all)-1 {
		t.Fatalf("%d rulings of %d", len(d.desk.ruled), len(all)-1)
	}
	for i, r := range d.desk.ruled {
		want := slices.Concat(all[:1], all[2:])[i]
		if r.Rule != race.Accept || r.Suspect != want || r.Evidence != want+"/1" || r.Who != "tester" {
			t.Errorf("ruling %d is %+v, want an accept of %s bound to its evidence", i+1, r, want)
		}
		if bib := strings.Split(want, ":")[1]; !strings.Contains(r.Why, "No system read "+bib+" at turn") {
			t.Errorf("the reason for %s is %q, not its own evidence", want, r.Why)
		}
	}
}

func TestAllThatWereMadeTogetherAreTakenBackTogether(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	d.onCase(all[0])
	d.keys("X e ctrl+u H u n g enter enter")
	n := len(d.desk.ruled)
	if n != len(all) || d.desk.ruled[n-1].Why != "Hung" {
		t.Fatalf("%d rulings for %d cases, the last because %q", n, len(all), d.desk.ruled[n-1].Why)
	}
	d.feed()
	d.keys("u")
	d.sees(fmt.Sprintf("take back ruling %d", n), fmt.Sprintf("one of %d made with one decision", n))
	d.keys("esc 7 down down u tab")
	d.sees(fmt.Sprintf("take back %d rulings", n))
	d.keys("enter")
	d.feed()
	if back := d.missed(); !slices.Equal(slices.Sorted(slices.Values(back)), slices.Sorted(slices.Values(all))) {
		t.Errorf("open again are %d of %d", len(back), len(all))
	}
	for i, r := range d.desk.ruled[n:] {
		if want := n - i; r.Rule != race.Undo || r.UndoneSeq != want || r.Why != fmt.Sprintf("ruling %d taken back at the console", want) {
			t.Errorf("%+v, want ruling %d taken back", r, want)
		}
	}
	// That too, and one of them alone.
	d.keys("home u")
	d.sees(fmt.Sprintf("one of %d made with one decision", n))
	d.keys("enter")
	d.feed()
	if last := d.desk.ruled[len(d.desk.ruled)-1]; len(d.desk.ruled) != 2*n+1 || last.UndoneSeq != 2*n {
		t.Errorf("%d rulings, the last %+v", len(d.desk.ruled), last)
	}
}

// One of them that is taken back elsewhere while all are about to be is looked at again.
func TestALotThatChangesIsLookedAtAgain(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	d.onCase(d.missed()[0])
	d.keys("X enter")
	d.feed()
	n := len(d.desk.ruled)
	d.keys("u tab")
	if _, err := d.desk.Rule(race.Ruling{Rule: race.Undo, UndoneSeq: 2, Why: "elsewhere"}); err != nil {
		t.Fatal(err)
	}
	d.feed()
	d.sees("others of them stand than you looked at")
	d.keys("enter")
	if len(d.desk.ruled) != n+1 {
		t.Fatal("taken back unseen")
	}
	d.sees(fmt.Sprintf("take back %d rulings", n-1))
	d.keys("enter")
	d.feed()
	for _, r := range d.desk.ruled[n+1:] {
		if r.UndoneSeq == 2 {
			t.Error("taken back twice")
		}
	}
	if len(d.desk.ruled) != n+1+n-1 {
		t.Errorf("%d rulings, want %d", len(d.desk.ruled), 2*n)
	}
}

func TestWhatEachOffersIsRuledForEach(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	d.onCase(all[0])
	d.keys("X tab")
	d.sees("set-status dsq for each", "like set-status --bib "+strings.Split(all[0], ":")[1])
	d.keys("enter")
	for i, r := range d.desk.ruled {
		if bib := strings.Split(all[i], ":")[1]; r.Rule != race.SetStatus || r.Bib != bib || r.Status != "dsq" {
			t.Errorf("%+v for %s", r, all[i])
		}
	}
	if len(d.desk.ruled) != len(all) {
		t.Errorf("%d rulings for %d cases", len(d.desk.ruled), len(all))
	}
}

// What changes while they lie on the table is looked at again before anything is ruled.
func TestAlikeCasesThatChangeAreLookedAtAgain(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	d.onCase(all[0])
	d.keys("X")
	at := slices.IndexFunc(d.desk.state.Suspects, func(s race.Suspect) bool { return s.ID == all[2] })
	d.desk.state.Suspects[at] = d.desk.state.Suspects[at].Own()
	d.desk.state.Suspects[at].Evidence = "another"
	d.desk.state.Suspects = slices.DeleteFunc(d.desk.state.Suspects, func(s race.Suspect) bool { return s.ID == all[1] })
	d.feed()
	d.sees("not looked at yet")
	d.keys("enter")
	if len(d.desk.ruled) > 0 {
		t.Fatal("ruled upon what changed")
	}
	d.keys("enter")
	if len(d.desk.ruled) != len(all)-1 || d.desk.ruled[1].Suspect != all[2] || d.desk.ruled[1].Evidence != "another" {
		t.Errorf("%d rulings; the second %+v", len(d.desk.ruled), d.desk.ruled[1])
	}
}

// One that proposes something else by now, or offers the chosen ruling no longer, is alike no more.
func TestWhoIsAlikeNoMoreGoes(t *testing.T) {
	for _, keys := range []string{"X", "X tab"} {
		d := newDriver(t, 120, 40, 300, nil)
		all := d.missed()
		d.onCase(all[0])
		d.keys(keys)
		for i := range d.desk.state.Suspects {
			switch s := &d.desk.state.Suspects[i]; s.ID {
			case all[2]:
				*s = s.Own()
				s.Proposes, s.Others, s.Evidence = s.Others[0], []string{s.Proposes}, "cut"
			case all[4]:
				*s = s.Own()
				if s.Others = nil; keys == "X" {
					s.Settled = true
				}
			}
		}
		d.feed()
		d.sees(fmt.Sprintf("%d of ", len(all)-2))
		d.keys("enter enter")
		if n := len(d.desk.ruled); n != len(all)-2 {
			t.Errorf("%s: %d rulings of %d", keys, n, len(all)-2)
		}
		for _, r := range d.desk.ruled {
			if id := "missing-split:" + r.Bib + ":turn"; r.Suspect == all[2] || r.Suspect == all[4] || id == all[2] || id == all[4] {
				t.Errorf("%s: ruled %+v", keys, r)
			}
		}
	}
}

// What is offered as the reason of all only stands for the evidence of each: it is none to go on from.
func TestAReasonForAllBeginsEmpty(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	d.onCase(all[0])
	d.keys("X e h u n g enter e enter enter")
	if why := d.desk.ruled[0].Why; len(d.desk.ruled) != len(all) || why != "hung" {
		t.Errorf("%d rulings because %q", len(d.desk.ruled), why)
	}
	d = newDriver(t, 120, 40, 300, nil)
	d.onCase(all[0])
	d.keys("X e enter enter")
	if why := d.desk.ruled[0].Why; !strings.Contains(why, "No system read") {
		t.Errorf("nothing was written, and the reason is %q", why)
	}
}

func TestWhatIsNotSavedOfManyIsTold(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	d.onCase(all[0])
	d.keys("X")
	d.desk.refuse = "the disk is full"
	d.keys("enter")
	d.sees(fmt.Sprintf("%d of %d NOT saved", len(all), len(all)), "the disk is full")
	if len(d.m.saver.lots) > 0 {
		t.Error("a lot of which nothing is on disk can be taken back")
	}
}

func TestWhatIsSettledOneByOne(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	d.onCase("clock-step:turn/backup@10:20")
	d.keys("X")
	d.sees("settled one by one")
	d.onCase("overdue:30")
	d.keys("X")
	d.sees("no other open case is of this kind and proposes the same")

	d.onCase("swapped:7+9")
	d.keys("X")
	d.sees("bibs swapped: each is a question of its own")
}

// One that the evidence speaks otherwise of is none of them, whatever else it offers.
func TestWhoseEvidenceSpeaksForAnotherRulingIsNotAlike(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	for i := range d.desk.state.Suspects {
		if s := &d.desk.state.Suspects[i]; s.ID == all[0] || s.ID == all[3] {
			*s = s.Own()
			s.Proposes, s.Others = s.Others[0], []string{s.Proposes}
		}
	}
	d.feed()
	d.onCase(all[0])
	d.keys("X enter")
	if len(d.desk.ruled) != 2 || d.desk.ruled[0].Status != "dsq" || d.desk.ruled[1].Status != "dsq" {
		t.Errorf("ruled %+v, want the two who are proposed to be disqualified", d.desk.ruled)
	}
	d.feed()
	d.onCase(all[1])
	d.keys("X")
	d.sees(fmt.Sprintf("%d of %d cases", len(all)-2, len(all)-2), "accept: each is right")
}

func TestAlikeCasesAreLookedForNearAndFar(t *testing.T) {
	d := newDriver(t, 120, 40, 300, nil)
	all := d.missed()
	for i := range d.desk.state.Suspects {
		s := &d.desk.state.Suspects[i]
		switch {
		case s.Kind != race.MissingSplit:
		case s.ID == all[0] || s.ID == all[1]:
			s.Line, s.Split = "loop", "lap-1"
		case s.ID == all[2]:
			s.Line, s.Split = "loop", "lap-2"
		}
	}
	d.feed()
	d.onCase(all[0])
	d.keys("X")
	d.sees("at lap-1", "2 of 2 cases")
	d.keys("o")
	d.sees("at line loop", "3 of 3 cases")
	d.keys("o")
	d.sees(fmt.Sprintf("%d of %d cases", len(all), len(all)))
	d.keys("o")
	d.sees("at lap-1", "2 of 2 cases")
}
