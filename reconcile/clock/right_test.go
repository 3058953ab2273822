package clock

import (
	"math"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Where a clock was set by an hour and set right again, with few crossings after that, the stretch
// between has its own offset: a crossing beside its end that is told by the old one draws it nowhere.
func TestTheStretchOfAClockThatWasSetRightHasItsOffset(t *testing.T) {
	for seed := range uint64(20) {
		w := reference()
		w.hours, w.pairs, w.step, w.gross = 1.6, 220, 0, 0
		ps := w.draw(seed)
		slices.SortFunc(ps, func(a, b Pair) int { return int(a.Main - b.Main) })
		const set, right, odd = 156, 207, 206
		for i := set; i < right; i++ {
			if i != odd {
				ps[i].Other = ps[i].Other.Add(-3600_000)
			}
		}
		var main, other [][]race.Instant
		for _, p := range ps {
			main, other = append(main, []race.Instant{p.Main}), append(other, []race.Instant{p.Other})
		}
		v := CoarseVote(main, other)
		if !v.OK || len(v.Turns) != 3 {
			t.Errorf("seed %d: vote %+v", seed, v)
			continue
		}
		st := Fit(ps, Config{Coarse: v.Offset, Turned: v.Few()}).Stretches()
		if len(st) != 3 {
			t.Errorf("seed %d: %d stretches", seed, len(st))
			continue
		}
		if d := st[1].OffsetS - st[0].OffsetS + 3600; math.Abs(d) > 0.5 {
			t.Errorf("seed %d: between, the clock is %.3f s off", seed, d)
		}
	}
}
