package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// ownersOf compares the owners named with who wore each chip that is in no list.
func (x *trust) ownersOf(t *testing.T, name, dir string, st *race.State) {
	t.Helper()
	for _, row := range truthTable(t, dir, "anomalies.csv") {
		if row["kind"] != race.UnassignedChip || row["bibs"] == "" {
			continue
		}
		i := slices.IndexFunc(st.Strays, func(s race.StrayTag) bool { return s.Tag == row["tag"] })
		k := slices.IndexFunc(st.Suspects, func(s race.Suspect) bool { return s.ID == race.UnassignedChip+":"+row["tag"] })
		if i < 0 || k < 0 || len(st.Strays[i].Passings) < 3 {
			continue
		}
		s := &st.Suspects[k]
		var named []string
		for _, p := range append([]string{s.Proposes}, s.Others...) {
			if _, bib, ok := strings.Cut(p, " --bib "); ok && strings.HasPrefix(p, race.AssignChip+" ") {
				named = append(named, bib)
			}
		}
		x.owners++
		like := neverRead(st, row["bibs"])
		x.blind += 1 / float64(like)
		at := slices.Index(named, row["bibs"])
		switch {
		case at == 0 && named[0] == row["bibs"]:
			x.first++
			x.three++
			if like == 1 {
				x.firstAlone++
			}
		case at > 0 && at < 3:
			x.three++
			x.says = append(x.says, fmt.Sprintf("%s owner %s is not first: %s", name, row["bibs"], s.Says))
		default:
			x.says = append(x.says, fmt.Sprintf("%s owner %s is not among three: %s", name, row["bibs"], s.Says))
		}
		if like == 1 {
			x.alone++
		}
		if s.Strong && strings.HasPrefix(s.Proposes, race.AssignChip) {
			x.strong++
			if at == 0 {
				x.strongRight++
			} else {
				x.says = append(x.says, fmt.Sprintf("%s is strong and wrong", s.ID))
			}
		}
	}
}

// pairsOf compares the pairs told as swapped with who wore whose chip.
func (x *trust) pairsOf(t *testing.T, name, dir string, st *race.State) {
	t.Helper()
	with := map[string]string{}
	for _, row := range truthTable(t, dir, "athletes.csv") {
		if b, ok := strings.CutPrefix(row["identity"], "swap:"); ok {
			with[row["bib"]] = b
		}
	}
	for i := range st.Suspects {
		s := &st.Suspects[i]
		if s.Kind != race.Swapped {
			continue
		}
		x.swaps++
		right := func(p string) bool {
			w := strings.Fields(p)
			return len(w) == 5 && w[0] == race.SwapBibs && with[w[2]] == w[4]
		}
		switch {
		case right(s.Proposes):
			x.swapsRight++
			x.swapsNamed++
		case slices.ContainsFunc(s.Others, right):
			x.swapsNamed++
			fallthrough
		default:
			x.says = append(x.says, fmt.Sprintf("%s not the true pair (%s: %s, %s: %s): %s", name, s.Bibs[0], with[s.Bibs[0]], s.Bibs[1], with[s.Bibs[1]], s.Says))
		}
	}
}

// neverRead counts those of a bib's wave who have no passing and no status: times can't tell
// them apart but by how fast their sex and age run.
func neverRead(st *race.State, bib string) int {
	n, b := 0, st.Results[st.ByBib[bib]]
	for i := range st.Results {
		if r := st.Results[i]; r.Wave == b.Wave && r.Status == "" && (len(r.Passings) == 0 || r.Bib == bib) {
			n++
		}
	}
	return max(1, n)
}

// truthTable is a table of the truth, a map a row.
func truthTable(t *testing.T, dir, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, "truth", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatal(name, err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for k, c := range rows[0] {
			m[c] = row[k]
		}
		out = append(out, m)
	}
	return out
}
