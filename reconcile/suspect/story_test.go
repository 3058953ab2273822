package suspect

import (
	"fmt"
	"math"
	"math/rand/v2"
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

// Solos and teams over one lap from one gun are told apart by no passing: that one small field
// comes along otherwise than the other says nothing of who belongs to it. From another gun the
// start does.
func TestOverTheSameRoadNobodyRanAnotherCourse(t *testing.T) {
	for later, want := range map[race.Millis]int{0: -1, 1200_000: 2} {
		m := makeRace(t, 100)
		m.addTen()
		m.plan.Courses[1].Splits = m.plan.Courses[0].Splits
		m.plan.Waves[2].Gun = m.plan.Waves[0].Gun.Add(later)
		f := newField(m.in)
		r := m.result("6")
		ps := slowed(r, 1)
		for k := range ps {
			ps[k].At = ps[k].At.Add(later)
		}
		own, best, _ := f.elsewhere(m.st.ByBib["6"], ps)
		if best.wave != want || want >= 0 && own.cost-best.cost < 3 {
			t.Errorf("gun %d ms later: wave %d, own %.1f, other %.1f", later, best.wave, own.cost, best.cost)
		}
		if f.roadsDiffer() != true { // wave B has a gun of its own
			t.Error("the gun of B tells")
		}
		m.plan.Waves[1].Gun = m.plan.Waves[0].Gun
		if f.roadsDiffer() != (later > 0) {
			t.Errorf("gun %d ms later: roads differ is %v", later, f.roadsDiffer())
		}
	}
}

// A step that costs more than another already found isn't looked at, and that changes nothing.
func TestWhatIsCutShortChangesNoStory(t *testing.T) {
	m := makeRace(t, 100)
	m.keepSplits(0, func(int) int { return 1 }, 0, 1, 2, 3, 4)
	f := newField(m.in)
	g := rand.New(rand.NewPCG(5, 6))
	looked := 0
	for range 60 {
		r := m.result(fmt.Sprint(1 + g.IntN(100)))
		ps := slowed(r, 0.7+g.Float64())
		for range g.IntN(6) { // strays, too
			ps = append(ps, passingAt(1, r.Gun.Add(race.Millis(g.IntN(8000_000))), -1))
		}
		slices.SortFunc(ps, func(a, b race.Passing) int { return int(a.At - b.At) })
		a := alignment{f: f, wave: r.Wave, course: &f.courses[0], splits: f.splitsOf(0), ps: ps, gun: r.Gun, most: costPace, about: 0, sd: .2, best: make([]step, len(ps)*5)}
		a.fill(costUnfit * float64(len(ps)))
		for j := range ps {
			for k := range a.splits {
				if whole := a.wholeStep(j, k); a.splits[k].Line == ps[j].Line && a.best[j*5+k] != whole {
					t.Fatalf("passing %d in split %d: %v, of all %v", j, k, a.best[j*5+k], whole)
				}
				looked++
			}
		}
	}
	if looked < 1000 {
		t.Fatalf("%d steps", looked)
	}
}

// wholeStep is step that looks at all there is.
func (a *alignment) wholeStep(j, k int) step {
	s := step{cost: a.first(a.ps[j].At.Sub(a.gun).Seconds(), k) + costUnfit*float64(j), j: -1}
	for i := j - 1; i >= max(0, j-8); i-- {
		for h := k - 1; h >= 0; h-- {
			b, dt := &a.best[i*len(a.splits)+h], a.ps[j].At.Sub(a.ps[i].At).Seconds()
			if math.IsInf(b.cost, 1) || dt <= 0 || dt < a.f.need(a.f.plan.Waves[a.wave].Course, h, k) {
				continue
			}
			z := (math.Log(dt/a.course.usualOver(a.splits, h, k)) - a.about) / a.sd
			if c := b.cost + paceCost(z, a.most) + float64(costSkipped*float64(k-h-1)) + costUnfit*float64(j-i-1); c < s.cost {
				s = step{cost: c, j: i, k: h}
			}
		}
	}
	return s
}

// As long as a story may be, what anybody needs between two of its splits is looked up: worked out
// at every step, an export of a day on a short lap with solos and teams took a quarter of an hour.
func TestTheLongestStoryHasATable(t *testing.T) {
	f := newField(makeRace(t, 10).in)
	splits := make([]race.Split, mostCells/mostCrossings)
	for k := range splits {
		splits[k] = race.Split{Line: 1, At: 800 * float64(k+1), Sport: "run"}
	}
	if f.leastTable(splits) == nil {
		t.Errorf("%d laps have none", len(splits))
	}
}
