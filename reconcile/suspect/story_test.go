package suspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// slowed is somebody's passings, every stretch after the start so many times as long.
func slowed(r *race.Result, times float64) []race.Passing {
	ps := crossings(r.Passings)
	start := ps[0].At
	for k := range ps {
		ps[k].At = start.Add(race.Millis(float64(ps[k].At.Sub(start)) * times))
	}
	return ps
}

// That somebody is slow is told once, however many stretches say it, and being far slower than
// all others is no proof of another course; being as much faster nearly is.
func TestASlowStoryCostsOnce(t *testing.T) {
	m := makeRace(t, 100)
	f := newField(m.in)
	r := m.result("6")
	cost := func(ps []race.Passing) float64 { return f.storyIn(ps, r.Wave, r.Gun).cost }
	own, walks := cost(slowed(r, 1)), cost(slowed(r, 2.2))
	if own > 2 || walks-own > 8 {
		t.Errorf("own pace costs %.1f, a walk home %.1f", own, walks)
	}
	if half := cost(slowed(r, 2.2)[:3]); math.Abs(walks-half) > 0.5 {
		t.Errorf("two stretches of a walk cost %.1f, four %.1f", half, walks)
	}
	if z := 4.0; paceCost(z, costPace) > paceCost(-z, costPace)-2 || paceCost(1, costPace) != paceCost(-1, costPace) {
		t.Errorf("four spreads slower cost %.1f, faster %.1f", paceCost(z, costPace), paceCost(-z, costPace))
	}
}

// Who is far ahead of all others over rounds of one line has ridden them all: that one is left out
// makes two of one that the field's middle would ride, and is no better story.
func TestWhoIsFarAheadHasGoneAllRounds(t *testing.T) {
	for _, times := range []float64{.65, .7, .75, 1} {
		m := makeRace(t, 100)
		m.keepSplits(0, func(k int) int { return min(k, 1) }, 0, 1, 2, 3, 4)
		f := newField(m.in)
		r := m.result("6")
		s := f.storyIn(slowed(r, times), r.Wave, r.Gun)
		if s.fits != len(s.splits) {
			t.Errorf("at %.2f of their time: %v, cost %.1f", times, s.splits, s.cost)
		}
	}
}

// Where the leader's finish ends everybody's race it is no odd end to have fewer laps.
func TestFewerLapsThanTheLeaderAreNoOddEnd(t *testing.T) {
	m := makeRace(t, 100)
	f := newField(m.in)
	r := m.result("6")
	ps := crossings(r.Passings)[:3]
	m.st.Now = ps[2].At.Add(20_000_000)
	s := f.storyIn(ps, r.Wave, r.Gun)
	if f.broken(ps, &s) == 0 {
		t.Error("who left the course is told as if they hadn't")
	}
	m.plan.Courses[0].Flagged = true
	if c := f.broken(ps, &s); c != 0 {
		t.Errorf("flagged at the second split costs %.1f", c)
	}
}

// keepSplits leaves of everybody's course, and of what was read of them, only some splits.
func (m *made) keepSplits(course int, line func(split int) int, keep ...int) {
	c := &m.plan.Courses[course]
	var splits []race.Split
	for _, k := range keep {
		sp := c.Splits[k]
		sp.Line = line(k)
		splits = append(splits, sp)
	}
	c.Splits = splits
	for i := range m.st.Results {
		if r := m.st.Results[i]; r.Course == course {
			ps := r.Passings
			r.Splits, r.Passings, r.Filled = splits, nil, nil
			for n, k := range keep {
				p := ps[k]
				p.Line, p.Split = splits[n].Line, n
				r.Passings, r.Filled = append(r.Passings, p), append(r.Filled, n)
			}
			m.settle(i)
		}
	}
}

// Who set out with another course's wave and was read nowhere but at the finish ran that course,
// where their own would have taken another time from there; who then ran their own did not.
func TestOneFinishTellsTheCourseWithTheStart(t *testing.T) {
	for ran, want := range map[string]int{"ten": 1, "half": 0, "half, and was read at 5 km": 0} {
		m := makeRace(t, 100)
		m.addTen()
		if !strings.Contains(ran, "5 km") {
			m.keepSplits(1, func(k int) int { return 4 * k / 2 }, 0, 2)
		}
		const later = 3300_000
		m.plan.Waves[2].Gun += later
		for i := 100; i < len(m.st.Results); i++ {
			m.st.Results[i].Gun += later
			m.shift(m.st.Results[i].Bib, 0, later)
		}
		if r := m.result("6"); ran == "ten" {
			r.Passings = slices.Clone(m.result("1005").Passings)
			r.Passings[1].Split, r.Filled = 4, []int{0, -1, -1, -1, 1}
			m.settle(m.st.ByBib["6"])
		} else {
			m.shift("6", 0, later+300_000) // as late as the ten starts
			m.miss("6", 2, 3)
			if ran == "half" {
				m.miss("6", 1)
			}
		}
		if n := m.count(race.OtherCourse); n != want {
			t.Errorf("who ran the %s: %d told", ran, n)
		}
	}
}

// Where start and finish are one line, a start with another course's wave is no start of one's
// own, though every split is filled.
func TestAllSplitsFilledInAnotherCoursesTime(t *testing.T) {
	m := makeRace(t, 100)
	m.addTen()
	m.keepSplits(0, func(int) int { return 0 }, 0, 2, 4)
	m.keepSplits(1, func(int) int { return 0 }, 0, 1, 2)
	m.none(race.OtherCourse)
	r := m.result("1005")
	r.Passings = slices.Clone(m.result("90").Passings)
	m.settle(m.st.ByBib["1005"])
	if s := m.one("other-course:1005"); s.Proposes != "set-wave --bib 1005 --wave B" {
		t.Errorf("%+v", s)
	}
}
