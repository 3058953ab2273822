package main

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"twinmat/cmd/internal/invent"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// In races of hours with rests a long gap may be a rest or laps that no system read: whose
// laps come out wrong is never somebody of whom nothing is said.
func TestNobodysLapsAreSilentlyWrong(t *testing.T) {
	athletes, wrong, doubted := 0, 0, 0
	for _, kind := range []string{"day", "open-laps"} {
		for seed := uint64(1); seed <= 4; seed++ {
			m, f := inventedRace(t, invent.Options{Kind: kind, Seed: seed})
			truth := t.TempDir()
			if err := m.WriteTruth(truth); err != nil {
				t.Fatal(err)
			}
			st := reconcile.Compute(f.Input())
			said := map[string]bool{}
			for i := range st.Suspects {
				if s := &st.Suspects[i]; slices.Contains([]string{race.MissingSplit, race.UnlikelyPace, race.Overdue, race.ExtraPassing}, s.Kind) {
					for _, b := range s.Bibs {
						said[b] = true
					}
				}
			}
			doubted += len(said)
			last := map[string]int{} // lap that any system saw the end of: what comes after nobody can know
			for _, p := range table(t, filepath.Join(truth, "passings.csv")) {
				lap, err := strconv.Atoi(strings.TrimPrefix(p["split"], "lap-"))
				if err == nil && (p["main_seen"] == "true" || p["backup_seen"] == "true") {
					last[p["bib"]] = max(last[p["bib"]], lap)
				}
			}
			for bib, laps := range last {
				athletes++
				x := st.Results[st.ByBib[bib]]
				if x.LastSplit != "lap-"+strconv.Itoa(laps) {
					wrong++
					if !said[bib] {
						t.Errorf("%s, seed %d: %s was last read at %s, in truth at lap-%d, and nothing is said", kind, seed, bib, x.LastSplit, laps)
					}
				}
			}
		}
	}
	t.Logf("%d athletes, %d with wrong laps, %d looked at", athletes, wrong, doubted)
	if athletes < 300 || 50*wrong > athletes || 3*doubted > athletes {
		t.Errorf("%d athletes, %d with wrong laps, %d looked at", athletes, wrong, doubted)
	}
}
