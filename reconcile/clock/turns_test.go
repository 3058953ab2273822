package clock

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// ridden are the bursts of a field that rides so many laps, each about as long, both systems missing
// some; backup's clock is set by a step half-way, or after another part of the race.
type ridden struct {
	tags, laps  int
	lap, even   float64 // ms, and how far one is off another
	own         float64 // how far a rider's usual lap is off another's
	noise, miss float64
	step        race.Millis
	part        float64 // 0: half
	right       float64 // of the race, after which backup is right again; 0: never
}

func (w ridden) draw(seed uint64) (main, other [][]race.Instant) {
	rng := rand.New(rand.NewPCG(seed, 17))
	turn := w.lap * float64(w.laps) * cmp.Or(w.part, 0.5)
	together := make([]float64, w.laps) // what the bunch does
	for k := range together {
		together[k] = w.lap + w.even*rng.NormFloat64()
	}
	for k := range w.tags {
		var a, b []race.Instant
		at, off := 300*float64(k), w.own*rng.NormFloat64()
		for lap := range w.laps {
			at += together[lap] + off + 500*rng.NormFloat64()
			o := race.Instant(at + 1500 + w.noise*rng.NormFloat64())
			if at > turn && (w.right == 0 || at < w.right*w.lap*float64(w.laps)) {
				o = o.Add(w.step)
			}
			if rng.Float64() > w.miss {
				a = append(a, race.Instant(at))
			}
			if rng.Float64() > w.miss {
				b = append(b, o)
			}
		}
		main, other = append(main, a), append(other, b)
	}
	return main, other
}

func (w ridden) check(t *testing.T, seed uint64) {
	t.Helper()
	v := CoarseVote(w.draw(seed))
	if !v.OK || v.Fold != nil || len(v.Turns) != 2 || abs(v.Turns[0].Offset-1500) > 400 || abs(v.Turns[1].Offset-1500-w.step) > 400 {
		t.Errorf("seed %d, %d laps, step %v: ok %v, %d votes against %d, fold %v, turns %+v", seed, w.laps, w.step, v.OK, v.Votes, v.RunnerUp, v.Fold, v.Turns)
	}
}

// Who rides more laps than vote is asked of the same ones in both logs, whatever each missed.
func TestAClockSetInARaceOfMoreLapsThanVote(t *testing.T) {
	for seed := range uint64(6) {
		w := ridden{tags: 40, laps: 120 + 10*int(seed), lap: 170_000, even: 5000, own: 30_000, noise: 250, miss: .04, step: -3600_000}
		w.check(t, seed)
		w.step = 40_000
		w.check(t, seed)
	}
}

// Of a bunch a wrong lap's differences pile up, too: they may contest the fewer votes of a clock after it
// was set, if not those of before. In finer bins both are clear.
func TestAClockSetLateInARaceOfABunch(t *testing.T) {
	for seed := range uint64(10) {
		w := ridden{tags: 100, laps: 30, lap: 117_000, even: 6000, noise: 60, miss: .3, step: 130_000, part: .7}
		w.check(t, seed)
	}
}

// A reader that starts anew with a wrong clock is mostly set right again: what held before holds
// after, and neither side takes the time between for its own.
func TestAClockThatIsSetRightAgainIsThreeTurns(t *testing.T) {
	for seed := range uint64(10) {
		for _, step := range []race.Millis{-582_700, 400_000, 3600_000} {
			w := ridden{tags: 30, laps: 8, lap: 460_000, even: 9000, own: 50_000, noise: 100, miss: .04, step: step, part: .4, right: .7}
			v := CoarseVote(w.draw(seed))
			ok := v.OK && v.Fold == nil && len(v.Turns) == 3
			for i := 0; ok && i < 3; i++ {
				off := race.Millis(1500)
				if i == 1 {
					off += step
				}
				ok = abs(v.Turns[i].Offset-off) < 400
			}
			if !ok {
				t.Errorf("seed %d, step %v: ok %v, %d votes against %d, fold %v, turns %+v", seed, step, v.OK, v.Votes, v.RunnerUp, v.Fold, v.Turns)
			}
		}
	}
}

// If it was main that started anew, backup read on while main was silent: no time of main's between is
// what it was, and they tell no turns.
func TestAMainThatIsSetRightAgainTellsNoTurns(t *testing.T) {
	for seed := range uint64(10) {
		w := ridden{tags: 28, laps: 20, lap: 41_000, even: 900, own: 1500, noise: 30, miss: .02}
		main, other := w.draw(seed)
		const silent, set, right = 190_000, 249_000, 430_000
		for k := range main {
			main[k] = slices.DeleteFunc(main[k], func(t race.Instant) bool { return t > silent && t < set })
			for i, t := range main[k] {
				if t >= set && t < right {
					main[k][i] = t.Add(-56_400)
				}
			}
			slices.Sort(main[k])
		}
		if v := CoarseVote(main, other); len(v.Turns) != 1 || abs(v.Turns[0].Offset-1500) > 400 {
			t.Errorf("seed %d: ok %v, %d votes against %d, fold %v, turns %+v", seed, v.OK, v.Votes, v.RunnerUp, v.Fold, v.Turns)
		}
	}
}

// What main told while it had no clock, after it started anew, is no turn: the crossings of then are
// backup's to tell. Were they joined, each would lie in a year before the race.
func TestWhatMainToldWithoutAClockIsNoTurn(t *testing.T) {
	for seed := range uint64(10) {
		w := ridden{tags: 28, laps: 6, lap: 460_000, even: 9000, own: 50_000, noise: 100, miss: .04}
		main, other := w.draw(seed)
		const years = 56 * 365 * 86400_000
		few := 0
		for k := range main {
			for i, t := range main[k] {
				if t > 1_300_000 && t < 1_700_000 {
					main[k][i] = t.Add(-years)
					few++
				}
			}
			slices.Sort(main[k])
		}
		if v := CoarseVote(main, other); !v.OK || len(v.Turns) != 1 || v.Fold != nil || few < 10 {
			t.Errorf("seed %d: ok %v, %d votes against %d, %d without a clock, fold %v, turns %+v", seed, v.OK, v.Votes, v.RunnerUp, few, v.Fold, v.Turns)
		}
	}
}

