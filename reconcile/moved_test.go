package reconcile_test

import (
	"fmt"
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
	for _, x := range st.Results {
		for s, want := range truth[x.Bib] {
			if p := &x.Passings[x.Filled[s]]; p.Unsure(race.Main) == "" && p.Unsure(race.Backup) == "" {
				if d := p.At.Sub(want); max(d, -d) > max(p.PlusMinus, 100) {
					t.Errorf("%s's %s is %d ms off, ± %d", x.Bib, x.Splits[s].ID, d, p.PlusMinus)
				}
			}
		}
	}
}
