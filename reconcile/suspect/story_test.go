package suspect

import (
	"math"
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
