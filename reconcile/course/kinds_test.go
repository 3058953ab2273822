package course

import (
	"math"
	"os"
	"testing"

	"twinmat/reconcile/race"
)

func gunAt0() Anchor {
	return Anchor{Gun: 0, Early: 2000, Until: race.NoInstant, FlagAt: race.NoInstant, Resolution: 200}
}

// lapsCourse is of so many laps, each over so many lines at equal distances.
func lapsCourse(laps, lines int, metres float64, sport string) *race.Course {
	c := &race.Course{Sport: sport, LapLength: metres}
	for n := range laps * lines {
		c.Splits = append(c.Splits, race.Split{Line: n % lines, At: metres * float64(n+1) / float64(lines), Sport: sport, Lap: 1 + n/lines})
	}
	return c
}

// splits makes a course of marks that each stand on a line, at a distance.
func splits(sport string, marks ...[2]float64) *race.Course {
	c := &race.Course{Sport: sport}
	for _, m := range marks {
		c.Splits = append(c.Splits, race.Split{Line: int(m[0]), At: m[1], Sport: sport})
	}
	return c
}

// loops: runners on laps of 5 km over two lines, pace scattered by 8 % a stretch.
func loops(seed uint64, miss, re float64) *maker {
	m := newMaker(seed, lapsCourse(4, 2, 5000, "run"), miss, re)
	for range 100 {
		a := made{a: gunAt0()}
		pace, t := math.Exp(m.normal(-1.06, .2)), m.between(0, 60)
		for k := range m.c.Splits {
			t += 2500 * pace * math.Exp(m.normal(0, .08))
			a.cross(m, k, t)
		}
		m.add(a)
	}
	return m
}

// road: start and finish on one line, eight lines on the way, a start zone that takes up to
// 20 minutes to empty, warm-ups, people who stand by the finish, walkers, people who stop.
func road(seed uint64) *maker {
	marks := [][2]float64{{0, 0}}
	for k := 1; k <= 8; k++ {
		marks = append(marks, [2]float64{float64(k), 5000 * float64(k)})
	}
	m := newMaker(seed, splits("run", append(marks, [2]float64{0, 42195})...), .1, .05)
	for range 100 {
		a := made{a: gunAt0()}
		if m.chance(.2) {
			a.stray(m.sees(0, -m.between(10, 1500)))
		}
		pace, t, fade := math.Exp(m.normal(-1.06, .2)), m.between(2, 1200), m.between(0, .04)
		if t > 200 && m.chance(.1) {
			a.seen = append(a.seen, crossing{Passing: m.sees(0, t-m.between(30, 180)), split: 0, again: true})
		}
		out := len(m.c.Splits)
		if m.chance(.05) {
			out = 1 + m.rng.IntN(out-1)
		}
		for k, s := range m.c.Splits[:out] {
			if k > 0 {
				t += (s.At - m.c.Splits[k-1].At) * pace * math.Exp(m.normal(fade*float64(k), .06))
				if m.chance(.01) {
					t += m.between(300, 1800)
				}
			}
			if k == 0 {
				a.seen = append(a.seen, crossing{Passing: m.sees(0, t), split: 0})
			} else {
				a.cross(m, k, t)
			}
		}
		if out == len(m.c.Splits) && m.chance(.2) {
			for range 1 + m.rng.IntN(3) {
				a.linger(m, 0, out-1, t+m.between(15, 400))
			}
		}
		m.add(a)
	}
	return m
}

