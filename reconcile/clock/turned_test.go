package clock

import (
	"math"
	"testing"

	"twinmat/reconcile/race"
)

// A clock that is set in mid-race is found by the vote, and both the vote and the model put
// every crossing that is known about when it was near to where main had it: a clock that
// was set back tells some times twice.
func TestTimesOfAClockSetInMidRaceAreToldApart(t *testing.T) {
	for _, step := range []float64{3600, 90, -12, -90, -3600} {
		w := reference()
		w.hours, w.pairs, w.step, w.gross = 1.6, 400, step, 0
		ps := w.draw(1)
		var main, other [][]race.Instant
		for _, p := range ps {
			main, other = append(main, []race.Instant{p.Main}), append(other, []race.Instant{p.Other})
		}
		v := CoarseVote(main, other)
		if !v.OK || len(v.Turns) != 2 || v.SetBack() != (step < 0) {
			t.Fatalf("step of %g s: vote %+v", step, v)
		}
		m := Fit(ps, Config{})
		if m.SetBack() != (step < 0) {
			t.Errorf("step of %g s: model says set back %v", step, m.SetBack())
		}
		twice := 0
		for _, p := range ps {
			for what, got := range map[string]race.Instant{"vote": v.Lay(p.Other, p.Main), "model": m.RoughNear(p.Other, p.Main)} {
				if math.Abs(float64(got-p.Main)) > 3000 {
					t.Errorf("step of %g s: %s puts a crossing at %d that was at %d", step, what, got, p.Main)
				}
			}
			at, _, unsure := m.RaceNear(p.Other, p.Main, p.Crossing())
			if math.Abs(float64(at-p.Main)) > 1500 {
				t.Errorf("step of %g s: filled at %d what was at %d", step, at, p.Main)
			}
			if unsure != "" {
				twice++
			}
		}
		if step == -90 && (twice < 3 || twice > 30) || step == 3600 && twice > 4 {
			t.Errorf("step of %g s: %d of 400 times can't be told apart", step, twice)
		}
	}
}
