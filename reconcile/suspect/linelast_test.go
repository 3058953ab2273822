package suspect

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// cutTo leaves of the made race's course the start, these splits of the way and the finish.
func (m *made) cutTo(way ...int) { m.leave(append(append([]int{0}, way...), 4)...) }

// leave leaves these splits of it.
func (m *made) leave(keep ...int) {
	c := &m.plan.Courses[0]
	var splits []race.Split
	for _, k := range keep {
		splits = append(splits, c.Splits[k])
	}
	c.Splits = splits
	for i := range m.st.Results {
		r := m.st.Results[i]
		var ps []race.Passing
		for s, k := range keep {
			p := r.Passings[k]
			p.Split = s
			ps = append(ps, p)
		}
		r.Splits, r.Passings, r.Filled = splits, ps, make([]int, len(keep))
		for s := range keep {
			r.Filled[s] = s
		}
		m.settle(i)
	}
}

// bend makes the stretch that ends at a split longer: a share of everybody's time, then a length
// of time that is the same for all; what comes after it is later by as much.
func (m *made) bend(split int, share float64, more race.Millis) {
	for i := range m.st.Results {
		r := m.st.Results[i]
		took := r.Passings[split].At.Sub(r.Passings[split-1].At)
		m.shift(r.Bib, split, race.Millis(math.Round(float64(took)*(share-1)))+more)
	}
}

// sport makes the course one of another sport.
func (m *made) sport(sport string) {
	splits := slices.Clone(m.plan.Courses[0].Splits)
	for k := range splits {
		splits[k].Sport = sport
	}
	m.plan.Courses[0].Splits = splits
	for i := range m.st.Results {
		m.st.Results[i].Splits = splits
	}
}

// atLine moves what was read at one line.
func (m *made) atLine(split int, by race.Millis) {
	for i := range m.st.Results {
		r := m.st.Results[i]
		r.Passings[split].At = r.Passings[split].At.Add(by)
		m.settle(i)
	}
}

// otherClock is a backup's against main at a line.
func (m *made) otherClock(line int, offset float64) {
	m.st.Clocks = append(m.st.Clocks, race.ClockStretch{Line: line, Source: 2*line + 1, Offset: offset, Pairs: 60})
}

func (m *made) linesOff() (ids []string) {
	for _, s := range m.find() {
		if s.Kind == race.LineOff {
			ids = append(ids, s.Split)
		}
	}
	return ids
}

// The finish's clock is late or early all day, and no stretch comes after it to make up for that.
func TestAClockThatIsOffAtTheFinishIsTold(t *testing.T) {
	for _, by := range []race.Millis{900_000, 1_800_000, 3_600_000, 7_200_000, 86_400_000} {
		m := makeRace(t, 200)
		m.atLine(4, by)
		if s := m.one("line-off:finish"); !strings.HasPrefix(s.Proposes, "set-clock --line finish --system main --offset +") || s.Holds != nil {
			t.Errorf("%v: proposes %s, holds %v", by, s.Proposes, s.Holds)
		}
		m.none(race.UnlikelyPace, race.ImpossiblePace)
	}
	m := makeRace(t, 200)
	m.atLine(4, 3_600_000)
	if s := m.one("line-off:finish"); s.Proposes != "set-clock --line finish --system main --offset +3600.000" {
		t.Errorf("an hour: %s", s.Proposes)
	}
}

// Ten minutes may be a last climb; where backup's clock is as much behind they are not.
func TestAnotherClockTellsOfASmallerFault(t *testing.T) {
	m := makeRace(t, 200)
	m.atLine(4, 420_000)
	if off := m.linesOff(); off != nil {
		t.Errorf("seven minutes, and no other clock: %v", off)
	}
	m.otherClock(4, -423.5)
	if s := m.one("line-off:finish"); s.Proposes != "set-clock --line finish --system main --offset +423.500" || !strings.Contains(s.Says, "backup's, 0:07:03 behind it") {
		t.Errorf("%s proposes %s", s.Says, s.Proposes)
	}
	m.st.Clocks[0].Offset = 1700 // set by nobody: it tells nothing
	if off := m.linesOff(); off != nil {
		t.Errorf("backup's clock is elsewhere: %v", off)
	}
}

