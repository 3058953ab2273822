package suspect

import (
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// steppedAt moves what main told at a split before or after the middle of the race there, and
// lists a step of that size that a fit would find between, of which nothing tells whose it was.
func (m *made) steppedAt(split int, after bool, by race.Millis) {
	var at []race.Instant
	for i := range m.st.Results {
		at = append(at, m.st.Results[i].Passings[split].At)
	}
	slices.Sort(at)
	mid := at[len(at)/2]
	for i := range m.st.Results {
		r := m.st.Results[i]
		if (r.Passings[split].At >= mid) == after {
			r.Passings[split].At = r.Passings[split].At.Add(by)
			m.settle(i)
		}
	}
	if after {
		by = -by
	}
	m.in.Steps = []ClockStep{{Line: split, Source: 2*split + 1, Before: mid.Add(-1000), After: mid, SizeS: by.Seconds(), PlusMinusS: 0.1, Pairs: 50}}
}

func (m *made) step() race.Suspect {
	for _, s := range m.find() {
		if s.Kind == race.ClockStep {
			return s
		}
	}
	m.t.Fatal("no step is told")
	return race.Suspect{Finding: &race.Finding{}}
}

// Nothing of two clocks tells whose stepped, but by main's times on one side the field is
// impossible: it was main's, the other side is right, and that is one case.
func TestPacesTellWhoseClockStepped(t *testing.T) {
	for _, c := range []struct {
		name     string
		after    bool
		by       race.Millis
		proposes string
	}{
		{"late after it, too fast from there on", true, 3_600_000, "set-clock --line 10k --stepped main"},
		{"early before it, too fast to there", false, -1_900_000, "set-clock --line 10k --stepped main --right after"},
		{"seconds, which make nobody impossible", true, 7_000, "set-clock --line 10k --stepped backup"},
	} {
		m := makeRace(t, 120)
		m.steppedAt(2, c.after, c.by)
		s := m.step()
		if s.Proposes != c.proposes || strings.Contains(s.Says, "the field is impossible") != (s.Proposes != "set-clock --line 10k --stepped backup") {
			t.Errorf("%s: %s proposes %s", c.name, s.Says, s.Proposes)
		}
		m.none(race.ImpossiblePace, race.LineOff)
		m.st.Rulings = []race.Ruling{{Seq: 1, Rule: race.Accept, Suspect: s.ID}}
		if n := m.count(race.ImpossiblePace) + m.count(race.LineOff); (n > 0) != (s.Proposes != "set-clock --line 10k --stepped backup") {
			t.Errorf("%s, taken as it stands: %d told", c.name, n)
		}
		m.st.Undone = map[int]int{1: 2}
		m.none(race.ImpossiblePace, race.LineOff)
		m.in.Steps[0].Ruled = 3
		if n := m.count(race.ImpossiblePace) + m.count(race.LineOff); (n > 0) != (s.Proposes != "set-clock --line 10k --stepped backup") {
			t.Errorf("%s, ruled on and still so: %d told", c.name, n)
		}
	}
}

// A main that was set back by a day early on has most of a field a day early: that is the step, and
// no line that is off, whose one offset would take those before it a day off.
func TestAMainSetBackIsNoLineOff(t *testing.T) {
	for _, stepped := range []bool{true, false} {
		m := makeRace(t, 120)
		p := m.result("60").Passings[2]
		for i := range m.st.Results {
			if i%5 == 0 {
				continue // before it
			}
			bib := m.st.Results[i].Bib
			at := m.result(bib).Passings[2].At
			m.miss(bib, 2)
			m.add(bib, 2, at.Add(-86400_000), race.Extra)
		}
		if stepped {
			m.in.Steps = []ClockStep{{Line: 2, Source: 5, Before: p.At, After: p.At.Add(-86400_000), SizeS: 86400, PlusMinusS: 0.1, Pairs: 60, Back: true}}
		}
		if n := m.count(race.LineOff); (n == 0) != stepped {
			t.Errorf("stepped %t: %d told", stepped, n)
		}
		if n := m.count(race.MissingSplit); n > 0 {
			t.Errorf("stepped %t: %d told as unread", stepped, n)
		}
	}
}

// Where main's times are possible on both sides, or on neither, they say nothing of whose it was.
func TestPacesThatAreAlikeOnBothSidesTellNothing(t *testing.T) {
	m := makeRace(t, 120)
	m.steppedAt(2, true, 0)
	m.in.Steps[0].SizeS = 3600
	if s := m.step(); s.Proposes != "set-clock --line 10k --stepped backup" || strings.Contains(s.Says, "impossible") {
		t.Errorf("backup's: %s proposes %s", s.Says, s.Proposes)
	}
	m = makeRace(t, 120)
	m.atLine(2, -1_500_000)
	m.steppedAt(2, true, -200_000)
	if s := m.step(); strings.Contains(s.Says, "impossible") {
		t.Errorf("off all day too: %s", s.Says)
	}
	m = makeRace(t, 120)
	m.steppedAt(2, true, 0)
	m.in.Steps[0].SizeS = 3600
	for i := range 7 {
		r := m.st.Results[9*i]
		r.Passings[2].At = r.Passings[2].At.Add(-1_500_000)
		m.settle(9 * i)
	}
	if s := m.step(); strings.Contains(s.Says, "impossible") {
		t.Errorf("one in twenty: %s", s.Says)
	}
	m = makeRace(t, 120)
	m.steppedAt(2, false, -1_900_000)
	m.in.Steps[0].Back = true // which sides it has the other clock tells
	if s := m.step(); s.Proposes != "set-clock --line 10k --stepped main" {
		t.Errorf("set back: %s proposes %s", s.Says, s.Proposes)
	}
	m = makeRace(t, 120)
	m.steppedAt(2, true, 3_600_000)
	m.in.Steps[0].SizeS = 3 // a small step beside what is impossible for another reason
	if s := m.step(); strings.Contains(s.Says, "impossible") {
		t.Errorf("three seconds: %s", s.Says)
	}
	if off := m.linesOff(); len(off) != 1 {
		t.Errorf("three seconds: %v", off)
	}
}

// Some who are too fast beside a main that was set are the step's, few as they are; one or two
// are themselves.
func TestWhoIsFastBesideAStepIsTheSteps(t *testing.T) {
	for _, c := range []struct {
		fast, told int
		ruled      bool
	}{{12, 0, false}, {3, 3, false}, {12, 12, true}} {
		m := makeRace(t, 120)
		for i := range c.fast {
			r := m.st.Results[9*i]
			r.Passings[2].At = r.Passings[2].At.Add(-1_500_000)
			m.settle(9 * i)
		}
		p := &m.result("9").Passings[2]
		m.in.Steps = []ClockStep{{Line: 2, Source: 5, Before: p.At, After: p.At.Add(-1_490_000), SizeS: 1500, PlusMinusS: 0.1, Pairs: 60, Back: true}}
		if c.ruled {
			m.in.Steps[0].Ruled = 4
		}
		if n := m.count(race.ImpossiblePace); n != c.told {
			t.Errorf("%d fast, ruled on %t: %d told", c.fast, c.ruled, n)
		}
	}
}

// A line beside which a main stepped is bent by that, not by a clock that is off all day.
func TestNoLineIsOffBesideAStep(t *testing.T) {
	for _, split := range []int{1, 2, 3, 4} {
		m := makeRace(t, 200)
		m.atLine(split, 900_000)
		if off := m.linesOff(); len(off) != 1 {
			t.Fatalf("%d: %v", split, off)
		}
		p := &m.result("9").Passings[split]
		m.in.Steps = []ClockStep{{Line: split, Source: 2*split + 1, Before: p.At, After: p.At.Add(-890_000), SizeS: 900, PlusMinusS: 0.1, Pairs: 60, Back: true}}
		if off := m.linesOff(); off != nil {
			t.Errorf("%d, main stepped: %v", split, off)
		}
		m.in.Steps[0].SizeS, m.in.Steps[0].Back, m.in.Steps[0].Told = 1.5, false, "main"
		if off := m.linesOff(); len(off) != 1 {
			t.Errorf("%d, a clock went on by a second: %v", split, off)
		}
		m.in.Steps = nil
		m.atLine(split, -730_000) // which a twin tells
		m.otherClock(split, -170)
		if off := m.linesOff(); len(off) != 1 {
			t.Errorf("%d, less, and told by a twin: %v", split, off)
		}
		m.in.Steps = []ClockStep{{Line: split, Source: 2*split + 1, Before: p.At, After: p.At.Add(-890_000), SizeS: 900, PlusMinusS: 0.1, Pairs: 60, Back: true}}
		if off := m.linesOff(); off != nil {
			t.Errorf("%d, a twin, main stepped: %v", split, off)
		}
	}
}

// So is who was at the finish too soon after the line that stepped to have finished.
func TestAFinishTooSoonAfterAStepIsTheSteps(t *testing.T) {
	for _, ruled := range []int{0, 5} {
		m := makeRace(t, 120)
		for i := range 12 {
			r := m.st.Results[9*i]
			r.Passings[3].At = r.Passings[3].At.Add(-1_500_000)
			m.settle(9 * i)
		}
		const last = "50"
		p := &m.result("9").Passings[3]
		m.in.Steps = []ClockStep{{Line: 3, Source: 7, Before: p.At, After: p.At.Add(-1_490_000), SizeS: 1500, PlusMinusS: 0.1, Pairs: 60, Back: true, Ruled: ruled}}
		at := m.result(last).Passings[3].At
		m.miss(last, 4)
		m.add(last, 4, at.Add(20_000), race.Extra)
		told := 0
		for _, s := range m.find() {
			told += tally(s.ID == "impossible-pace:"+last+":finish")
		}
		if told != tally(ruled > 0) {
			t.Errorf("ruled %d: told %d times", ruled, told)
		}
	}
}

// A few who are too fast beside a step stay their own, whatever others did elsewhere.
func TestAFewBesideAStepAreTheirOwn(t *testing.T) {
	m := makeRace(t, 120)
	for i := range 15 {
		r, k := m.st.Results[8*i], 4
		if i < 3 {
			k = 2
		}
		r.Passings[k].At = r.Passings[k-1].At.Add(60_000)
		m.settle(8 * i)
	}
	p := &m.result("9").Passings[2]
	m.in.Steps = []ClockStep{{Line: 2, Source: 5, Before: p.At, After: p.At.Add(-1_490_000), SizeS: 1500, PlusMinusS: 0.1, Pairs: 60, Back: true}}
	if n := m.count(race.ImpossiblePace); n != 15 {
		t.Errorf("told %d", n)
	}
}
