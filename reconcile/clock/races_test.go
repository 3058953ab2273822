package clock

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// sharedRaces is the folder of races with known truth.
func sharedRaces(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("TWINMAT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	if _, err := os.Stat(filepath.Join(dir, "races")); err != nil {
		t.Skipf("NOT CHECKED: no races with known truth at %s; set TWINMAT_SHARED", dir)
	}
	return filepath.Join(dir, "races")
}

func table(t *testing.T, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, c := range r {
			m[rows[0][i]] = c
		}
		out = append(out, m)
	}
	return out
}

func instant(s string) race.Instant {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return race.NoInstant
	}
	return race.Of(t)
}

// truePairs are a race's crossings that backup read, per line, with the times that both
// kept as truth tells them: backup's put on a clock with truth's offset and drift.
func truePairs(t *testing.T, dir string) (lines []string, by map[string][]Pair) {
	clocks := map[string]map[string]string{}
	for _, c := range table(t, filepath.Join(dir, "truth", "clocks.csv")) {
		if c["system"] == "backup" {
			clocks[c["line"]] = c
		}
	}
	by = map[string][]Pair{}
	dice := rand.New(rand.NewPCG(1, 1))
	for i, r := range table(t, filepath.Join(dir, "truth", "passings.csv")) {
		c := clocks[r["line"]]
		if c == nil || r["real"] != "true" || r["backup_seen"] != "true" {
			continue
		}
		m, b := instant(r["main_"+r["keep"]]), instant(r["backup_"+r["keep"]])
		v, _ := strconv.ParseFloat(r["speed_mps"], 64)
		if !m.Known() || !b.Known() || v <= 0 {
			continue
		}
		off, _ := strconv.ParseFloat(c["offset_s"], 64)
		ppm, _ := strconv.ParseFloat(c["drift_ppm"], 64)
		behind, _ := strconv.ParseFloat(c["behind_m"], 64)
		from, to := instant(c["from"]), instant(c["to"])
		since := float64(b-halfWay(from, to)) / 1000
		other := b.Add(race.Millis(math.Round(1000 * (off + ppm*1e-6*since + behind/v))))
		long := instant(r["backup_last"]).Sub(instant(r["backup_first"])).Seconds()
		mid := 0.0
		if r["keep"] == "strongest" {
			mid = long/2 - b.Sub(instant(r["backup_first"])).Seconds()
		}
		p := Pair{Main: m, Other: other, U: math.Exp(.06*dice.NormFloat64()) / v, Long: long, Mid: mid, Tag: i}
		name := filepath.Base(dir) + " " + r["line"]
		if _, ok := by[name]; !ok {
			lines = append(lines, name)
		}
		by[name] = append(by[name], p)
	}
	slices.Sort(lines)
	return lines, by
}

// Every fifth crossing is left out in turn and filled from what the others teach: errors
// against what reads of two antennas differ by when clocks and speeds are known exactly.
func TestFillsOfTheRacesWithKnownTruth(t *testing.T) {
	root := sharedRaces(t)
	var in, all, excess float64
	for _, name := range []string{"marathon", "out-and-back", "laps", "triathlon", "dirty"} {
		lines, by := truePairs(t, filepath.Join(root, name))
		for _, l := range lines {
			ps := by[l]
			var errs []float64
			inside, widths := 0, 0.0
			for k := range 5 {
				var known, left []Pair
				for i, p := range ps {
					if i%5 == k {
						left = append(left, p)
					} else {
						known = append(known, p)
					}
				}
				m := Fit(known, Config{})
				for _, p := range left {
					at, pm, _ := m.Race(p.Other, p.Crossing())
					e := math.Abs(float64(at-p.Main)) / 1000
					errs = append(errs, e)
					widths += float64(pm) / 1000
					if e*1000 <= float64(pm) {
						inside++
					}
				}
			}
			p95 := quantileOf(errs, .95)
			t.Logf("%-24s %4d crossings: p50 %.3f p95 %.3f, inside %.3f of ±%.3f", l, len(ps), quantileOf(errs, .5), p95, float64(inside)/float64(len(ps)), widths/float64(len(ps)))
			in, all = in+float64(inside), all+float64(len(ps))
			excess += p95
		}
	}
	t.Logf("inside %.4f of %.0f, sum of p95 %.3f", in/all, all, excess)
	if in/all < .93 || in/all > .97 {
		t.Errorf("%.4f of %.0f fills lie inside their interval, want 0.93 to 0.97", in/all, all)
	}
}
