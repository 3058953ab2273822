package course

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"twinmat/reconcile/race"
)

// pitting is a field of karts on laps of 47 s, even to a hundredth: each stops five times for so many
// laps more, and one in three has a lap that no system read. last is each one's last lap.
func pitting(seed uint64, least, most float64) (c *race.Course, fields [][]Passing, last, missed []int) {
	d := rand.New(rand.NewPCG(seed, 52))
	c = &race.Course{Sport: "kart", Open: true, LapLength: 800, Splits: []race.Split{{ID: "lap-1", At: 800, Sport: "kart", Lap: 1}}}
	for k := range 36 {
		own, at, laps, miss := 47*(1+.01*d.NormFloat64()), 0.0, 0, -1
		var ps []Passing
		if k%3 == 0 {
			miss = 40 + d.IntN(20)
		}
		for lap := range 120 {
			at += own * (1 + .008*d.NormFloat64())
			if lap%24 == 10+k%7 {
				at += own * (least + (most-least)*d.Float64())
			}
			if laps++; lap != miss || lap%24 == 10+k%7 || (lap-1)%24 == 10+k%7 {
				ps = append(ps, seen(0, at))
			} else {
				missed = append(missed, k)
			}
		}
		fields, last = append(fields, ps), append(last, laps)
	}
	return c, fields, last, missed
}

// sitting is a field that runs laps of some twelve minutes, slower by a third at the end. Of a dozen laps
// one has a little stop in it, and one of twenty a rest of so much of a lap; one in a hundred was read by
// no system.
func sitting(seed uint64, least, most float64) (c *race.Course, fields [][]Passing, last, missed []int, rests int) {
	d := rand.New(rand.NewPCG(seed, 53))
	c = &race.Course{Sport: "run", Open: true, LapLength: 2000, Splits: []race.Split{{ID: "lap-1", At: 2000, Sport: "run", Lap: 1}}}
	for range 40 {
		own, at, miss := 720*(1+.1*d.NormFloat64()), 0.0, 0
		var ps []Passing
		for lap := range 60 {
			now := own * (1 + float64(lap)/180 + .035*d.NormFloat64())
			switch x := d.Float64(); {
			case x < .08:
				now *= 1.04 + .26*d.Float64()
			case x < .13:
				now *= 1 + least + (most-least)*d.Float64()
				rests++
			}
			if at += now; lap < 59 && d.Float64() < .01 {
				miss++
				continue
			}
			ps = append(ps, seen(0, at))
		}
		fields, last, missed = append(fields, ps), append(last, 60), append(missed, miss)
	}
	return c, fields, last, missed, rests
}

// Nobody is much faster than just before and after: who took less than two of the laps about it rested,
// and who took two of them, in a field that is seldom so slow, was missed.
func TestARestOfLessThanALapIsNoMissedLap(t *testing.T) {
	wrong, rests, told, of := 0, 0, 0, 0
	for seed := range uint64(4) {
		c, fields, last, missed, more := sitting(seed, .55, .85)
		f := learntAtFirst(c, fields)
		rests += more
		for k, ps := range fields {
			end := 0
			for _, s := range Assign(c, ps, bibOf(k), &f).Split {
				end = max(end, s+1)
			}
			wrong += max(0, end-last[k])
			of += missed[k]
			told += min(missed[k], max(0, end-len(ps)))
		}
	}
	t.Logf("%d of %d rests told as missed laps, %d of %d missed laps told", wrong, rests, told, of)
	if 12*wrong > rests {
		t.Errorf("%d of %d rests told as missed laps", wrong, rests)
	}
	if 10*told < 8*of {
		t.Errorf("%d of %d missed laps told", told, of)
	}
}

// bibOf is what is known of the k-th beside their passings.
func bibOf(k int) Anchor {
	a := gunAt0()
	a.Bib = strconv.Itoa(k)
	return a
}

// learntAtFirst is what a field's first assignments teach, every lap read by both systems but one of each.
func learntAtFirst(c *race.Course, fields [][]Passing) Field {
	runs := make([]Run, len(fields))
	for k, ps := range fields {
		x := Run{Bib: strconv.Itoa(k), Gun: gunAt0().Gun, Start: race.NoInstant, Saw: [3]int{1, 1, len(ps) - 2}}
		a := Assign(c, ps, bibOf(k), nil)
		x.Times = make([]race.Instant, len(a.Splits))
		for s := range x.Times {
			x.Times[s] = race.NoInstant
		}
		for i, s := range a.Split {
			if x.Laps = append(x.Laps, Crossing{At: ps[i].At}); s >= 0 {
				x.Times[s] = ps[i].At
			}
		}
		runs[k] = x
	}
	return Learn(c, runs)
}

// How even a field's laps are tells stops about a lap or two long, in the pits, from laps that were
// missed; those still are told as such.
func TestAStopInThePitsIsNoMissedLap(t *testing.T) {
	for _, pit := range [][2]float64{{.55, 1.35}, {1.6, 2.4}} {
		stops, wrong, told, of := 0, 0, 0, 0
		for seed := range uint64(4) {
			c, fields, last, missed := pitting(seed, pit[0], pit[1])
			f := learntAtFirst(c, fields)
			lacks := map[int]bool{}
			for _, k := range missed {
				lacks[k] = true
			}
			for k, ps := range fields {
				end := 0
				for _, s := range Assign(c, ps, bibOf(k), &f).Split {
					end = max(end, s+1)
				}
				stops += 5
				wrong += max(0, end-last[k])
				if lacks[k] {
					of++
					told += max(0, min(1, end-len(ps)))
				}
			}
		}
		t.Logf("stops of %.2f to %.2f laps: %d of %d told as missed laps, %d of %d missed laps told", pit[0], pit[1], wrong, stops, told, of)
		if 10*wrong > stops { // a few end on whole laps
			t.Errorf("%d of %d stops of %.2f to %.2f laps told as missed laps", wrong, stops, pit[0], pit[1])
		}
		if 10*told < 8*of {
			t.Errorf("%d of %d missed laps told", told, of)
		}
	}
}
