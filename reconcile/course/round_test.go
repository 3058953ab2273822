package course

import (
	"math"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// tracks: skiers on three rounds over a line on the way and one where they end, where they begin too,
// each so many seconds after the one before. The plan has no split for the start.
func tracks(seed uint64, every float64) *maker {
	m := newMaker(seed, splits("ski", [2]float64{1, 2200}, [2]float64{0, 5000}, [2]float64{1, 7200}, [2]float64{0, 10000}, [2]float64{1, 12200}, [2]float64{0, 15000}), .005, 0)
	for i := range 90 {
		a := made{a: gunAt0()}
		t, own := every*float64(i)+m.between(.5, 25), m.between(.8, 1.3)/5.2
		a.stray(m.sees(0, t))
		at := 0.
		for k, s := range m.c.Splits {
			t += (s.At - at) * own * m.between(.97, 1.03)
			a.cross(m, k, t)
			at = s.At
		}
		m.add(a)
	}
	return m
}

// Where people set out one after the other over the line that they end at, the last of them some
// rounds' time after the gun, the first crossing is the start: another line's order tells it from a round.
func TestAStartThatThePlanHasNoSplitForIsNoRound(t *testing.T) {
	for _, every := range []float64{0, 5, 15, 20} {
		s := seeds(0, 6, func(seed uint64) *maker { return tracks(seed, every) })
		if s.laps > 0 || s.wrong > 2 {
			t.Errorf("one every %v s: %s; for one:%s", every, s, s.failed)
		}
	}
}

// Who is first seen at the line on the way is at their first round all the same.
func TestWhoIsNotSeenAtSuchAStartLosesNoRound(t *testing.T) {
	m := tracks(3, 15)
	for i := range m.all {
		if a := &m.all[i]; i%9 == 0 && a.seen[0].split == noSplit {
			a.seen = a.seen[1:]
		}
	}
	if s := m.score(); s.laps > 0 || s.wrong > 1 {
		t.Errorf("%s; for one:%s", s, s.failed)
	}
}

// What the field teaches of the first stretch is how long it takes from the start, not from the gun.
func TestTheFirstStretchRunsFromSuchAStart(t *testing.T) {
	_, f := tracks(5, 15).twice()
	for s, x := range f.Factor {
		if math.Abs(x-f.Factor[0]) > .02 {
			t.Errorf("split %d at %.3f of its usual pace, the first at %.3f", s, x, f.Factor[0])
		}
	}
}

// Only even rounds past another line tell that a course begins where it ends.
func TestComesRound(t *testing.T) {
	for _, c := range []struct {
		name string
		c    *race.Course
		want bool
	}{
		{"two rounds of two lines", splits("ski", [2]float64{1, 2200}, [2]float64{0, 5000}, [2]float64{1, 7200}, [2]float64{0, 10000}), true},
		{"measured to some metres", splits("ski", [2]float64{1, 2200}, [2]float64{0, 5000}, [2]float64{1, 7200}, [2]float64{0, 10120}), true},
		{"with a start", splits("ski", [2]float64{0, 0}, [2]float64{1, 2200}, [2]float64{0, 5000}, [2]float64{1, 7200}, [2]float64{0, 10000}), false},
		{"once round", splits("run", [2]float64{1, 5000}, [2]float64{0, 10000}), false},
		{"a way there first", splits("run", [2]float64{1, 2200}, [2]float64{0, 9000}, [2]float64{1, 11200}, [2]float64{0, 14000}), false},
		{"one line", splits("run", [2]float64{0, 5000}, [2]float64{0, 10000}), false},
		{"laps that repeat", lapsCourse(3, 2, 5000, "run"), false},
	} {
		if got := comesRound(c.c); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// What the antennas tell of the way is asked of the right splits where a start stands before them.
func TestTheWayIsToldOfTheSplitAlsoAfterAnUnlistedStart(t *testing.T) {
	c := splits("run", [2]float64{1, 2000}, [2]float64{1, 3000}, [2]float64{0, 5000}, [2]float64{1, 7000}, [2]float64{1, 8000}, [2]float64{0, 10000})
	f := &Field{Sides: []Side{{At: 1, Spread: .1}, {At: -1, Spread: .1}, {}, {At: 1, Spread: .1}, {At: -1, Spread: .1}, {}}}
	for _, unlisted := range []bool{false, true} {
		s := &search{f: f, unlisted: unlisted}
		for _, x := range c.Splits {
			s.marks = append(s.marks, mark{line: x.Line, at: x.At})
		}
		if unlisted {
			s.marks = slices.Insert(s.marks, 0, mark{line: 0})
		}
		first := len(s.marks) - len(c.Splits)
		for k := range c.Splits {
			if wrong := s.wrongWay(1000, first+k) > sureSide; wrong != (f.Sides[k].At < 0) {
				t.Errorf("unlisted %v, split %d: the wrong way %v", unlisted, k, wrong)
			}
		}
		if unlisted && s.wrongWay(1000, 0) != 0 {
			t.Error("a start that no split lists has a way")
		}
	}
}
