package course

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// rows reads an open data set of the shared material by its columns' names.
func rows(t *testing.T, name string) []map[string]float64 {
	dir := os.Getenv("TWINMAT_SHARED")
	if dir == "" {
		dir = "../../../shared"
	}
	f, err := os.Open(filepath.Join(dir, "data", name))
	if err != nil {
		t.Skipf("NOT CHECKED against real times: %v; set TWINMAT_SHARED", err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]float64
	for _, r := range all[1:] {
		m := map[string]float64{}
		for i, head := range all[0] {
			if v, err := strconv.ParseFloat(r[i], 64); err == nil {
				m[head] = v
			}
		}
		out = append(out, m)
	}
	return out
}

// The New York marathon of 2004 (open data set marathon_gun_net_2004.csv, MIT licence, see
// SOURCES.md beside it): 36,563 people's real passings, laid on a course whose start and
// finish are one line and whose 10 km and 20 miles are another; 10 % are taken out.
func TestAMarathonsRealTimes(t *testing.T) {
	c := splits("run", [2]float64{0, 0}, [2]float64{1, 10000}, [2]float64{2, 21097.5}, [2]float64{1, 32186.9}, [2]float64{0, 42195})
	m := newMaker(1, c, .1, 0)
	for _, r := range rows(t, "marathon_gun_net_2004.csv") {
		a := made{a: gunAt0()}
		for s, column := range []string{"start", "s10k", "shalf", "s20m", "gun"} {
			if at, ok := r[column]; ok && (s > 0 || at > 0) {
				a.cross(m, s, at)
			}
		}
		m.add(a)
	}
	s := m.score()
	t.Logf("%s", s)
	if s.passings < 150_000 || float64(s.wrong) > .0005*float64(s.passings) {
		t.Errorf("too many, or no data; for one:%s", s.failed)
	}
}

// Big's Backyard of 2018 (open data set backyard_laps_2018.csv, MIT licence): 69 people's
// real laps, one an hour for up to 68 hours on one line; 10 % are taken out, seeds 0 to 19.
func TestABackyardsRealLaps(t *testing.T) {
	all := rows(t, "backyard_laps_2018.csv")
	slices.SortStableFunc(all, func(a, b map[string]float64) int {
		return int(a["runner"]*1000 + a["lap"] - b["runner"]*1000 - b["lap"])
	})
	s := seeds(0, 20, func(seed uint64) *maker {
		m := corralOf(seed, .1)
		a := made{a: gunAt0()}
		for i, r := range all {
			if at, ok := r["clock"]; ok {
				a.cross(m, int(r["lap"])-1, at-24082)
			}
			if i+1 == len(all) || all[i+1]["runner"] != r["runner"] {
				m.add(a)
				a = made{a: gunAt0()}
			}
		}
		return m
	})
	t.Logf("%s; seeds 0 to 19", s)
	if s.passings < 20_000 || float64(s.wrong) > .001*float64(s.passings) || float64(s.laps) > .002*float64(s.athletes) {
		t.Errorf("too many, or no data; for one:%s", s.failed)
	}
}
