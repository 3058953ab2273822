package course

import (
	"math"
	"testing"

	"twinmat/reconcile/race"
)

// changes is a field of 120 that swims, rides and runs: the zone of changes has one line, crossed
// coming in and going out, which one in ten misses, one way or the other. Whose crossings tell their
// side, backup tells those coming in about a second later than main, those going out as much sooner.
func changes(seed uint64, told bool) (all []made, c *race.Course) {
	c = splits("swim", [2]float64{0, 0}, [2]float64{1, 750}, [2]float64{1, 950}, [2]float64{1, 20950}, [2]float64{1, 21150}, [2]float64{2, 26150})
	for k, sport := range []string{"swim", "swim", "change", "bike", "change", "run"} {
		c.Splits[k].Sport = sport
	}
	m := newMaker(seed, c, 0, 0)
	speed := map[string]float64{"swim": 1, "bike": 8.5, "run": 3.4}
	for range 120 {
		a := made{a: gunAt0()}
		own, t := math.Exp(m.normal(0, .13)), m.between(1, 14)
		lost := -1
		if m.chance(.1) {
			lost = 1 + m.rng.IntN(4)
		}
		for k, s := range c.Splits {
			switch {
			case s.Sport == "change":
				t += math.Max(25, 95*math.Exp(m.normal(0, .4)))
			case k > 0:
				t += (s.At - c.Splits[k-1].At) / speed[s.Sport] * own * math.Exp(m.normal(0, .07))
			}
			if k == lost {
				continue
			}
			p := m.sees(s.Line, t)
			p.Side = race.NoMillis
			if told && s.Line == 1 && p.Systems > 1 {
				way := 1.0
				if s.Sport == "change" {
					way = -1
				}
				p.Side = race.Millis(math.Round(1000 * m.normal(way, .4)))
			}
			a.seen = append(a.seen, crossing{Passing: p, split: k})
		}
		m.add(a)
	}
	return m.all, c
}

// learnt assigns a field with nothing known and learns from it.
func learnt(c *race.Course, all []made, first func(p *Passing)) Field {
	var runs []Run
	for i := range all {
		ps := all[i].passings()
		for k := range ps {
			first(&ps[k])
		}
		got := Assign(c, ps, all[i].a, nil)
		r := Run{Bib: all[i].a.Bib, Start: race.NoInstant, Times: make([]race.Instant, len(c.Splits)), Sides: make([]race.Millis, len(c.Splits))}
		for s := range r.Times {
			r.Times[s], r.Sides[s] = race.NoInstant, race.NoMillis
		}
		for k, s := range got.Split {
			if s >= 0 {
				r.Times[s], r.Sides[s] = ps[k].At, ps[k].Side
			}
		}
		runs = append(runs, r)
	}
	return Learn(c, runs)
}

// Which way a line was crossed is told by the order in which its antennas were reached.
func TestTheOrderOfAntennasTellsTheWay(t *testing.T) {
	wrong := func(told bool) (wrong, lost int) {
		for seed := range uint64(10) {
			all, c := changes(seed, told)
			f := learnt(c, all, func(*Passing) {})
			for i := range all {
				got := Assign(c, all[i].passings(), all[i].a, &f)
				wrong += min(1, judge(&all[i], &got).wrong)
				lost += min(1, len(c.Splits)-len(all[i].seen))
			}
		}
		return wrong, lost
	}
	blind, lost := wrong(false)
	seeing, _ := wrong(true)
	if blind < lost/4 || seeing > lost/8 {
		t.Errorf("of %d who lack a crossing, and 1200 in all, %d are wrong by their times alone, %d with the order of the antennas", lost, blind, seeing)
	}
}

// Where a system alone reads, and each crossing but a few times, that is what is usual there; before that
// is known few reads are no reason to leave a crossing out, or the field learns that many are missed.
func TestFewReadsAreNoMissesToLearn(t *testing.T) {
	for seed := range uint64(4) {
		all, c := changes(seed, false)
		f := learnt(c, all, func(p *Passing) { p.Systems, p.Full = 1, .2 })
		for s := range c.Splits {
			if f.Miss[s] > .1 {
				t.Errorf("seed %d: the field tells that %.0f in a hundred miss split %d, of whom two or three do", seed, 100*f.Miss[s], s)
			}
		}
	}
}
