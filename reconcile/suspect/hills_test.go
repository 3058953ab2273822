package suspect

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// A climb to 10 km and the way down from it make a bend in everybody's times. On skis that is
// a hill; of runners no hill is so steep, and of neither is a clock that is half an hour off.
func TestAHillIsNoWrongClock(t *testing.T) {
	for _, c := range []struct {
		sport string
		late  race.Millis // at 10 km; its 5 km take a middle runner 1,600 s
		off   bool
	}{{"ski", 300_000, false}, {"bike", 300_000, false}, {"run", 300_000, true}, {"run", 100_000, false}, {"ski", 1_300_000, true}} {
		m := makeRace(t, 80)
		m.plan.Courses[0].Splits = slices.Clone(m.plan.Courses[0].Splits)
		for k := range m.plan.Courses[0].Splits {
			m.plan.Courses[0].Splits[k].Sport = c.sport
		}
		for i := range m.st.Results {
			r := m.st.Results[i]
			r.Splits = m.plan.Courses[0].Splits
			r.Passings[2].At = r.Passings[2].At.Add(c.late)
			m.settle(i)
		}
		off := slices.ContainsFunc(m.find(), func(s race.Suspect) bool { return s.Kind == race.LineOff })
		if off != c.off {
			t.Errorf("%s, %v late at 10 km: a line off is told: %t", c.sport, c.late, off)
		}
	}
}
