package suspect

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// Main's clock of one line is two or three minutes off all day, which a hill may be too; backup's
// of that line stands as far from it, and with its times the course is even.
func TestATwinTellsWhoseClockIsOff(t *testing.T) {
	for _, split := range []int{1, 2, 3, 4} {
		for _, by := range []race.Millis{-190_000, -170_000, 170_000, 190_000} {
			m := makeRace(t, 200)
			m.otherClock(split, 0.4)
			m.atLine(split, by)
			if off := m.linesOff(); off != nil {
				t.Errorf("%v at %d, and the other clock says nothing: %v", by, split, off)
			}
			m.st.Clocks[0].Offset -= by.Seconds()
			id := m.plan.Courses[0].Splits[split].ID
			want := fmt.Sprintf("set-clock --line %s --system main --offset %+.3f", id, by.Seconds()-0.4)
			if s := m.one("line-off:" + id); s.Proposes != want || s.Holds != nil || !strings.Contains(s.Says, "by backup's clock there") {
				t.Errorf("%v: %s proposes %s, holds %v", by, s.Says, s.Proposes, s.Holds)
			}
			if n := m.count(race.LineOff); n != 1 {
				t.Errorf("%v at %s: %d lines are told of", by, id, n)
			}
		}
	}
}

// With one split on the way the two stretches are held against each other.
func TestATwinTellsWithOneSplitOnTheWay(t *testing.T) {
	for _, c := range []struct{ split, line int }{{1, 2}, {2, 4}} {
		m := makeRace(t, 200)
		m.cutTo(2)
		m.atLine(c.split, -240_000)
		m.otherClock(2, 3)
		m.otherClock(4, -2)
		m.st.Clocks[c.split-1].Offset += 240
		want := m.plan.Courses[0].Splits[c.split].ID
		if off := m.linesOff(); !slices.Equal(off, []string{want}) {
			t.Errorf("%s: told of %v", want, off)
		}
	}
}

// A backup that is minutes off beside a main that is right is set by the clocks alone, on a course of
// hills too: what they take is a share of everybody's time.
func TestABackupThatIsOffIsNoLineOff(t *testing.T) {
	for _, w := range []struct {
		name string
		do   func(m *made)
	}{
		{"an even course", func(*made) {}},
		{"a climb to it and a descent from it that fit", func(m *made) { m.bend(2, 1.09, 0); m.bend(3, .91, 0) }},
		{"a climb after it, a descent to it", func(m *made) { m.bend(2, .91, 0); m.bend(3, 1.09, 0) }},
		{"the slow lose less before it and more after it, and the middle nothing", func(m *made) {
			for i := range m.st.Results {
				r := m.st.Results[i]
				before, after := r.Passings[2].At.Sub(r.Passings[1].At), r.Passings[3].At.Sub(r.Passings[2].At)
				m.shift(r.Bib, 2, race.Millis(-.2*float64(before-1_600_000)))
				m.shift(r.Bib, 3, race.Millis(.2*float64(after-1_600_000)))
			}
		}},
		{"a climb to it, and the slow lose the less of it", func(m *made) {
			for i := range m.st.Results {
				r := m.st.Results[i]
				took := float64(r.Passings[2].At.Sub(r.Passings[1].At))
				m.shift(r.Bib, 2, race.Millis(-.12*(took-1_000_000)))
			}
		}},
	} {
		for _, by := range []float64{-300, -150, -60, 60, 150, 300} {
			m := makeRace(t, 200)
			w.do(m)
			m.otherClock(2, by)
			if off := m.linesOff(); off != nil {
				t.Errorf("%s, backup %+.0f s: %v", w.name, by, off)
			}
		}
	}
}

