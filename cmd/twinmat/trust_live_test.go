package main

import (
	"cmp"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// What is told while people still run must not be taken back: at seven moments of each race,
// suspects that neither the whole race nor its truth knows are counted. They are raised too
// early. TWINMAT_TRUST and TWINMAT_TRUST_KINDS as above.
func TestNothingIsToldTooEarly(t *testing.T) {
	kinds, seeds := []string{"demo", "triathlon"}, 1
	if n, err := strconv.Atoi(os.Getenv("TWINMAT_TRUST")); err == nil {
		seeds = n
		kinds = slices.DeleteFunc(slices.Clone(invent.Kinds), func(k string) bool { return k == "big" })
	}
	if k := strings.Fields(os.Getenv("TWINMAT_TRUST_KINDS")); len(k) > 0 {
		kinds = k
	}
	athletes, _ := strconv.Atoi(os.Getenv("TWINMAT_TRUST_ATHLETES"))
	all, looks := map[string]int{}, 0
	for _, kind := range kinds {
		early, n, says := map[string]int{}, 0, []string{}
		for seed := 1; seed <= seeds; seed++ {
			n += tooEarly(t, invent.Options{Kind: kind, Seed: uint64(seed), Athletes: athletes}, early, &says)
		}
		looks += n
		for _, k := range slices.Sorted(maps.Keys(early)) {
			all[k] += early[k]
			t.Logf("%s, seeds 1 to %d: %s %d, %.2f of 1,000 athletes a look", kind, seeds, k, early[k], 1000*float64(early[k])/float64(n))
		}
		for _, s := range says {
			t.Log("  ", s)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(all)) {
		most := 1.0
		if k == race.Overdue || k == race.UnlikelyPace {
			most = 3
		}
		rate := 1000 * float64(all[k]) / float64(max(1, looks))
		t.Logf("together: %s %d, %.2f of 1,000 athletes a look", k, all[k], rate)
		if all[k] > 3 && rate > most {
			t.Errorf("%s: %d told too early in looks at %d athletes, want %.0f in 1,000", k, all[k], looks, most)
		}
	}
}

// tooEarly looks at one race as it runs and adds up what is taken back, by kind; it returns
// how many athletes were looked at.
func tooEarly(t *testing.T, o invent.Options, early map[string]int, says *[]string) int {
	t.Helper()
	dir := t.TempDir()
	defer os.RemoveAll(dir)
	made, err := invent.Make(o)
	if err == nil {
		err = cmp.Or(made.Write(filepath.Join(dir, "race")), made.WriteTruth(filepath.Join(dir, "truth")))
	}
	if err != nil {
		t.Fatal(err)
	}
	f, err := ingest.Read(filepath.Join(dir, "race"))
	if err != nil {
		t.Fatal(err)
	}
	whole := reconcile.Compute(f.Input())
	known := map[string]bool{}
	name := func(kind string, bibs []string) {
		for _, b := range bibs {
			known[kind+" "+b] = true
		}
	}
	for i := range whole.Suspects {
		s := &whole.Suspects[i]
		known[s.ID] = true
		name(s.Kind, s.Bibs)
	}
	for _, row := range truthTable(t, dir, "anomalies.csv") {
		for _, kind := range append(strings.Fields(row["also"]), row["kind"]) {
			name(kind, strings.Fields(row["bibs"]))
		}
		known[row["kind"]+" at "+row["line"]] = true
	}
	first, last := whole.Now, whole.Now
	for i := range f.Plan.Waves {
		if g := f.Plan.Waves[i].Gun; g.Known() && g < first {
			first = g
		}
	}
	looks := 0
	for _, share := range []float64{.01, .05, .15, .3, .5, .7, .9} {
		at := first.Add(race.Millis(share * float64(last.Sub(first))))
		in := reconcile.Until(f.Input(), whole, at)
		st := reconcile.Compute(in)
		looks += len(st.Results)
		for i := range st.Suspects {
			s := &st.Suspects[i]
			ok := known[s.ID] || known[s.Kind+" at "+s.Line] && len(s.Bibs) == 0
			for _, b := range s.Bibs {
				ok = ok || known[s.Kind+" "+b]
			}
			if ok || s.Settled || s.Kind == race.TooClose {
				continue
			}
			early[s.Kind]++
			if len(*says) < 40 {
				*says = append(*says, fmt.Sprintf("%s-%d at %.0f %% %s: %s", o.Kind, o.Seed, 100*share, s.ID, s.Says))
			}
		}
	}
	return looks
}