// Hills, fading, a wrong distance at the end and stops take a share of everybody's time, or not
// everybody's: none of that is a clock.
func TestWhatTakesItsShareIsNoClock(t *testing.T) {
	for _, w := range []struct {
		name string
		do   func(m *made)
	}{
		{"a climb to the finish that doubles everybody's time", func(m *made) { m.bend(4, 2, 0) }},
		{"three times as long", func(m *made) { m.bend(4, 3, 0) }},
		{"a climb and a descent by turns", func(m *made) { m.bend(1, 1.1, 0); m.bend(2, .8, 0); m.bend(3, 1.15, 0); m.bend(4, .85, 0) }},
		{"fading more and more", func(m *made) { m.bend(2, 1.1, 0); m.bend(3, 1.3, 0); m.bend(4, 1.6, 0) }},
		{"a fast end", func(m *made) { m.bend(4, .75, 0) }},
		{"up and down the mountain", func(m *made) { m.cutTo(2); m.bend(1, 1.8, 0); m.bend(2, .8, 0) }},
		{"half of the field stops for half an hour", func(m *made) {
			for i := 0; i < len(m.st.Results); i += 2 {
				m.shift(m.st.Results[i].Bib, 4, 1_800_000)
			}
		}},
		{"seventeen of twenty stand for half an hour before a gate", func(m *made) {
			for i := range m.st.Results {
				if i%20 < 17 {
					m.shift(m.st.Results[i].Bib, 4, 1_800_000)
				}
			}
		}},
		{"a parade to the finish, all in one time", func(m *made) {
			for i := range m.st.Results {
				r := m.st.Results[i]
				m.shift(r.Bib, 4, r.Passings[3].At.Add(5_400_000).Sub(r.Passings[4].At))
			}
		}},
		{"a course of climbs, and soup for everybody before the last", func(m *made) { m.bend(2, .75, 0); m.bend(3, 1.3, 0); m.bend(4, 1, 900_000) }},
		{"a climb and a descent of three stretches", func(m *made) { m.cutTo(1, 2); m.bend(1, 1.2, 0); m.bend(2, .85, 0) }},
		{"a descent that bunches ride", func(m *made) {
			m.sport("bike")
			for i := range m.st.Results {
				r := m.st.Results[i]
				took := r.Passings[4].At.Sub(r.Passings[3].At)
				m.shift(r.Bib, 4, race.Millis(1_000_000+.8*(float64(took)-1_950_000))-took)
			}
		}},
		{"a climb while backup's clock is as far off by chance", func(m *made) { m.bend(4, 1.35, 0); m.otherClock(4, -680) }},
	} {
		m := makeRace(t, 200)
		w.do(m)
		if off := m.linesOff(); off != nil {
			t.Errorf("%s: %v", w.name, off)
		}
	}
}

// Two neighbouring stretches that are off by opposite amounts name the line between them, be the
// next one impossible for many.
func TestTheLineBetweenIsNamed(t *testing.T) {
	for _, split := range []int{1, 2, 3} {
		for _, by := range []race.Millis{600_000, 900_000, -600_000} {
			m := makeRace(t, 200)
			m.atLine(split, by)
			want := m.plan.Courses[0].Splits[split].ID
			if off := m.linesOff(); !slices.Equal(off, []string{want}) {
				t.Errorf("%s off by %v: told of %v", want, by, off)
			}
		}
	}
}

// So it is of the first of a course without a start line.
func TestTheFirstLineIsNamedToo(t *testing.T) {
	m := makeRace(t, 200)
	m.leave(1, 2, 3, 4)
	m.atLine(0, 700_000)
	if off := m.linesOff(); !slices.Equal(off, []string{"5k"}) {
		t.Errorf("told of %v", off)
	}
}