// criterium: 80 riders in four bunches over 40 laps of 2.4 km, the bunch within a second at
// the line; the pace of the race moves, two laps are neutral, some are dropped or lapped,
// some stop for a wheel.
func criterium(seed uint64, miss float64) *maker {
	c := lapsCourse(40, 1, 2400, "bike")
	m := newMaker(seed, c, miss, 0)
	tempo := make([]float64, 40)
	for k := range tempo {
		tempo[k] = m.normal(0, .05)
		if k == 20 || k == 21 {
			tempo[k] = .5
		}
	}
	for i := range 80 {
		a := made{a: gunAt0()}
		t, bunch, own := 0.0, i%4, 0.0
		for k := range c.Splits {
			if m.chance(.004) { // dropped for good
				own = m.between(.05, .25)
			}
			lap := 210 * math.Exp(tempo[k]+.04*float64(bunch)+own)
			if own > 0 {
				lap *= math.Exp(m.normal(0, .03))
			}
			t += lap
			if m.chance(.004) { // a wheel, a fall
				t += m.between(20, 150)
				own = math.Max(own, .03)
			}
			a.cross(m, k, t+m.between(0, 1))
		}
		m.add(a)
	}
	// The leader's finish flags the others.
	lead := race.NoInstant
	for _, a := range m.all {
		if n := len(a.seen); n > 0 && a.seen[n-1].split == 39 && (!lead.Known() || a.seen[n-1].At < lead) {
			lead = a.seen[n-1].At
		}
	}
	for i := range m.all {
		a := &m.all[i]
		for k, x := range a.seen {
			if x.At >= lead {
				for n := k + 1; n < len(a.seen); n++ {
					a.seen[n].split = noSplit
				}
				break
			}
		}
		a.a.FlagAt = lead
	}
	return m
}

// rest draws a rest, 15 minutes in the middle, that doesn't make a lap as long as two or three:
// such a gap is missed laps to everybody, and by the contract too.
func (m *maker) rest(lap float64) float64 {
	for {
		rest := math.Exp(m.normal(math.Log(900), .9))
		if n := math.Round(1 + rest/lap); n > 3 || math.Abs(math.Log((lap+rest)/lap/n)) > .15 {
			return rest
		}
	}
}

// rounds: runners for hours on laps of 1.2 km, who slow down, rest, sleep; misses are rare,
// or come with a chip that is covered for some laps.
func rounds(seed uint64, hours float64, miss float64) *maker {
	c := &race.Course{Sport: "run", Open: true, LapLength: 1200, TimeLimit: race.Millis(hours * 3600e3),
		Splits: []race.Split{{ID: "lap-1", Line: 0, At: 1200, Sport: "run", Lap: 1}}}
	m := newMaker(seed, c, miss, .02)
	m.late = 120
	for range int(240 / hours) {
		a := made{a: gunAt0()}
		a.a.Until = race.Instant(hours * 3600e3)
		pace, t, fade := math.Exp(m.normal(-1.0, .15)), 0.0, m.between(0, .35)
		if m.chance(.3) {
			t = m.between(1, 60)
			a.stray(m.sees(0, t)) // off the grid
		}
		for k := 0; t < hours*3600; k++ {
			p := pace * math.Exp(fade*math.Min(1, t/86400*24/hours))
			if m.chance(.04) { // walks a lap
				p *= 1.4
			}
			lap := 1200 * p * math.Exp(m.normal(0, .05))
			t += lap
			if m.chance(.01) { // eats, rests, sleeps
				t += m.rest(lap)
			}
			if t < hours*3600 {
				a.cross(m, k, t)
			} else {
				a.stray(m.sees(0, t))
			}
		}
		for n := range a.seen { // a read again after the limit is no lap either
			if a.seen[n].At > a.a.Until {
				a.seen[n].split = noSplit
			}
		}
		m.add(a)
	}
	return m
}

func corralOf(seed uint64, miss float64) *maker {
	return newMaker(seed, &race.Course{Sport: "run", Open: true, LapLength: 6706, Splits: []race.Split{{ID: "lap-1", At: 6706, Sport: "run", Lap: 1}}}, miss, 0)
}

// corral: a lap of 6.7 km every hour; who leaves at the full hour is often read again.
func corral(seed uint64) *maker {
	m := corralOf(seed, .01)
	m.re = .1
	for range 40 {
		a := made{a: gunAt0()}
		own := m.normal(3000, 150)
		for k := range 2 + m.rng.IntN(30) {
			begin := 3600 * float64(k)
			if m.chance(.5) {
				t := begin + m.between(1, 20)
				if k > 0 {
					a.linger(m, 0, k-1, t)
				} else {
					a.stray(m.sees(0, t))
				}
			}
			lap := math.Min(own*math.Exp(m.normal(.003*float64(k), .05)), 3590)
			a.cross(m, k, begin+lap)
		}
		m.add(a)
	}
	return m
}

