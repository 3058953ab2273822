package invent

import (
	"math"
	"testing"
)

// plainRoad is a road race in which nothing goes wrong but what antennas miss.
func plainRoad(t *testing.T, rates Rates) *Race {
	t.Helper()
	r, err := Make(Options{Kind: "mass-ride", Seed: 11, Athletes: 1500, Plain: true, Rates: rates})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Backup's time less main's, against the time that a metre takes, has the distance between
// the antennas as its slope: ordinary least squares by hand.
func TestBackupIsAsFarBehindAsItStands(t *testing.T) {
	r, err := Make(Options{Kind: "marathon", Seed: 4, Athletes: 1500, Plain: true})
	if err != nil {
		t.Fatal(err)
	}
	const l = 2
	d := newDice()
	var n, sx, sy, sxx, sxy float64
	for i := range r.visits[l] {
		v := &r.visits[l][i]
		m := centreOf(r.burst(d, v, 2, mainSystem, 0, nil))
		b := centreOf(r.burst(d, v, 2, backupSystem, 0, nil))
		x, y := 1/float64(v.speed), b-m
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	slope := (n*sxy - sx*sy) / (n*sxx - sx*sx)
	if math.Abs(slope-2) > .15 {
		t.Errorf("slope %.3f m over %v passings, want 2 m", slope, n)
	}
}

// centreOf is the mean moment of a burst in seconds.
func centreOf(reads []reading) float64 {
	sum := 0.0
	for _, x := range reads {
		sum += seconds(x.at - reads[0].at)
	}
	return seconds(reads[0].at%(1000*minute)) + sum/float64(len(reads))
}

// A body walking by a passive antenna gives 5 to 30 reads or so, strongest in the middle.
func TestABurstRisesAndFalls(t *testing.T) {
	r, err := Make(Options{Kind: "road", Seed: 4, Plain: true})
	if err != nil {
		t.Fatal(err)
	}
	d := newDice()
	total, inner, outer, ni, no := 0, 0.0, 0.0, 0.0, 0.0
	for i := range r.visits[1] {
		v := &r.visits[1][i]
		reads := r.burst(d, v, 2, mainSystem, 0, nil)
		total += len(reads)
		for k, x := range reads {
			if k > 0 && x.at <= reads[k-1].at {
				t.Fatal("reads out of order")
			}
			metres := math.Abs(seconds(x.at-v.at)) * float64(v.speed)
			switch {
			case metres > 2.8:
				t.Fatalf("read at %.2f m from the antenna", metres)
			case metres < .5:
				inner, ni = inner+float64(x.rssi), ni+1
			case metres > 1.5:
				outer, no = outer+float64(x.rssi), no+1
			}
		}
	}
	if mean := float64(total) / float64(len(r.visits[1])); mean < 12 || mean > 28 {
		t.Errorf("%.1f reads a burst", mean)
	}
	if diff := inner/ni - outer/no; diff < 6 || diff > 16 {
		t.Errorf("%.1f dB stronger over the antenna than at the edge", diff)
	}
}

func TestMissesComeAsOftenAsAskedAndTogether(t *testing.T) {
	for _, want := range []Rates{{Missed: .1, Shielded: -1}, {Missed: .04, Shielded: .03}, {Missed: -1, Shielded: .1}} {
		r := plainRoad(t, want)
		n, lost, both := 0.0, [2]float64{}, 0.0
		for l := range r.visits {
			for _, v := range r.visits[l] {
				n++
				for s := range lost {
					if v.lost[s] != 0 {
						lost[s]++
					}
				}
				if v.lost[0] != 0 && v.lost[1] != 0 {
					both++
				}
			}
		}
		miss, hide := max(0, want.Missed), max(0, want.Shielded)
		for s := range lost {
			if got := lost[s] / n; math.Abs(got-miss-hide) > .015 {
				t.Errorf("%+v: %s misses %.3f of %v", want, systemNames[s], got, n)
			}
		}
		if got := both / n; got < hide-.01 || got < lost[0]/n*lost[1]/n {
			t.Errorf("%+v: both miss %.4f, as if each missed for itself", want, got)
		}
	}
}

func TestAClockShowsItsOffsetItsDriftAndItsJump(t *testing.T) {
	c := clock{zero: 1000 * second, offset: 2.5, ppm: 20, jumps: []jump{{2000 * second, -.75}}}
	for _, x := range []struct{ at, want int64 }{
		{1000 * second, 1002_500_000}, {1500 * second, 1502_510_000}, {2000 * second, 2001_770_000}, {0, 2_480_000},
	} {
		if got := c.shows(x.at); got != x.want {
			t.Errorf("at %d it shows %d, want %d", x.at, got, x.want)
		}
	}
}

// The nights on which Helsinki changes: 25 October 2026 03:59:59 is followed by 03:00:00, and
// 29 March 2026 02:59:59 by 04:00:00 (Directive 2000/84/EC: at 01:00 UTC).
func TestTheDayRaceCrossesTheChangeOfSummerTime(t *testing.T) {
	for seed, hours := range map[uint64]int64{0: 25, 1: 23} {
		r, err := Make(Options{Kind: "day", Seed: seed, Athletes: 10, Plain: true})
		if err != nil {
			t.Fatal(err)
		}
		gun := r.waves[0].gun
		end := r.at(1, 12, 0, 0)
		if got := (end - gun) / (3600 * second); got != hours {
			t.Errorf("seed %d: noon to noon is %d hours, want %d", seed, got, hours)
		}
		last := r.visits[0][len(r.visits[0])-1].at
		if h := seconds(last-gun) / 3600; h < 23 || h > 25 {
			t.Errorf("seed %d: the last crossing is %.2f hours after the gun", seed, h)
		}
	}
}