// One line that is off is told, and not the finish because of it.
func TestALineThatIsOffNamesNoOther(t *testing.T) {
	for _, by := range []race.Millis{-1_100_000, -900_000, 900_000} {
		m := makeRace(t, 200)
		m.cutTo(1, 2)
		m.atLine(1, by)
		if off := m.linesOff(); !slices.Equal(off, []string{"5k"}) {
			t.Errorf("by %v: told of %v", by, off)
		}
	}
}

// With one split on the way a field can't tell whose clock it is: the other clock does.
func TestWithOneSplitOnTheWayAnotherClockTellsWhose(t *testing.T) {
	for _, c := range []struct{ split, line int }{{1, 2}, {2, 4}} {
		m := makeRace(t, 200)
		m.cutTo(2)
		m.atLine(c.split, 1_800_000)
		m.otherClock(2, 3)
		m.otherClock(4, -2)
		m.st.Clocks[c.split-1].Offset -= 1800
		want := m.plan.Courses[0].Splits[c.split].ID
		if off := m.linesOff(); !slices.Equal(off, []string{want}) {
			t.Errorf("%s: told of %v", want, off)
		}
		m.st.Clocks = nil
		off := m.linesOff()
		if len(off) != 1 {
			t.Fatalf("%s, no other clock: %v", want, off)
		}
		if s := m.one("line-off:" + off[0]); !strings.HasPrefix(s.Proposes, "accept ") || !strings.Contains(s.Says, "or that of ") || len(s.Others) != 2 {
			t.Errorf("no other clock: %s proposes %s, %v", s.Says, s.Proposes, s.Others)
		}
	}
}

// A distance told wrong takes its share of everybody's time too, yet bends a flat course more than
// anything else of it, and not one of climbs.
func TestADistanceBendsAFlatCourse(t *testing.T) {
	for _, hilly := range []bool{false, true} {
		m := makeRace(t, 200)
		m.plan.Courses[0].Splits = slices.Clone(m.plan.Courses[0].Splits)
		for i := range m.st.Results {
			m.st.Results[i].Splits = m.plan.Courses[0].Splits
		}
		m.plan.Courses[0].Splits[2].At = 9100
		if hilly {
			m.bend(4, 1.35, 0)
		}
		if off := m.linesOff(); (len(off) == 1 && off[0] == "10k") == hilly {
			t.Errorf("hilly %t: %v", hilly, off)
		}
	}
}

// A mountain bends a course as far as any mark told wrong, and fans the field: who climbs well comes
// down as they can.
func TestAMountainFansTheField(t *testing.T) {
	for _, fan := range []float64{0, 0.15} {
		m := makeRace(t, 200)
		g := rand.New(rand.NewPCG(3, 5))
		for i := range m.st.Results {
			r := m.st.Results[i]
			for k, log := range []float64{2: 0.4, 3: -0.55} {
				if log == 0 {
					continue
				}
				took := float64(r.Passings[k].At.Sub(r.Passings[k-1].At))
				m.shift(r.Bib, k, race.Millis(took*(math.Exp(log+float64(fan*g.NormFloat64()))-1)))
			}
		}
		if off := m.linesOff(); (len(off) == 1 && off[0] == "10k") == (fan > 0) {
			t.Errorf("fanned by %.2f: %v", fan, off)
		}
	}
}

// What a line that is off does to the order of passings is not told bib by bib.
func TestWhatFollowsFromALineIsToldOnce(t *testing.T) {
	m := makeRace(t, 200)
	m.atLine(2, 900_000)
	for _, bib := range []string{"3", "4"} { // so fast that 15 km came first, and was left out
		at := m.result(bib).Passings[3].At
		m.miss(bib, 3)
		m.add(bib, 3, at, race.Extra)
		m.in.OutOfOrder = append(m.in.OutOfOrder, bib)
	}
	m.one("line-off:10k")
	m.none(race.OutOfOrder, race.MissingSplit, race.ExtraPassing)
}

