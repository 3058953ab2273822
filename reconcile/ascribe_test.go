package reconcile_test

import (
	"fmt"
	"testing"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// setBack is a race over five kilometres whose main at the finish is set by so much when half
// the field is in, backup's clock four seconds ahead; each misses one in twenty for itself.
func setBack(by race.Millis) (in reconcile.Input, truth map[string]race.Instant) {
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0, 1}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}})
	in.Plan, truth = p, map[string]race.Instant{}
	const n = 120
	cross := func(i int) race.Instant { return nineOClock.Add(race.Millis(1_500_000 + 9000*i + 37*(i*i%101))) }
	at := func(system, i int) []race.Instant {
		t := cross(i)
		switch {
		case (i+7*system)%20 == 3:
			return nil
		case system == 1:
			t = t.Add(4000 + race.Millis(i*31%90))
		case i >= n/2:
			t = t.Add(by)
		}
		return []race.Instant{t, t.Add(200)}
	}
	for i := range n {
		bib := fmt.Sprint(1 + i)
		truth[bib] = cross(i)
		in.Athletes = append(in.Athletes, race.Athlete{Bib: bib, Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: "T" + bib, Bib: bib, From: race.NoInstant, To: race.NoInstant})
	}
	for system := range 2 {
		in.Reads = append(in.Reads, logOf(system, n, func(i int) (string, []race.Instant) { return fmt.Sprintf("T%d", 1+i), at(system, i) }))
	}
	return in, truth
}

// That main was set back is told, as main's, and its times stay until it is ruled; then everybody
// has the true time, or is held: main told some times twice.
func TestAMainThatWasSetBackIsToldAndMoved(t *testing.T) {
	for _, by := range []race.Millis{-90_000, -450_000, -900_000, 600_000} {
		in, truth := setBack(by)
		st := reconcile.Compute(in)
		var step *race.Suspect
		for i := range st.Suspects {
			if s := &st.Suspects[i]; s.Kind == race.ClockStep {
				step = s
			} else if s.Kind == race.ExtraPassing || s.Kind == race.SilentLog || s.Kind == race.MissingSplit {
				t.Errorf("set by %d ms: %s", by, s.Says)
			}
		}
		if step == nil || step.Proposes != "set-clock --line finish --stepped main" || !step.Strong {
			t.Errorf("set by %d ms: %+v", by, step)
			continue
		}
		for i := range st.Results {
			x := st.Results[i]
			want := truth[x.Bib]
			if i := len(truth) / 2; want >= truth[fmt.Sprint(1+i)] {
				want = want.Add(by)
			}
			if d := x.FinishAt.Sub(want); x.Finish < 0 || max(d, -d) > max(x.PM, 300) {
				t.Errorf("set by %d ms: %s at %v, main's clock said %v (%d ms off, ± %d)", by, x.Bib, x.FinishAt, want, d, x.PM)
			}
		}
		in.Rulings = []race.Ruling{{Seq: 1, Rule: "set-clock", Line: "finish", Stepped: "main", Why: "set again"}}
		st = reconcile.Compute(in)
		held := 0
		for i := range st.Results {
			x := st.Results[i]
			d := x.FinishAt.Sub(truth[x.Bib])
			switch {
			case x.State == "held":
				held++
			case x.Finish < 0 || max(d, -d) > max(x.PM, 300):
				t.Errorf("set by %d ms, ruled: %s %d ms off, ± %d", by, x.Bib, d, x.PM)
			}
		}
		if twice := by < 0; twice != (held > 0) || held > 12 {
			t.Errorf("set by %d ms, ruled: %d are held", by, held)
		}
	}
}

// A main that is set back by so much that it tells times before the gun has no times for half of
// the field: that is the clock's one case too, and once it is ruled everybody has the true time.
func TestAMainThatWasSetBackBeyondTheGunIsTold(t *testing.T) {
	for _, by := range []race.Millis{-3600_000, -7200_000} {
		in, truth := setBack(by)
		st := reconcile.Compute(in)
		told := 0
		for i := range st.Suspects {
			if s := &st.Suspects[i]; s.Kind == race.ClockStep && s.Proposes == "set-clock --line finish --stepped main" {
				told++
			}
		}
		if told != 1 {
			t.Errorf("set by %d ms: told %d times", by, told)
		}
		in.Rulings = []race.Ruling{{Seq: 1, Rule: "set-clock", Line: "finish", Stepped: "main", Why: "set again"}}
		st = reconcile.Compute(in)
		for i := range st.Results {
			x := st.Results[i]
			if d := x.FinishAt.Sub(truth[x.Bib]); x.Finish < 0 || max(d, -d) > max(x.PM, 300) {
				t.Errorf("set by %d ms, ruled: %s %d ms off, ± %d", by, x.Bib, d, x.PM)
			}
		}
	}
}

// What is voided on the side of a main's step that a ruling moved is told by the time that came out.
func TestAMovedPassingIsVoided(t *testing.T) {
	for _, by := range []race.Millis{-450_000, 600_000} {
		in, truth := setBack(by)
		in.Rulings = []race.Ruling{{Seq: 1, Rule: "set-clock", Line: "finish", Stepped: "main", Why: "set again"}}
		st, tried := reconcile.Compute(in), 0
		for _, x := range st.Results {
			if x.Finish < 0 || x.From != race.FromMain || x.FinishAt < truth[fmt.Sprint(1+len(truth)/2)] || tried == 5 {
				continue
			}
			tried++
			in.Rulings = append(in.Rulings[:1:1], race.Ruling{Seq: 2, Rule: race.VoidPassing, Bib: x.Bib, Line: "finish", Time: x.FinishAt.Format(in.Plan.Zone), Why: "a bystander"})
			got := reconcile.Compute(in)
			if r := got.Results[got.ByBib[x.Bib]]; r.Finish >= 0 {
				t.Errorf("set by %d ms: %s, voided at %v, still finishes then", by, x.Bib, x.FinishAt)
			}
		}
		if tried < 5 {
			t.Errorf("set by %d ms: only %d tried", by, tried)
		}
	}
}
