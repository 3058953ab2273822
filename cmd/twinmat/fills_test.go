package main

import (
	"math"
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

// fillsOf are fills of one kind of race against what main would have kept, in seconds.
type fillsOf struct {
	errs   []float64 // of times from backup
	same   []float64 // what those would be off with clocks, distance and speed known exactly
	all    []float64 // the same of every crossing that backup read: the scorer's floor
	inside int
	pairs  int // of the clock that has most
}

func (f *fillsOf) add(o *fillsOf) {
	f.errs, f.same, f.all, f.inside = append(f.errs, o.errs...), append(f.same, o.same...), append(f.all, o.all...), f.inside+o.inside
	f.pairs = max(f.pairs, o.pairs)
}

// p95 of sizes.
func p95(xs []float64) float64 {
	s := make([]float64, len(xs))
	for i, x := range xs {
		s[i] = math.Abs(x)
	}
	slices.Sort(s)
	return s[min(len(s)-1, int(.95*float64(len(s))))]
}

// Fills against the floor that two antennas' reads set, in kinds of race whose reads come in
// bursts. The floor is the error of backup's own kept read; strengths beside it know more.
//
//	TWINMAT_FILLS=10 TWINMAT_FILLS_FROM=11 go test -run FillsComeNearTheFloor -v ./cmd/twinmat
//
// measures seeds 11 to 20.
func TestFillsComeNearTheFloor(t *testing.T) {
	seeds, from := 2, uint64(1)
	if testing.Short() {
		seeds = 1
	}
	if n, err := strconv.Atoi(os.Getenv("TWINMAT_FILLS")); err == nil {
		seeds = n
	}
	if n, err := strconv.ParseUint(os.Getenv("TWINMAT_FILLS_FROM"), 10, 64); err == nil {
		from = n
	}
	var ratio, floor []float64
	inside := 0
	for _, kind := range []string{"laps", "flagged", "time-trial", "marathon", "demo", "road", "two-courses", "village", "out-and-back", "open-laps", "triathlon", "relay", "mass-ride"} {
		var f fillsOf
		for seed := from; seed < from+uint64(seeds); seed++ {
			f.add(fillsOfRace(t, invent.Options{Kind: kind, Seed: seed}))
		}
		n, low := float64(len(f.errs)), p95(f.all)
		sum := 0.0
		for i, e := range f.errs {
			sum += e
			ratio, floor = append(ratio, e/low), append(floor, f.same[i]/low)
		}
		inside += f.inside
		t.Logf("| %s | %d | %.0f | %.0f | %.2f | %.2f | %+.0f | %.3f |", kind, len(f.errs), 1000*p95(f.errs), 1000*low, p95(f.errs)/low, p95(f.errs)/p95(f.same), 1000*sum/n, float64(f.inside)/n)
	}
	r, in := p95(ratio), float64(inside)/float64(len(ratio))
	t.Logf("%d fills: 95 %% within %.3f times the floor of their kind, %.3f times their own; %.4f inside", len(ratio), r, r/p95(floor), in)
	if r > 1.05 || r > 1.05*p95(floor) {
		t.Errorf("95 %% of %d fills lie within %.3f times the floor, %.3f times their own, want 1.05", len(ratio), r, r/p95(floor))
	}
	if in < .93 || in > .97 {
		t.Errorf("%.4f of %d fills inside their interval, want 0.93 to 0.97", in, len(ratio))
	}
}

// Of a great field only some tell of its clocks, and its fills come as near.
func TestSomeOfAGreatFieldTellWhatAllWould(t *testing.T) {
	const athletes = 6000
	f := fillsOfRace(t, invent.Options{Kind: "big", Seed: 5, Athletes: athletes})
	t.Logf("%d fills by %d pairs at the most: 95 %% within %.0f ms, their floor is %.0f; %d inside", len(f.errs), f.pairs, 1000*p95(f.errs), 1000*p95(f.all), f.inside)
	if f.pairs > athletes*6/10 {
		t.Errorf("%d pairs of %d athletes: all were asked", f.pairs, athletes)
	}
	if len(f.errs) < 500 || p95(f.errs) > 1.05*p95(f.all) {
		t.Errorf("95 %% of %d fills lie within %.3f s, want 1.05 times %.3f", len(f.errs), p95(f.errs), p95(f.all))
	}
	if in := float64(f.inside) / float64(len(f.errs)); in < .93 || in > .97 {
		t.Errorf("%.3f of %d fills inside their interval, want 0.93 to 0.97", in, len(f.errs))
	}
}

func fillsOfRace(t *testing.T, o invent.Options) *fillsOf {
	t.Helper()
	dir := t.TempDir()
	defer os.RemoveAll(dir) // many races would fill the disk
	m, err := invent.Make(o)
	if err == nil {
		err = m.Write(filepath.Join(dir, "race"))
	}
	if err == nil {
		err = m.WriteTruth(filepath.Join(dir, "truth"))
	}
	if err != nil {
		t.Fatal(err)
	}
	in, err := ingest.Read(filepath.Join(dir, "race"))
	if err != nil {
		t.Fatal(err)
	}
	st := reconcile.Compute(in.Input())
	type kept struct{ main, backup race.Instant }
	truth, out := map[[2]string][]kept{}, &fillsOf{}
	for _, c := range st.Clocks {
		out.pairs = max(out.pairs, c.Pairs)
	}
	for _, p := range table(t, filepath.Join(dir, "truth", "passings.csv")) {
		if p["backup_seen"] != "true" || p["main_err_s"] != "0.000" || p["backup_"+p["keep"]] == "" {
			continue
		}
		k := kept{instant(t, p["main_"+p["keep"]]), instant(t, p["backup_"+p["keep"]])}
		out.all = append(out.all, k.backup.Sub(k.main).Seconds())
		for _, bib := range strings.Fields(p["tag_bib"]) {
			truth[[2]string{bib, p["split"]}] = append(truth[[2]string{bib, p["split"]}], k)
		}
	}
	for i := range st.Results {
		x := st.Results[i]
		for _, p := range x.Passings {
			if p.Split < 0 || p.From != race.FromBackup || p.Unsure(race.Backup) != "" {
				continue
			}
			ks := truth[[2]string{x.Bib, x.Splits[p.Split].ID}]
			if len(ks) != 1 || max(ks[0].main.Sub(p.At), p.At.Sub(ks[0].main)) > 10_000 {
				continue // of two bodies, or of none
			}
			e := p.At.Sub(ks[0].main)
			out.errs, out.same = append(out.errs, e.Seconds()), append(out.same, ks[0].backup.Sub(ks[0].main).Seconds())
			if max(e, -e) <= p.PlusMinus {
				out.inside++
			}
		}
	}
	return out
}
