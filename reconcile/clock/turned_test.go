package clock

import (
	"math"
	"math/rand/v2"
	"slices"
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

// Where the votes, or the pairs, part a clock as it was and as it is, is known but roughly: who
// crossed meanwhile, and was seen by main, is laid where main saw them, whichever side that is.
func TestWhoCrossedBesideATurnIsLaidWhereMainSawThem(t *testing.T) {
	const turn, before, after = race.Instant(1_000_000_000), race.Millis(1200), race.Millis(-13_500)
	v := Vote{OK: true, Offset: after, Turns: []Turn{{From: race.NoInstant, Offset: before}, {From: turn.Add(7000), Offset: after}}}
	for _, x := range []struct {
		main   race.Instant
		by     race.Millis
		laidBy race.Millis
	}{
		{turn.Add(1000), after, after},            // after it, though the votes have it later
		{turn.Add(6000), before, before},          // before it
		{turn.Add(9000), before, before},          // if it was later still
		{turn.Add(-600_000), after, before},       // ten minutes sooner it can't have been
		{turn.Add(600_000), before, after},        // nor later
		{turn.Add(1000), before + 900, before},    // as near as crossings come
		{turn.Add(1000), before - 40_000, before}, // another crossing altogether
	} {
		if got, want := v.Lay(x.main.Add(x.by), x.main), x.main.Add(x.by-x.laidBy); got != want {
			t.Errorf("main %+d, other later by %d: laid %+d off main, want %+d", x.main-turn, x.by, got-x.main, want-x.main)
		}
	}
	w := reference()
	w.hours, w.pairs, w.step, w.gross = 1.6, 400, -14.7, 0
	ps := w.draw(1)
	var kept, between []Pair
	slices.SortFunc(ps, func(a, b Pair) int { return int(a.Main - b.Main) })
	set := slices.IndexFunc(ps, func(p Pair) bool { return p.Other-p.Main < -8000 })
	for _, p := range ps { // nobody is a pair for a while after the step
		if d := p.Main - ps[set].Main; d >= 0 && d < 200_000 {
			between = append(between, p)
		} else {
			kept = append(kept, p)
		}
	}
	m := Fit(kept, Config{})
	if len(m.parts) != 2 || len(between) < 4 || m.parts[1].begin < between[2].Main {
		t.Fatalf("%d parts, %d between", len(m.parts), len(between))
	}
	for _, p := range between {
		if got := m.RoughNear(p.Other, p.Main); apartBy(got, p.Main) > 2500 {
			t.Errorf("model puts a crossing at %d that was at %d, %d ms off", got, p.Main, got-p.Main)
		}
	}
}

// Whom main missed is told by a clock that was set back alone: what it tells after that is no time
// before anybody came, even where that is a time that it told once.
func TestWhomMainMissedAfterAClockWasSetBackDidNotComeBeforeTheRace(t *testing.T) {
	w := reference()
	w.hours, w.pairs, w.step, w.gross = 0.9, 300, -3600, 0
	ps := w.draw(2)
	var main, other [][]race.Instant
	var some []Pair
	for i, p := range ps {
		if i%10 != 0 {
			main, other, some = append(main, []race.Instant{p.Main}), append(other, []race.Instant{p.Other}), append(some, p)
		}
	}
	v := CoarseVote(main, other)
	if !v.OK || len(v.Turns) != 2 {
		t.Fatalf("vote %+v", v)
	}
	m := Fit(some, Config{})
	for i, p := range ps {
		if i%10 != 0 {
			continue
		}
		filled, _, _ := m.Race(p.Other, p.Crossing())
		for what, got := range map[string]race.Instant{"vote": v.Lay(p.Other, race.NoInstant), "model": m.Rough(p.Other), "fill": filled} {
			if math.Abs(float64(got-p.Main)) > 3000 {
				t.Errorf("%s puts a crossing at %d that was at %d", what, got, p.Main)
			}
		}
	}
}

// A vote knows no speeds. Where it takes who come back over a line for a clock that was set, and the
// fit finds that antennas some metres apart make the difference, no step is told; of a clock that was
// set by as much one is.
func TestAVoteThatTheFitDoesNotBearOutIsNoStep(t *testing.T) {
	for _, step := range []float64{0, 3} {
		told := 0
		for seed := range uint64(20) {
			d := rand.New(rand.NewPCG(seed, 17))
			w := reference()
			w.hours, w.gross, w.noise, w.speed, w.step = 3, .02, zones(.4), runners, step
			var ps []Pair
			turn := zero
			for i := 0; len(ps) < 400; i++ {
				x := w
				if len(ps) >= 300 {
					x.behind = -w.behind
				}
				f := x.crossing(d, i, false)
				if f.Group = 0; len(ps) >= 300 {
					f.Group = 1
				}
				if middle := zero + race.Instant(1800_000*w.hours); (f.Main >= middle) != (f.Group == 1) {
					continue
				} else if f.Group == 0 {
					turn = max(turn, f.Main)
				}
				ps = append(ps, f.Pair)
			}
			if len(Fit(ps, Config{Groups: 2, Turned: []race.Instant{turn + 1}}).Steps()) > 0 {
				told++
			}
		}
		if step == 0 && told > 1 || step > 0 && told < 19 {
			t.Errorf("clock set by %g s: a step is told in %d of 20 races", step, told)
		}
		t.Logf("clock set by %g s: a step is told in %d of 20 races", step, told)
	}
}

// A clock that was set wrongly and put right after a while, or two logs whose names were changed
// meanwhile, are one offset that is left and come back to.
func TestAClockThatWasWrongForAWhile(t *testing.T) {
	for _, by := range []race.Millis{7200_000, 90_000, 13_000, -13_000, -90_000, -7200_000} {
		w := reference()
		w.hours, w.pairs, w.gross = 1.6, 400, 0
		ps := w.draw(3)
		from, to := zero.Add(2300_000), zero.Add(3400_000)
		var main, other [][]race.Instant
		for i := range ps {
			if p := &ps[i]; p.Main >= from && p.Main < to {
				p.Other = p.Other.Add(by)
			}
			main, other = append(main, []race.Instant{ps[i].Main}), append(other, []race.Instant{ps[i].Other})
		}
		v := CoarseVote(main, other)
		if !v.OK || len(v.Turns) != 3 || max(v.Turns[0].Offset-v.Turns[2].Offset, v.Turns[2].Offset-v.Turns[0].Offset) > 1000 {
			t.Errorf("wrong by %g s for a while: vote %+v", by.Seconds(), v)
			continue
		}
		m := Fit(ps, Config{Coarse: v.Offset, Turned: v.Few(), Fold: v.Fold})
		if n := len(m.Steps()); n != 2 {
			t.Errorf("wrong by %g s for a while: %d steps", by.Seconds(), n)
		}
		for _, p := range ps {
			if got := v.Lay(p.Other, p.Main); math.Abs(float64(got-p.Main)) > 3000 {
				t.Errorf("wrong by %g s for a while: the vote puts a crossing at %d that was at %d", by.Seconds(), got, p.Main)
			}
			if got, _, _ := m.RaceNear(p.Other, p.Main, p.Crossing()); math.Abs(float64(got-p.Main)) > 1500 {
				t.Errorf("wrong by %g s for a while: filled at %d what was at %d", by.Seconds(), got, p.Main)
			}
		}
	}
}

// A line crossed at the start, and the other way at the finish, makes two offsets of one, some seconds
// apart: the second that the starts vote for leaves out who finished before the clock was set. When that
// was is told by them too, or they are laid by what held after, and joined with nothing.
func TestWhoCameBackBeforeATurnTellsWhenItWas(t *testing.T) {
	for seed := range uint64(10) {
		rng := rand.New(rand.NewPCG(seed, 23))
		const tags, back, set = 200, 6000_000, 7000_000
		var main, other [][]race.Instant
		for range tags {
			start := race.Instant(600_000 * rng.Float64())
			finish := start.Add(back + race.Millis(4000_000*rng.Float64()))
			by := race.Millis(-900 + 150*rng.NormFloat64())
			if finish > set {
				by -= 8000
			}
			main = append(main, []race.Instant{start, finish})
			other = append(other, []race.Instant{start.Add(900 + race.Millis(150*rng.NormFloat64())), finish.Add(by)})
		}
		v := CoarseVote(main, other)
		if !v.OK || len(v.Turns) != 2 {
			t.Fatalf("seed %d: vote %+v", seed, v)
		}
		if from := v.Turns[1].From; abs(from.Sub(set)) > 300_000 {
			t.Errorf("seed %d: told to be set at %d, was at %d", seed, from, set)
		}
		for k := range main {
			if got := v.Lay(other[k][1], main[k][1]); abs(got.Sub(main[k][1])) > 2500 {
				t.Errorf("seed %d: a finish of %d is laid at %d", seed, main[k][1], got)
			}
		}
	}
}

// Who crosses, missed by main, shortly before a clock is set on is between the last who tells of the
// clock before and the first after: the times that it left out are nobody's.
func TestWhoMainMissedBeforeAClockWasSetOnIsNotLaidBeforeIt(t *testing.T) {
	for seed := range uint64(5) {
		w := reference()
		w.hours, w.pairs, w.step, w.gross = 1.6, 400, 600, 0
		var told []Pair
		var missed []Pair
		turn := race.Instant(0)
		ps := w.draw(seed)
		slices.SortFunc(ps, ComparePairs)
		for i := 1; i < len(ps) && turn == 0; i++ {
			if ps[i].Other.Sub(ps[i].Main)-ps[i-1].Other.Sub(ps[i-1].Main) > 300_000 {
				turn = ps[i].Main
			}
		}
		for _, p := range ps {
			if p.Main < turn && p.Main >= turn.Add(-150_000) {
				missed = append(missed, p)
			} else {
				told = append(told, p)
			}
		}
		m := Fit(told, Config{})
		if turn == 0 || len(missed) < 3 || !m.Stepped() {
			t.Fatalf("seed %d: %d missed, stepped %v", seed, len(missed), m.Stepped())
		}
		for _, p := range missed {
			if at, _, _ := m.Race(p.Other, p.Crossing()); abs(at.Sub(p.Main)) > 1500 {
				t.Errorf("seed %d: filled %v off", seed, at.Sub(p.Main))
			}
		}
	}
}