// triathlon: lines at swim-out, bike-out, bike-in, run-out and the finish, where run-out's
// antenna hears people at bike-in and bike-out's at swim-out; 51.5 km.
func triathlon(seed uint64) *maker {
	c := splits("run", [2]float64{0, 1500}, [2]float64{1, 1600}, [2]float64{2, 41600}, [2]float64{3, 41700}, [2]float64{4, 51700})
	for i, s := range []string{"swim", "change", "bike", "change", "run"} {
		c.Splits[i].Sport = s
	}
	m := newMaker(seed, c, .05, .03)
	for range 100 {
		a := made{a: gunAt0()}
		level, t := m.normal(0, .15), 0.0
		legs := []float64{1700, 150, 4300, 110, 3000}
		for k := range legs {
			t += legs[k] * math.Exp(level+m.normal(0, .12))
			a.cross(m, k, t)
			if (k == 0 || k == 2) && m.chance(.25) {
				a.stray(m.weak(k+1, t+m.between(-12, 12)))
			}
		}
		m.add(a)
	}
	return m
}

// kart: 20 laps of 1.2 km at 20 m/s, with pit stops.
func kart(seed uint64) *maker {
	c := lapsCourse(20, 1, 1200, "kart")
	m := newMaker(seed, c, .03, 0)
	for range 30 {
		a := made{a: gunAt0()}
		a.a.MaxSpeed = 70
		own, t := math.Exp(m.normal(math.Log(60), .03)), 0.0
		a.stray(m.sees(0, m.between(1, 8)))
		pit := 5 + m.rng.IntN(10)
		for k := range c.Splits {
			t += own * math.Exp(m.normal(0, .01))
			if k == pit {
				t += m.between(20, 40)
			}
			a.cross(m, k, t)
		}
		m.add(a)
	}
	return m
}

// Every kind of race over seeds 0 to 19; long ones over the first four but with COURSE_MEASURE
// set. The first, the second and the criteriums must reach what the tool promises: 0.5 % of
// passings, nobody's laps (0.2 % at 20 % missed), every lap. Beside the others stands about twice what was measured. A rest of a
// whole number of laps can't be told from missed laps by times alone, so hours end wrong for
// some; nearly all of those are called doubtful.
func TestKindsOfRace(t *testing.T) {
	for _, c := range []struct {
		name        string
		make        func(uint64) *maker
		wrong, ends float64 // greatest shares of passings, and of athletes at their last split
		long        bool
	}{
		{"four laps over two lines, 10 % missed, 5 % read again", func(s uint64) *maker { return loops(s, .10, .05) }, .005, 0, false},
		{"four laps over two lines, 20 % missed, 5 % read again", func(s uint64) *maker { return loops(s, .20, .05) }, .005, .002, false},
		{"four laps over two lines, 10 % missed, 15 % read again", func(s uint64) *maker { return loops(s, .10, .15) }, .001, .001, false},
		{"four laps over two lines, 30 % missed, 10 % read again", func(s uint64) *maker { return loops(s, .30, .10) }, .001, .003, false},
		{"marathon on ten splits, 10 % missed, 5 % read again", road, .0005, .001, false},
		{"criterium, nothing missed", func(s uint64) *maker { return criterium(s, 0) }, 0, 0, false},
		{"criterium, 10 % missed", func(s uint64) *maker { return criterium(s, .10) }, 0, 0, true},
		{"criterium, 20 % missed", func(s uint64) *maker { return criterium(s, .20) }, .001, .002, true},
		{"six hours, 1 % missed", func(s uint64) *maker { return rounds(s, 6, .01) }, .08, .16, true},
		{"24 hours, 0.3 % missed", func(s uint64) *maker { return rounds(s, 24, .003) }, .2, .3, true},
		{"a lap every hour", corral, .001, .002, true},
		{"triathlon, 5 % missed, antennas that hear the line beside", triathlon, .005, .001, false},
		{"karts, 3 % missed", kart, .0005, .002, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.long && testing.Short() {
				t.Skip("long")
			}
			n := uint64(20)
			if c.long && os.Getenv("COURSE_MEASURE") == "" {
				n = 4
			}
			s := seeds(0, n, c.make)
			t.Logf("%s; seeds 0 to %d", s, n-1)
			ends := c.ends * float64(s.athletes)
			if c.ends > 0 {
				ends = max(ends, 1) // of a few hundred athletes one may be: no share tells less
			}
			if float64(s.wrong) > c.wrong*float64(s.passings) || float64(s.laps) > ends {
				t.Errorf("too many; for one:%s", s.failed)
			}
		})
	}
}
