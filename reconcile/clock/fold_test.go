package clock

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// setMain sets main's clock by so much from the middle crossing of a field on, another log's
// going on.
func setMain(n int, by race.Millis, seed uint64) (main, other [][]race.Instant, truth []race.Instant) {
	main, other = finishers(n, n, 4000, 0, seed)
	for i := range main {
		truth = append(truth, main[i][0])
		if i >= n/2 {
			main[i][0] = main[i][0].Add(by)
		}
	}
	return main, other, truth
}

// A main that is set back mixes up who came first, and tells some times twice; one that is set on
// leaves some out. The log whose clock went on tells the two apart. Everybody is laid where main's own clock had them.
func TestAMainThatWasSetIsUnfolded(t *testing.T) {
	for _, by := range []race.Millis{-120_000, -450_000, -1800_000, -3600_000, -7200_000, -86400_000, 600_000, 3600_000} {
		for seed := range uint64(5) {
			main, other, _ := setMain(120, by, seed)
			v := CoarseVote(main, other)
			if !v.OK || v.Fold == nil || max(v.Fold.By+by, -v.Fold.By-by) > 200 || len(v.Turns) != 1 {
				t.Errorf("set by %d ms, seed %d: %+v, fold %+v", by, seed, v, v.Fold)
				continue
			}
			var ps []Pair
			for i := range main {
				ps = append(ps, Pair{Main: main[i][0], Other: other[i][0], U: 0.3, Tag: i})
				if got := v.Lay(other[i][0], race.NoInstant); max(got-main[i][0], main[i][0]-got) > 1000 {
					t.Errorf("set by %d ms, seed %d: crossing %d laid %d ms off", by, seed, i, got-main[i][0])
				}
			}
			m := Fit(ps, Config{Coarse: v.Offset, Fold: v.Fold})
			st := m.Steps()
			if len(st) != 1 || st[0].Main == nil || math.Abs(st[0].SizeS+by.Seconds()) > 0.3 || st[0].Before != main[59][0] || st[0].After != main[60][0] {
				t.Errorf("set by %d ms, seed %d: steps %+v", by, seed, st)
			}
			for i, p := range ps {
				if got, _, _ := m.Race(p.Other, p.Crossing()); max(got-p.Main, p.Main-got) > 800 {
					t.Errorf("set by %d ms, seed %d: crossing %d filled %d ms off", by, seed, i, got-p.Main)
				}
			}
		}
	}
}

// A main that was set is told in a great field too, whose steps are looked for among every second
// or third pair.
func TestAMainThatWasSetInAGreatFieldIsTold(t *testing.T) {
	for _, by := range []race.Millis{-3600_000, 600_000} {
		const n = 3 * thinPairs
		main, other, _ := setMain(n, by, 1)
		v := CoarseVote(main, other)
		if v.Fold == nil {
			t.Fatalf("set by %d ms: %+v", by, v)
		}
		var ps []Pair
		for i := range main {
			ps = append(ps, Pair{Main: main[i][0], Other: other[i][0], U: 0.3, Tag: i})
		}
		st := Fit(ps, Config{Coarse: v.Offset, Fold: v.Fold}).Steps()
		if len(st) != 1 || st[0].Main == nil || st[0].Before != main[n/2-1][0] || st[0].After != main[n/2][0] {
			t.Errorf("set by %d ms: steps %+v", by, st)
		}
	}
}

// Where main's order is as good as the other log's, main was not set: another log
// that is set on or back, a few who were read late, laps of one length.
func TestWhereMainsOrderHoldsNothingIsUnfolded(t *testing.T) {
	for seed := range uint64(20) {
		for _, by := range []race.Millis{-3600_000, -450_000, -60_000, 60_000, 450_000, 3600_000} {
			main, other := finishers(120, 60, 4000, by, seed)
			if v := CoarseVote(main, other); v.Fold != nil || len(v.Turns) != 2 {
				t.Errorf("backup set by %d ms: %+v", by, v)
			}
		}
		main, other := laps(40, 6, 3217, seed)
		if v := CoarseVote(main, other); v.Fold != nil {
			t.Errorf("laps: %+v", v)
		}
		d := rand.New(rand.NewPCG(seed, 33))
		main, other = finishers(120, 120, 4000, 0, seed)
		for i := 100; i < 112; i++ { // the bus with the slow ones: backup missed them, and read them together
			other[i][0] = main[i][0].Add(300_000 + race.Millis(d.IntN(800)))
		}
		if v := CoarseVote(main, other); v.Fold != nil {
			t.Errorf("read late: %+v", v)
		}
		main, other = nil, nil // a bunch whose last lap, the shortest, main missed
		for i := range 12 {
			var a, b []race.Instant
			at := zero + race.Instant(i*150)
			for lap := range 3 {
				b = append(b, at.Add(4600))
				if lap < 2 {
					a = append(a, at)
				}
				at += race.Instant(90_000 - 3000*lap)
			}
			main, other = append(main, a), append(other, b)
		}
		if v := CoarseVote(main, other); v.Fold != nil || len(v.Turns) != 1 {
			t.Errorf("bunch: %+v", v)
		}
	}
}
