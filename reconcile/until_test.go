package reconcile_test

import (
	"path/filepath"
	"slices"
	"testing"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Looking back, each log is cut where its own clock stood: main set an hour ahead as the plan
// says, clocks that stepped during the race, and one that nothing was fitted to.
func TestLookingBackCutsEachLogOnItsOwnClock(t *testing.T) {
	for _, kind := range []string{"road", "open-laps", "steps-main", "hand"} {
		f, err := ingest.Read(filepath.Join(examples, kind))
		if err != nil {
			t.Fatal(err)
		}
		in := f.Input()
		plain := reconcile.Compute(in)
		looks(t, kind, in, plain)
		if kind == "road" {
			ahead := mainsAhead(in, 3_600_000)
			looks(t, kind+", main an hour ahead", ahead, reconcile.Compute(ahead))
		}
		if kind == "open-laps" {
			gun := plain.Plan.Waves[0].Gun
			set := laterBy(in, 1, gun.Add(plain.Now.Sub(gun)*6/10), 120_000)
			looks(t, kind+", backup set two minutes forward", set, reconcile.Compute(set))
		}
	}
}

// looks holds what each system saw of each passing against what is left of its log.
func looks(t *testing.T, name string, in reconcile.Input, whole *race.State) {
	const near = 10_000 // antennas stand apart, bursts are long, laws of clocks end at their outermost pairs
	first := whole.Plan.Waves[0].Gun
	for _, share := range []float64{.2, .5, .8} {
		at := first.Add(race.Millis(share * float64(whole.Now.Sub(first))))
		then := reconcile.Until(in, whole, at)
		n := 0
		for i := range whole.Results {
			for _, p := range whole.Results[i].Passings {
				for sys, b := range p.Bursts {
					if b == nil || b.Source < 0 || p.Seen[sys] > at-near && p.Seen[sys] < at+near {
						continue
					}
					n++
					if left := holds(then.Reads[b.Source], b.Reads(whole.Inputs[b.Source])[0]); left != (p.Seen[sys] <= at) {
						t.Fatalf("%s, at %s: %s passed %s's log %d at %s, left %v", name, at.Clock(in.Plan.Zone), whole.Results[i].Bib, race.System(sys), b.Source, p.Seen[sys].Clock(in.Plan.Zone), left)
					}
				}
			}
		}
		if n == 0 {
			t.Errorf("%s: nothing to hold against", name)
		}
	}
}

// holds tells whether a log has a read.
func holds(x *race.Reads, first race.Read) bool {
	for tag := range x.Tags.All() {
		if slices.Contains(tag.Reads, first) {
			return true
		}
	}
	return false
}

// mainsAhead is a race whose mains' clocks are ahead, as the plan says.
func mainsAhead(in reconcile.Input, by race.Millis) reconcile.Input {
	p := clonePlan(in.Plan)
	p.Logs = slices.Clone(p.Logs)
	in.Plan = p
	for s := range p.Logs {
		if p.Logs[s].System == race.Main {
			p.Logs[s].Offset.Fixed += by
			in = laterBy(in, s, 0, by)
		}
	}
	return in
}

// laterBy is a race in which a log's clock is set forward at a moment of its own.
func laterBy(in reconcile.Input, s int, from race.Instant, by race.Millis) reconcile.Input {
	in.Reads = slices.Clone(in.Reads)
	in.Reads[s] = edit(in.Reads[s], func(l *race.TagEdit, _ *race.Reads) {
		for i := range l.Len() {
			t := l.At(i)
			t.Reads = slices.Clone(t.Reads)
			for k := range t.Reads {
				if t.Reads[k].At >= from {
					t.Reads[k].At = t.Reads[k].At.Add(by)
				}
			}
		}
	})
	return in
}
