package course

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// fieldPace is offField's, seconds a metre: slower than is usual.
const fieldPace = 0.4

// slower is how much more the stretches from the second split on take.
func slower(split int) float64 {
	if split > 1 {
		return 1.15
	}
	return 1
}

// offField is a field of 150 on a road course, each line's reads moved by what late tells of the
// athlete: its passings and, as a race gives them, its runs by first assignment.
func offField(c *race.Course, late func(i, line int, at float64) float64) (all [][]Passing, runs []Run) {
	rng := rand.New(rand.NewPCG(3, 7))
	for i := range 150 {
		pace, at, from := fieldPace*math.Exp(.17*rng.NormFloat64()), 30*rng.Float64(), 0.0
		var ps []Passing
		for _, s := range c.Splits {
			at += (s.At - from) * pace * slower(s.Line) * math.Exp(.05*rng.NormFloat64())
			from = s.At
			p := seen(s.Line, at+late(i, s.Line, at))
			if late(i, s.Line, at) == 0 { // the line that is off was read best
				p.Systems, p.Full = 1, .3
			}
			ps = append(ps, p)
		}
		slicesByTime(ps)
		all = append(all, ps)
	}
	for _, ps := range all {
		a := Assign(c, ps, gunAt0(), nil)
		x := Run{Gun: 0, Times: make([]race.Instant, len(c.Splits)), Seen: make([][2]race.Instant, len(c.Splits))}
		for s := range c.Splits {
			x.Times[s], x.Seen[s] = race.NoInstant, [2]race.Instant{race.NoInstant, race.NoInstant}
			for k, p := range ps {
				if a.Split[k] == s {
					x.Times[s] = p.At
				}
				if p.Line == c.Splits[s].Line {
					x.Seen[s] = [2]race.Instant{p.At, p.At}
				}
			}
		}
		runs = append(runs, x)
	}
	return all, runs
}

func slicesByTime(ps []Passing) {
	for i := 1; i < len(ps); i++ {
		for j := i; j > 0 && ps[j].At < ps[j-1].At; j-- {
			ps[j], ps[j-1] = ps[j-1], ps[j]
		}
	}
}

// A line whose clock is so wrong that the field came there in an impossible order loses its own
// passings, and costs nobody those of another line.
func TestAClockThatBreaksTheOrderCostsNoOtherLine(t *testing.T) {
	three := splits("run", [2]float64{0, 0}, [2]float64{1, 5000}, [2]float64{2, 10000})
	four := splits("run", [2]float64{0, 0}, [2]float64{1, 3000}, [2]float64{2, 7000}, [2]float64{3, 10000})
	for _, w := range []struct {
		name string
		c    *race.Course
		line int
		by   float64
	}{
		{"5k a day late", three, 1, 86400}, {"5k an hour late", three, 1, 3600}, {"7k twenty minutes late", four, 2, 1200},
		{"7k two hours late", four, 2, 7200}, {"3k half an hour late", four, 1, 1800}, {"finish an hour early", four, 3, -3600},
		{"start two hours late", four, 0, 7200}, {"3k an hour early", four, 1, -3600},
	} {
		all, runs := offField(w.c, func(_, line int, _ float64) float64 {
			if line == w.line {
				return w.by
			}
			return 0
		})
		f := Learn(w.c, runs)
		for s := range w.c.Splits {
			if f.off(s) != (s == w.line) {
				t.Errorf("%s: split %d is off: %t", w.name, s, f.off(s))
			}
		}
		for s := 1; s < len(w.c.Splits); s++ {
			if d := f.Factor[s] + f.Pace - math.Log(fieldPace*slower(s)); math.Abs(d) > .125 && (s != w.line || s < len(w.c.Splits)-1) {
				t.Errorf("%s: the stretch to split %d is learnt %.2f off", w.name, s, d)
			}
		}
		lost, disorder := 0, 0
		for _, ps := range all {
			a := Assign(w.c, ps, gunAt0(), &f)
			for k, p := range ps {
				if p.Line != w.line && p.At >= -2000 && a.Split[k] != p.Line {
					lost++
				}
			}
			if a.OutOfOrder {
				disorder++
			}
		}
		if lost+disorder > 0 {
			t.Errorf("%s: %d passings at other lines lost, %d athletes out of order", w.name, lost, disorder)
		}
	}
}

// What isn't one clock that was wrong all day leaves every line its passings.
func TestWhatIsNoWrongClockLeavesTheLines(t *testing.T) {
	four := splits("run", [2]float64{0, 0}, [2]float64{1, 3000}, [2]float64{2, 7000}, [2]float64{3, 10000})
	far := splits("run", [2]float64{0, 0}, [2]float64{1, 3000}, [2]float64{2, 7000}, [2]float64{3, 10000})
	for _, w := range []struct {
		name string
		c    *race.Course
		late func(i, line int, at float64) float64
	}{
		{"nothing", four, func(int, int, float64) float64 { return 0 }},
		{"a clock that jumped", four, func(_, line int, at float64) float64 {
			if line == 2 && at > 3100 {
				return -3600
			}
			return 0
		}},
		{"a third sent the other way round", four, func(i, line int, at float64) float64 {
			switch {
			case i%3 == 0 && line == 1:
				return at
			case i%3 == 0 && line == 2:
				return -at / 2
			}
			return 0
		}},
		{"four who wear others' chips", four, func(i, line int, _ float64) float64 {
			if i < 4 && line == 1 {
				return 2400
			}
			return 0
		}},
		{"a hill, and six who wear others' chips", four, func(i, line int, at float64) float64 {
			switch {
			case line == 2:
				return -at / 9
			case i < 6 && line == 1:
				return 2400
			}
			return 0
		}},
		{"a distance told wrong", far, func(int, int, float64) float64 { return 0 }},
	} {
		_, runs := offField(w.c, w.late)
		if w.c == far {
			far.Splits[3].At = 21000
		}
		if f := Learn(w.c, runs); f.Off != nil {
			t.Errorf("%s: %v", w.name, f.Off)
		}
	}
}
