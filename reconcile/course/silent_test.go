package course

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"testing"

	"twinmat/reconcile/race"
)

// evenField rides laps of 50 s, each rider but little off their own; in lap number stop all take so
// many laps' time, and nobody is read between two moments.
func evenField(riders, laps, stop int, long float64, from, to race.Instant) (read [][]race.Instant) {
	d := rand.New(rand.NewPCG(uint64(riders), 3))
	for i := range riders {
		own, at := 50_000*(1+.01*d.NormFloat64()), race.Instant(500*i)
		var ts []race.Instant
		for k := range laps {
			lap := own * (1 + .004*d.NormFloat64())
			if k == stop {
				lap *= long
			}
			if at = at.Add(race.Millis(lap)); at < from || at > to {
				ts = append(ts, at)
			}
		}
		read = append(read, ts)
	}
	return read
}

// taught are the runs of a field as an assignment that knows nothing has them, and what they teach.
func taught(c *race.Course, read [][]race.Instant) ([]Run, Field) {
	var runs []Run
	for i, ts := range read {
		x := Run{Bib: strconv.Itoa(i + 1), Start: race.NoInstant, Times: make([]race.Instant, len(c.Splits)), Laps: crossings(ts), Saw: [3]int{0, 0, len(ts)}}
		for s := range x.Times {
			x.Times[s] = race.NoInstant
			if s < len(ts) {
				x.Times[s] = ts[s]
			}
		}
		runs = append(runs, x)
	}
	return runs, Learn(c, runs)
}

// filled are the laps that a rider's crossings fill.
func filled(c *race.Course, ts []race.Instant, bib string, f *Field) []int {
	var ps []Passing
	for _, at := range ts {
		ps = append(ps, Passing{At: at, Systems: 2, Full: 1})
	}
	return Assign(c, ps, Anchor{Bib: bib, Early: 2000, Until: race.NoInstant, FlagAt: race.NoInstant, Windows: []race.Millis{3000}}, f).Split
}

// Both systems hang for as long as the whole field needs to come by: everybody's lap took twice as
// long by what was read, and none of them rode a lap less.
func TestALapThatTheLineMissedOfAllIsNoSlowOne(t *testing.T) {
	for _, riders := range []int{8, 20} {
		for _, hang := range []race.Instant{10_000, 24_000, 60_000} { // of some, of most, and longer than a lap
			c := lapsCourse(18, 1, 1000, "kart")
			read := evenField(riders, 18, -1, 0, 300_000, 300_000+hang)
			_, f := taught(c, read)
			if len(f.Silent) == 0 {
				t.Errorf("%d riders, %v ms: no silence found", riders, hang)
			}
			for i, ts := range read {
				if got := filled(c, ts, strconv.Itoa(i+1), &f); got[len(got)-1] != 17 {
					t.Errorf("%d riders, %v ms: rider %d comes to lap %d of 18: %v", riders, hang, i+1, got[len(got)-1]+1, got)
				}
			}
		}
	}
}

// A race that is stopped for a while has one slow lap, read or not by how much.
func TestAStopOfAllIsASlowLap(t *testing.T) {
	for _, long := range []float64{1.4, 1.5, 2.5} {
		c := lapsCourse(18, 1, 1000, "kart")
		read := evenField(20, 18, 6, long, -1, -1)
		_, f := taught(c, read)
		if len(f.Silent) > 0 {
			t.Errorf("%g laps: silences %v", long, f.Silent)
		}
		for i, ts := range read {
			if got := filled(c, ts, strconv.Itoa(i+1), &f); fmt.Sprint(got) != fmt.Sprint([]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17}) {
				t.Errorf("%g laps: rider %d: %v", long, i+1, got)
			}
		}
	}
}

// A few who weren't read as their bunch was, which doesn't ride every lap alike, make no silence.
func TestAFewMissedOfABunchMakeNoSilence(t *testing.T) {
	c := lapsCourse(12, 1, 2000, "bike")
	var read [][]race.Instant
	for i := range 16 {
		var ts []race.Instant
		for k := range 12 {
			if at := race.Instant(200_000*(k+1) - 8000*(k%2) + 100*i); k != 5 || i%4 != 1 {
				ts = append(ts, at)
			}
		}
		read = append(read, ts)
	}
	if _, f := taught(c, read); len(f.Silent) > 0 {
		t.Errorf("silences %v", f.Silent)
	}
}

// A chip that lies by the line is read now and then, and is due at any moment in between.
func TestAChipThatLiesByTheLineMakesNoSilence(t *testing.T) {
	c := lapsCourse(18, 1, 1000, "kart")
	read := evenField(10, 18, -1, 0, -1, -1)
	var lies []race.Instant
	for at := race.Instant(0); at < 800_000; at += 42_000 {
		for k := range 4 {
			lies = append(lies, at.Add(race.Millis(3000*k)))
		}
	}
	if _, f := taught(c, append(read, lies)); len(f.Silent) > 0 {
		t.Errorf("silences %v", f.Silent)
	}
}

// Nor does it ride with anybody: what it was read at is no lap of a bunch.
func TestAChipThatLiesByTheLineRidesWithNobody(t *testing.T) {
	c, runs := lapsCourse(12, 1, 2000, "bike"), bunchOf(8, 12, nil)
	lies := Run{Bib: "99", Start: race.NoInstant, Times: make([]race.Instant, 12)}
	for k, at := range []race.Instant{30_000, 65_000, 200_300, 290_000, 330_000, 400_100, 520_000, 548_000, 600_500, 730_000, 770_000, 1_000_200} {
		lies.Times[k] = at
		lies.Laps = append(lies.Laps, Crossing{At: at})
	}
	if p := packed(c, append(runs, lies)); len(p.all) != 8*12 {
		t.Errorf("%d crossings, want those of 8 who rode 12 laps", len(p.all))
	}
}