// What else is known of a line's clocks decides before its field does.
func TestWhatClocksATwinCannotSpeakFor(t *testing.T) {
	const by = 150_000
	for _, w := range []struct {
		name string
		do   func(m *made)
	}{
		{"it was told by hand", func(m *made) { m.st.Clocks[0].Fixed = true }},
		{"few were read by both", func(m *made) { m.st.Clocks[0].Pairs = 9 }},
		{"a third clock is with main", func(m *made) { m.otherClock(2, 1) }},
		{"it was set in mid-race", func(m *made) { m.otherClock(2, -20) }},
		{"another line's backup is off alike", func(m *made) { m.otherClock(3, -152) }},
		{"the line is passed twice", func(m *made) {
			for k := range m.plan.Courses[0].Splits {
				if k == 0 {
					m.plan.Courses[0].Splits[k].Line = 2
				}
			}
			for i := range m.st.Results {
				m.st.Results[i].Splits = m.plan.Courses[0].Splits
			}
		}},
	} {
		m := makeRace(t, 200)
		m.plan.Courses[0].Splits = slices.Clone(m.plan.Courses[0].Splits)
		m.atLine(2, by)
		m.otherClock(2, -race.Millis(by).Seconds())
		if off := m.linesOff(); !slices.Equal(off, []string{"10k"}) {
			t.Fatalf("%s: without that, told of %v", w.name, off)
		}
		w.do(m)
		if off := m.linesOff(); off != nil {
			t.Errorf("%s: %v", w.name, off)
		}
	}
}

// Who stops or falls far back spreads a field as no hill does: how it fans out is told by the others.
func TestAFewWhoStopFanNoField(t *testing.T) {
	m := makeRace(t, 200)
	before, _ := newField(m.in).fanned(0, 2, []int{1, 4}, lateBy{})
	for i := 0; i < len(m.st.Results); i += 20 {
		m.shift(m.st.Results[i].Bib, 2, 900_000)
	}
	after, _ := newField(m.in).fanned(0, 2, []int{1, 4}, lateBy{})
	if math.Abs(before) > 0.06 || math.Abs(after-before) > 0.03 {
		t.Errorf("fanned by %.3f, with ten who stopped %.3f", before, after)
	}
	if late, _ := newField(m.in).fanned(0, 2, []int{1, 4}, lateBy{2, -400}); late > -0.1 {
		t.Errorf("were the line 400 s early: %.3f", late)
	}
}

// Clocks that are a few seconds apart are as people set them; whatever a short stretch says.
func TestSecondsApartAreNoLineOff(t *testing.T) {
	m := makeRace(t, 60)
	for by, want := range map[float64]bool{-15: false, 15: false, -25: true, 25: true} {
		m.st.Clocks = nil
		m.otherClock(2, by)
		if x, ok := newField(m.in).twinApart(0, 2); ok != want || ok && x.s != -by {
			t.Errorf("%+.0f s: %v, %t", by, x, ok)
		}
	}
}

// A line that is off bends the stretches of those beside it: their twins tell nothing.
func TestATwinBesideALineThatIsOffTellsNothing(t *testing.T) {
	m := makeRace(t, 200)
	m.atLine(2, 190_000)
	m.otherClock(2, -190)
	if s := newField(m.in).twinOff(0); len(s) != 1 || s[0].Split != "10k" {
		t.Fatalf("alone: %v", s)
	}
	for _, told := range []int{1, 2, 3} {
		f := newField(m.in)
		f.lineOff[[2]int{0, told}] = true
		if s := f.twinOff(0); s != nil {
			t.Errorf("split %d is told: %v", told, s)
		}
	}
}

// Before the field has come further, the stretch before the line tells alone.
func TestATwinTellsBeforeTheNextLine(t *testing.T) {
	m := makeRace(t, 200)
	for i := range m.st.Results {
		m.miss(m.st.Results[i].Bib, 3, 4)
	}
	m.atLine(2, 240_000)
	m.otherClock(2, -240)
	if s := newField(m.in).twinOff(0); len(s) != 1 || !strings.Contains(s[0].Says, "usual time before it (200 athletes)") {
		t.Errorf("told of %v", s)
	}
}
