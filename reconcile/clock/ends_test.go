package clock

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// finishers are the bursts of a field that comes in once, a few every minute, main's clock
// less backup's being off, and further by a step from one of them on.
func finishers(n, from int, off, step race.Millis, seed uint64) (main, other [][]race.Instant) {
	d := rand.New(rand.NewPCG(seed, 31))
	at := zero
	for i := range n {
		at += race.Instant(5000 + 40_000*d.Float64())
		by := off + race.Millis(600+150*d.NormFloat64())
		if i >= from {
			by += step
		}
		main, other = append(main, []race.Instant{at}), append(other, []race.Instant{at.Add(by)})
	}
	return main, other
}

// Three crossings are enough to show that a clock was set beside the first or the last of a
// field, if nobody's agree with what held before; a fit goes on from there.
func TestAClockSetBesideAFewCrossings(t *testing.T) {
	for _, step := range []race.Millis{-3600_000, -35_000, 8000, 35_000, 86400_000} {
		for _, few := range []int{2, 3, 5, 7} {
			for _, from := range []int{60 - few, few} {
				main, other := finishers(60, from, 4000, step, uint64(few))
				v := CoarseVote(main, other)
				if want := 1 + min(1, few/3); !v.OK || len(v.Turns) != want {
					t.Errorf("step of %d ms before crossing %d of 60: %d turns, want %d; %+v", step, from, len(v.Turns), want, v)
					continue
				}
				if few < 3 {
					continue
				}
				var ps []Pair
				for i := range main {
					ps = append(ps, Pair{Main: main[i][0], Other: other[i][0], U: 0.3, Tag: i})
				}
				m := Fit(ps, Config{Coarse: v.Offset, Turned: v.Few()})
				if got := m.Steps(); len(got) != 1 || math.Abs(got[0].SizeS-step.Seconds()) > 0.5 || got[0].Ruled {
					t.Errorf("step of %d ms before crossing %d of 60: fitted %+v", step, from, got)
				}
			}
		}
	}
}

// Seven crossings after a clock was set outvote one that agrees with what held before by chance;
// three don't, nor do they where three others agree with nothing.
func TestWhoSpeaksAgainstAClockThatWasSet(t *testing.T) {
	for _, c := range []struct{ few, against, odd, turns int }{{7, 1, 0, 2}, {7, 2, 0, 1}, {3, 1, 0, 1}, {3, 0, 1, 2}, {3, 0, 3, 1}} {
		main, other := finishers(60, 60-c.few-c.against-c.odd, 4000, 35_000, 9)
		for i := range c.against {
			other[59-i][0] = main[59-i][0].Add(4600)
		}
		for i := range c.odd {
			k := 59 - c.against - i
			other[k][0] = other[k][0].Add(race.Millis(20_000 * (i + 1)))
		}
		if v := CoarseVote(main, other); !v.OK || len(v.Turns) != c.turns {
			t.Errorf("%+v: %+v", c, v)
		}
	}
}

// Coincidences elsewhere in the race don't speak against a clock that was set beside its end.
func TestCoincidencesElsewhereLeaveAnEndAlone(t *testing.T) {
	main, other := finishers(60, 51, 4000, 35_000, 9)
	for i := range 4 {
		other[10*i] = append(other[10*i], main[10*i][0].Add(200_000))
	}
	if v := CoarseVote(main, other); !v.OK || len(v.Turns) != 2 || v.RunnerUp != 4 {
		t.Errorf("%+v", v)
	}
}

// What looks like a clock that was set and is none.
func TestAFewCrossingsThatTurnNoVote(t *testing.T) {
	oneTurn := func(what string, main, other [][]race.Instant) {
		t.Helper()
		if v := CoarseVote(main, other); !v.OK || len(v.Turns) != 1 {
			t.Errorf("%s: %+v", what, v)
		}
	}
	for seed := range uint64(20) {
		d := rand.New(rand.NewPCG(seed, 32))
		main, other := finishers(60, 60, 4000, 0, seed)
		for i := 54; i < 60; i++ { // backup missed them, and read them walking about later
			other[i][0] = other[i][0].Add(race.Millis(15_000 + d.IntN(300_000)))
		}
		oneTurn("lingering", main, other)

		main, other = finishers(60, 60, 4000, 0, seed)
		for i := 56; i < 60; i++ { // three metres at a crawl
			other[i][0] = other[i][0].Add(5000)
		}
		oneTurn("walkers", main, other)

		// A bunch that ends in a sprint which backup missed: each rider's last crossing and
		// the one before are the same time apart, and as long as no lap before.
		main, other = nil, nil
		for i := range 6 + 6*int(seed%2) {
			var a, b []race.Instant
			at := zero + race.Instant(i*150)
			for lap := range 8 {
				a = append(a, at)
				if lap < 7 {
					b = append(b, at.Add(4600))
				}
				at += race.Instant(90_000 + 3000*lap)
			}
			main, other = append(main, a), append(other, b)
		}
		oneTurn("bunch", main, other)
	}
}

// Of somebody who was read all day only some bursts are asked; those left out may be the
// partners of the others.
func TestThinnedBurstsTellOfNoEnd(t *testing.T) {
	main, other := finishers(60, 60, 4000, 0, 1)
	for i := range 3 {
		var a, b []race.Instant
		for k := range perTag + 30 {
			at := main[59][0] + race.Instant(60_000*k+1100*k*k+i*100)
			a = append(a, at)
			if k%2 == 1 {
				b = append(b, at.Add(4600))
			}
		}
		main, other = append(main, a), append(other, b)
	}
	if v := CoarseVote(main, other); !v.OK || len(v.Turns) != 1 {
		t.Errorf("%+v", v)
	}
}