// A backup that was set by an hour is no main that was set, though a lap beside that hour would mix
// up who came first.
func TestASetClockAmongLapsOfABunchIsNoFold(t *testing.T) {
	for seed := range uint64(6) {
		w := ridden{tags: 60, laps: 40, lap: 129_000, even: 3500, noise: 200, miss: .06, step: 3600_000}
		w.check(t, seed)
		w.step = -3600_000
		w.check(t, seed)
	}
}

// Nor is one that was set back by nearly as long as nobody comes between two laps: by main somebody is late
// then, as at every lap.
func TestASetClockBetweenLapsOfABunchIsNoFold(t *testing.T) {
	for seed := range uint64(6) {
		w := ridden{tags: 60, laps: 30, lap: 117_000, even: 300, noise: 60, miss: .05, step: -70_000 - race.Millis(4000*seed), part: .48}
		w.check(t, seed)
	}
}

// A few who stay at the line while a clock is set are heard by either system now and then: whatever
// their bursts agree on by chance is no main that was set.
func TestAFewWhoStayAtTheLineMakeNoFold(t *testing.T) {
	const set = 1_650_000
	for seed := range uint64(80) {
		rng := rand.New(rand.NewPCG(seed, 23))
		told := func(at race.Instant) race.Instant {
			o := at.Add(race.Millis(-5000 + rng.IntN(100)))
			if at > set {
				o = o.Add(3600_000)
			}
			return o
		}
		var main, other [][]race.Instant
		for k := range 60 {
			at := race.Instant(600_000 + 12_000*k + rng.IntN(9000))
			a, b := []race.Instant{at}, []race.Instant{told(at)}
			at = at.Add(race.Millis(540_000 + rng.IntN(60_000)))
			a, b = append(a, at), append(b, told(at))
			for n := 0; k > 30 && k < 40 && k%2 == 0 && n < 30; n++ {
				a, b = append(a, at.Add(race.Millis(8000+rng.IntN(300_000)))), append(b, told(at.Add(race.Millis(8000+rng.IntN(300_000)))))
			}
			slices.Sort(a)
			slices.Sort(b)
			main, other = append(main, a), append(other, b)
		}
		if v := CoarseVote(main, other); !v.OK || v.Fold != nil || len(v.Turns) != 2 {
			t.Errorf("seed %d: ok %v, fold %v, turns %v", seed, v.OK, v.Fold, v.Turns)
		}
	}
}

// A box of returned chips, carried over the line once all are in, makes a pile of its own some seconds
// beside the offset: the antennas stand that far apart for who walks. It contests no turn.
func TestABoxOfChipsContestsNoTurn(t *testing.T) {
	for seed := range uint64(10) {
		rng := rand.New(rand.NewPCG(seed, 31))
		var main, other [][]race.Instant
		for k := range 200 {
			start := race.Instant(180_000 * rng.Float64())
			finish := start.Add(3600_000 + race.Millis(2400_000*rng.Float64()))
			a, b := []race.Instant{start, finish}, []race.Instant{start.Add(1700 + race.Millis(200*rng.NormFloat64()))}
			by := race.Millis(-800 + 150*rng.NormFloat64())
			if finish > 4500_000 {
				by += 45_000
			}
			b = append(b, finish.Add(by))
			switch {
			case k < 12: // the box
				at := race.Instant(7200_000 + 300*k)
				a, b = append(a, at), append(b, at.Add(45_000+2600+race.Millis(150*rng.NormFloat64())))
			case k < 17: // who came late, beside a pile of gross ones
				a, b = append(a, start.Add(200_000)), append(b, start.Add(200_000+9_000))
			}
			main, other = append(main, a), append(other, b)
		}
		v := CoarseVote(main, other)
		if !v.OK || len(v.Turns) != 2 || abs(v.Turns[0].Offset-1700) > 500 || abs(v.Turns[1].Offset-44_200) > 500 {
			t.Errorf("seed %d: ok %v (%s), %d votes against %d, turns %+v", seed, v.OK, v.Why, v.Votes, v.RunnerUp, v.Turns)
		}
	}
}

// In a field of thirty, one crosses while the clock is set: backup's reads of that are two bursts, one of each
// offset, and its moment is the last of the one and the first of the other.
func TestWhoCrossesWhileTheClockIsSetIsOfBothTurns(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 53))
		var main, other [][]race.Instant
		at := race.Instant(1800_000)
		for k := range 30 {
			at = at.Add(race.Millis(5_000 + 60_000*rng.Float64()))
			off := race.Millis(17_000 + 250*rng.NormFloat64())
			b := []race.Instant{at.Add(off)}
			switch {
			case k == 14:
				b = append(b, at.Add(off+61_000))
			case k > 14:
				b[0] = b[0].Add(61_000)
			}
			main, other = append(main, []race.Instant{at}), append(other, b)
		}
		v := CoarseVote(main, other)
		if !v.OK || len(v.Turns) != 2 || abs(v.Turns[0].Offset-17_000) > 400 || abs(v.Turns[1].Offset-78_000) > 400 {
			t.Errorf("seed %d: ok %v (%s), %d votes against %d, turns %+v", seed, v.OK, v.Why, v.Votes, v.RunnerUp, v.Turns)
		}
	}
}
