package course

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"twinmat/reconcile/race"
)

// hiding is a field that runs some 80 laps of eight minutes and sits down now and then, for half a lap to
// two more. One in ten wears a chip that each system misses one time in three.
func hiding(seed uint64) (c *race.Course, fields [][]Passing, hidden []int, rests int) {
	d := rand.New(rand.NewPCG(seed, 61))
	c = &race.Course{Sport: "run", Open: true, LapLength: 1500, Splits: []race.Split{{ID: "lap-1", At: 1500, Sport: "run", Lap: 1}}}
	for k := range 40 {
		own, at, hid, miss := 480*(1+.1*d.NormFloat64()), 0.0, 0, .01
		if k%10 == 0 {
			miss = .33
		}
		var ps []Passing
		for lap := range 80 {
			at += own * (1 + .03*d.NormFloat64())
			if d.Float64() < .03 {
				at += own * (.5 + 1.5*d.Float64())
				if k%10 != 0 {
					rests++
				}
			}
			p := seen(0, at)
			switch main, backup := d.Float64() < miss, d.Float64() < miss; {
			case lap == 79: // what nobody saw at the end nobody counts
			case main && backup:
				hid++
				continue
			case main:
				p.Systems, p.Best = 1, race.Backup
			case backup:
				p.Systems = 1
			}
			ps = append(ps, p)
		}
		fields, hidden = append(fields, ps), append(hidden, hid)
	}
	return c, fields, hidden, rests
}

// A chip that each system misses many times is missed by both as well: its gaps of whole laps are laps,
// where those of others are as likely rests.
func TestAChipThatHidesIsMissedByBoth(t *testing.T) {
	told, of, wrong, rests := 0, 0, 0, 0
	for seed := range uint64(6) {
		c, fields, hidden, more := hiding(seed)
		rests += more
		runs := make([]Run, len(fields))
		anchor := func(k int) Anchor {
			a := gunAt0()
			a.Bib = strconv.Itoa(k)
			return a
		}
		for k, ps := range fields {
			x := Run{Bib: strconv.Itoa(k), Start: race.NoInstant}
			a := Assign(c, ps, anchor(k), nil)
			x.Times = make([]race.Instant, len(a.Splits))
			for s := range x.Times {
				x.Times[s] = race.NoInstant
			}
			for i, s := range a.Split {
				if s < 0 {
					continue
				}
				x.Times[s] = ps[i].At
				switch {
				case ps[i].Systems > 1:
					x.Saw[2]++
				case ps[i].Best == race.Main:
					x.Saw[0]++
				default:
					x.Saw[1]++
				}
			}
			runs[k] = x
		}
		f := Learn(c, runs)
		for k, ps := range fields {
			end := 0
			for _, s := range Assign(c, ps, anchor(k), &f).Split {
				end = max(end, s+1)
			}
			if more := end - len(ps); k%10 == 0 {
				told, of = told+min(more, hidden[k]), of+hidden[k]
			} else {
				wrong += max(0, more-hidden[k])
			}
		}
	}
	t.Logf("%d of %d laps of chips that hide told, %d of %d rests of others told as laps", told, of, wrong, rests)
	if 10*told < 9*of {
		t.Errorf("%d of %d laps told", told, of)
	}
	if 3*wrong > rests {
		t.Errorf("%d of %d rests of those whose chips are good told as laps", wrong, rests)
	}
}
