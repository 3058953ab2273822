package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// lapsOn is a race over ten laps of some 275 s whose main is set by so much at a moment, and set
// right again at another; backup's clock is one second ahead. truth is, per bib, when each lap ended.
func lapsOn(by race.Millis, set, right race.Instant) (in reconcile.Input, truth map[string][]race.Instant) {
	const n, laps = 30, 10
	p := fiveOn([]race.Line{{ID: "line", Window: 4000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0, 1}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}})
	c := &p.Courses[0]
	c.Sport, c.Splits = "bike", nil
	for k := range laps {
		c.Splits = append(c.Splits, race.Split{ID: fmt.Sprintf("lap-%d", 1+k), At: 3000 * float64(1+k), Sport: "bike", Lap: 1 + k})
	}
	in.Plan, truth = p, map[string][]race.Instant{}
	for i := range n {
		bib, at := fmt.Sprint(1+i), nineOClock.Add(race.Millis(700*i))
		for k := range laps {
			at = at.Add(race.Millis(268_000 + 900*i + 97*(i*i*(k+3)%61)))
			truth[bib] = append(truth[bib], at)
		}
		in.Athletes = append(in.Athletes, race.Athlete{Bib: bib, Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: "T" + bib, Bib: bib, From: race.NoInstant, To: race.NoInstant})
	}
	for system := range 2 {
		in.Reads = append(in.Reads, logOf(system, n, func(i int) (string, []race.Instant) {
			bib, times := fmt.Sprint(1+i), []race.Instant(nil)
			for k, t := range truth[bib] {
				switch {
				case (i+7*system+11*k)%20 == 3:
					continue
				case system == 1:
					t = t.Add(1000 + race.Millis((i+k)*31%90))
				case t >= set && (!right.Known() || t < right):
					t = t.Add(by)
				}
				times = append(times, t, t.Add(60))
			}
			return "T" + bib, times
		}))
	}
	return in, truth
}

// Laps are taught anew once it is ruled that it was main that stepped: before that ruling one lap was an
// hour longer for everybody, and nobody rode it afterwards.
func TestLapsAfterAMainThatWasSetAreRidden(t *testing.T) {
	for _, by := range []race.Millis{3600_000, 420_000} {
		in, truth := lapsOn(by, nineOClock.Add(1_500_000), race.NoInstant)
		in.Rulings = []race.Ruling{{Seq: 1, Rule: "set-clock", Line: "line", Stepped: "main", Why: "set again"}}
		st := reconcile.Compute(in)
		for _, x := range st.Results {
			for s, want := range truth[x.Bib] {
				if s >= len(x.Filled) || x.Filled[s] < 0 {
					t.Errorf("set by %d ms: %s has no %s", by, x.Bib, x.Splits[s].ID)
					continue
				}
				p := &x.Passings[x.Filled[s]]
				if d := p.At.Sub(want); max(d, -d) > max(p.PlusMinus, 100) {
					t.Errorf("set by %d ms: %s's %s is %d ms off, ± %d", by, x.Bib, x.Splits[s].ID, d, p.PlusMinus)
				}
			}
		}
	}
}

// A main that was set and set right again has its own times before and after, once it is ruled, and
// moved ones between.
func TestAMainThatWasSetRightAgainIsMovedBetween(t *testing.T) {
	in, truth := lapsOn(1200, nineOClock.Add(900_000), nineOClock.Add(1_900_000))
	st := reconcile.Compute(in)
	if n := len(slices.DeleteFunc(st.Suspects, func(s race.Suspect) bool { return s.Kind != race.ClockStep })); n != 2 {
		t.Fatalf("%d steps are told, want 2", n)
	}
	in.Rulings = []race.Ruling{{Seq: 1, Rule: "set-clock", Line: "line", Stepped: "main", Why: "set, and set right"}}
	st = reconcile.Compute(in)
	sure, all := 0, 0
	for _, x := range st.Results {
		for s, want := range truth[x.Bib] {
			if all++; x.Filled[s] < 0 {
				t.Errorf("%s has no %s", x.Bib, x.Splits[s].ID)
				continue
			}
			p := &x.Passings[x.Filled[s]]
			if p.Unsure(race.Main) != "" || p.Unsure(race.Backup) != "" {
				continue
			}
			sure++
			if d := p.At.Sub(want); max(d, -d) > min(max(p.PlusMinus, 100), 500) {
				t.Errorf("%s's %s is %d ms off, ± %d", x.Bib, x.Splits[s].ID, d, p.PlusMinus)
			}
		}
	}
	if 10*sure < 9*all {
		t.Errorf("only %d of %d times are sure", sure, all)
	}
}

// Followed read by read, a main that is ruled to have stepped, and ruled not to again, is at every moment
// what it is computed whole; what it teaches then is kept while nobody who tells of it is another.
func TestAMainThatSteppedIsFollowedAsTheWhole(t *testing.T) {
	for seed := range uint64(2) {
		rng := rand.New(rand.NewPCG(seed, 9))
		whole, _ := lapsOn(420_000, nineOClock.Add(900_000), nineOClock.Add(1_900_000))
		in, enough := whole, []int{5, 6000}[seed%2]
		in.Reads, in.Rulings = make([]*race.Reads, len(whole.Reads)), nil
		var g reconcile.Engine
		share := 0.5
		again := 0
		for moment := range 60 {
			switch moment {
			case 10:
				in.Rulings = []race.Ruling{{Seq: 1, Rule: "set-clock", Line: "line", Stepped: "main", Why: "set again"}}
			case 25: // the other side was right
				in.Rulings = append(in.Rulings[:1:1], race.Ruling{Seq: 2, Rule: "set-clock", Line: "line", Stepped: "main", Right: "after", Why: "set right again"})
			case 45:
				in.Rulings = append(in.Rulings[:2:2], race.Ruling{Seq: 3, Rule: "undo", UndoneSeq: 2, Why: "no"})
			}
			in.Reads = slices.Clone(in.Reads)
			s := rng.IntN(2)
			if moment == 0 {
				in.Reads[1-s] = grown(nil, whole.Reads[1-s], share)
			}
			share = min(1, share+0.012*rng.Float64())
			in.Reads[s] = grown(in.Reads[s], whole.Reads[s], share)
			st, want := g.ComputeAsking(in, enough), reconcile.ComputeAsking(in, enough)
			if g.DealtAgain() {
				again++
			}
			if a, b := told(t, want), told(t, st); a != b {
				t.Fatalf("seed %d, moment %d: another race than computed whole: %s", seed, moment, parting(a, b))
			}
		}
		if again < 30 {
			t.Errorf("seed %d: only %d of 60 moments dealt only what came", seed, again)
		}
	}
}