func TestAPassingOnAnotherDayIsToldWithItsDate(t *testing.T) {
	m := makeRace(t, 60)
	at := m.result("7").Passings[2].At
	m.miss("7", 2)
	m.add("7", 2, at.Add(86_400_000), race.Extra)
	m.in.OutOfOrder = []string{"7"}
	if s := m.one("out-of-order:7"); !strings.Contains(s.Says, "read at 10k at 2026-05-18 ") || !strings.Contains(s.Says, ", 10k 2026-05-18 ") || strings.Contains(s.Says, "start 2026") {
		t.Error(s.Says)
	}
}

// Who walks home over the finish is told, with but one split on the way too: against how the
// field's second half follows from its first.
func TestALongSecondHalfIsUnlikely(t *testing.T) {
	m := makeRace(t, 200)
	m.cutTo(1)
	m.shift("30", 2, 5_000_000)
	s := m.one("unlikely-pace:30:finish")
	if !strings.Contains(s.Says, "from 5k to finish") {
		t.Error(s.Says)
	}
	if n := m.count(race.UnlikelyPace); n > 1 {
		t.Errorf("%d unlikely paces for one stop", n)
	}
}

// Of a course of four stretches two are too few to tell anybody's own pace.
func TestTwoStretchesOfFourTellNoPace(t *testing.T) {
	m := makeRace(t, 200)
	m.shift("30", 2, 2_000_000)
	m.miss("30", 3, 4)
	m.none(race.UnlikelyPace)
}

// A few are no field: a climb that each takes in their own way is not told of them.
func TestAFewTellOfNoClock(t *testing.T) {
	told := 0
	for seed := range uint64(60) {
		m := makeRace(t, 12)
		g := rand.New(rand.NewPCG(seed, 5))
		for i := range m.st.Results {
			r := m.st.Results[i]
			m.shift(r.Bib, 4, race.Millis(float64(r.Passings[4].At.Sub(r.Passings[3].At))*(1.5*math.Exp(.12*g.NormFloat64())-1)))
		}
		told += len(m.linesOff())
	}
	if told > 0 {
		t.Errorf("told of %d fields of twelve", told)
	}
}

// Beside a clock that is off nobody's own pace is known, and a line tells of nobody's other.
func TestBesideALineThatIsOffNoPaceIsUnlikely(t *testing.T) {
	m := makeRace(t, 400)
	m.cutTo(1, 2)
	m.atLine(1, 1_100_000)
	if off := m.linesOff(); !slices.Equal(off, []string{"5k"}) {
		t.Errorf("told of %v", off)
	}
	m.none(race.UnlikelyPace)
}

// A start's clock that is off is told once, and not as a missing start of each.
func TestAStartThatIsOffIsToldOnce(t *testing.T) {
	m := makeRace(t, 60)
	for i := range m.st.Results {
		bib := m.st.Results[i].Bib
		at := m.st.Results[i].Passings[0].At
		m.miss(bib, 0)
		m.add(bib, 0, at.Add(3_600_000), race.Extra)
	}
	m.one("line-off:start")
	m.none(race.MissingStart)
}

// How far a clock is off is kept so coarsely that a field's middle may wander by some seconds.
func TestEvidenceOfALineHoldsStill(t *testing.T) {
	for _, c := range []struct {
		a, b  float64
		alike bool
	}{{407, 403, true}, {-61, -58, true}, {3600, 3580, true}, {407, -407, false}, {60, 240, false}, {0, 0.4, true}} {
		if got := coarsely(c.a) == coarsely(c.b); got != c.alike {
			t.Errorf("%g and %g: %s, %s", c.a, c.b, coarsely(c.a), coarsely(c.b))
		}
	}
}
