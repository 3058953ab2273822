package main

import (
	"bytes"
	"encoding/csv"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// examples are the races of testdata/races: one of each kind, invented, small, with what
// truly happened. TWINMAT_EXAMPLES=write makes them anew; seed 1 always.
var examples = []struct {
	kind     string
	athletes int
}{
	{"demo", 20}, {"road", 20}, {"marathon", 16}, {"out-and-back", 16}, {"laps", 8}, {"open-laps", 5}, {"day", 3}, {"relay", 8}, {"triathlon", 10},
	{"mass-ride", 16}, {"kart", 12}, {"time-trial", 20}, {"dirty", 8}, {"steps", 60}, {"steps-main", 60}, {"hand", 20}, {"two-courses", 20}, {"village", 20},
	{"flagged", 8}, {"late-gun", 20}, {"sessions", 20},
}

const examplesDir = "../../testdata/races"

// truthFiles are those that the tests ask. Of all that is true of a passing kept.csv has what
// main keeps or would have kept of it.
var truthFiles = []string{"athletes.csv", "anomalies.csv", "rulings.sh", "kept.csv"}

// made makes an example anew in a folder.
func made(t *testing.T, kind string, athletes int, dir string) {
	t.Helper()
	m, err := invent.Make(invent.Options{Kind: kind, Seed: 1, Athletes: athletes})
	if err != nil {
		t.Fatal(err)
	}
	if err := m.Write(dir); err != nil {
		t.Fatal(err)
	}
	truth := t.TempDir()
	if err := m.WriteTruth(truth); err != nil {
		t.Fatal(err)
	}
	var kept strings.Builder
	kept.WriteString("bib,split,kept\n")
	for _, p := range table(t, filepath.Join(truth, "passings.csv")) {
		if p["real"] == "true" && p["split"] != "" {
			kept.WriteString(p["bib"] + "," + p["split"] + "," + p["main_"+p["keep"]] + "\n")
		}
	}
	if err := os.WriteFile(filepath.Join(truth, "kept.csv"), []byte(kept.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, name := range truthFiles {
		b, err := os.ReadFile(filepath.Join(truth, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll(filepath.Join(dir, "truth"), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "truth", name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// The examples are what their kind, seed and size make: `demo --kind KIND --athletes N` opens
// the same race.
func TestTheExamplesAreMadeOfTheirSeed(t *testing.T) {
	for _, x := range examples {
		want := filepath.Join(examplesDir, x.kind)
		if os.Getenv("TWINMAT_EXAMPLES") == "write" {
			if err := os.RemoveAll(want); err != nil {
				t.Fatal(err)
			}
			made(t, x.kind, x.athletes, want)
		}
		dir := t.TempDir()
		made(t, x.kind, x.athletes, dir)
		n := 0
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			n++
			rel, _ := filepath.Rel(dir, path)
			a, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			if b, err := os.ReadFile(filepath.Join(want, rel)); err != nil || !bytes.Equal(a, b) {
				t.Errorf("%s: %s differs from what is made; %v", x.kind, rel, err)
			}
			return nil
		})
		if err != nil || n < 6 {
			t.Fatalf("%s: %d files, %v", x.kind, n, err)
		}
	}
	kinds := len(invent.Kinds) - 1 // but for the one of fifty thousand
	if len(examples) != kinds {
		t.Errorf("%d examples of %d kinds", len(examples), kinds)
	}
}

// table reads a CSV file into rows by column.
func table(t *testing.T, path string) []map[string]string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	all, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// truly is what main keeps, or would have kept, by bib and split.
type truly struct {
	at     map[[2]string]race.Instant
	jumped bool // main's own clock did
}

func trueTimes(t *testing.T, dir string) truly {
	t.Helper()
	out := truly{map[[2]string]race.Instant{}, filepath.Base(dir) == "steps-main"}
	for _, p := range table(t, filepath.Join(dir, "truth", "kept.csv")) {
		at, err := time.Parse(time.RFC3339Nano, p["kept"])
		if err != nil {
			t.Fatal(err)
		}
		out.at[[2]string{p["bib"], p["split"]}] = race.Instant(at.UnixMilli())
	}
	return out
}

// is tells whether a filled split has its true time: to the millisecond from main, within
// twice its interval from elsewhere.
func (k truly) is(x *race.Result, split int) bool {
	p := &x.Passings[x.Filled[split]]
	want, ok := k.at[[2]string{x.Bib, x.Splits[split].ID}]
	off := p.At.Sub(want)
	off = max(off, -off)
	if p.From == race.FromMain && !k.jumped {
		return ok && off == 0
	} // a main that jumped is moved by as much as backup tells
	return ok && off <= 2*p.PlusMinus
}

// wrong lists the filled splits of a result whose times aren't the true ones.
func (k truly) wrong(x *race.Result, zone *time.Location) (all int, wrong []string) {
	for s, n := range x.Filled {
		if n < 0 || x.Passings[n].From == race.FromRuling {
			continue
		}
		all++
		if !k.is(x, s) {
			p := &x.Passings[n]
			wrong = append(wrong, x.Splits[s].ID+" "+p.At.Format(zone)+" "+p.From.String()+", in truth "+k.at[[2]string{x.Bib, x.Splits[s].ID}].Format(zone))
		}
	}
	return all, wrong
}

// Every kind of race gives what truly happened: the states that it may be in, the times of
// who wears their own chips, and what must be found, most of it: a dozen athletes tell little
// of a wave or a distance. Where main's own clock jumped only a ruling makes times right.
func TestEveryKindOfRace(t *testing.T) {
	times, must, found := 0, 0, 0
	for _, x := range examples {
		t.Run(x.kind, func(t *testing.T) {
			f, err := ingest.Read(filepath.Join(examplesDir, x.kind))
			if err != nil {
				t.Fatal(err)
			}
			st := reconcile.Compute(f.Input())
			sumsHold(t, x.kind, st.Sums)
			kept := trueTimes(t, filepath.Join(examplesDir, x.kind))
			for _, w := range table(t, filepath.Join(examplesDir, x.kind, "truth", "athletes.csv")) {
				k, ok := st.ByBib[w["bib"]]
				states := strings.Split(w["state"], "|")
				if !ok {
					if w["state"] != "" && !slices.Contains(states, "") {
						t.Errorf("%s has no row", w["bib"])
					}
					continue
				}
				r := st.Results[k]
				if !slices.Contains(states, r.State) {
					t.Errorf("%s is %s, in truth %s", r.Bib, r.State, w["state"])
				}
				if w["identity"] != "" || x.kind == "steps-main" {
					continue
				}
				n, wrong := kept.wrong(r, st.Plan.Zone)
				times += n
				if len(wrong) > 0 {
					t.Errorf("%s, %s: %v", r.Bib, r.State, wrong)
				}
				if r.State != "clean" {
					continue
				}
				if laps, _ := strconv.Atoi(w["laps"]); r.Laps > 0 && r.Laps != laps {
					t.Errorf("%s has %d laps, in truth %d", r.Bib, r.Laps, laps)
				}
			}
			for _, w := range table(t, filepath.Join(examplesDir, x.kind, "truth", "anomalies.csv")) {
				if w["must"] != "yes" {
					continue
				}
				must++
				if told(st, w) {
					found++
				} else {
					t.Logf("not found: %s %s %s: %s", w["kind"], w["bibs"], w["split"], w["note"])
				}
			}
		})
	}
	t.Logf("%d times, %d of %d found that must be", times, found, must)
	if must == 0 || float64(found) < 0.85*float64(must) {
		t.Errorf("%d of %d found that must be", found, must)
	}
}

// told tells whether a suspect speaks of what happened, under its own name or one beside.
func told(st *race.State, w map[string]string) bool {
	kinds := append(strings.Fields(w["also"]), w["kind"])
	bibs := strings.Fields(w["bibs"])
	for i := range st.Suspects {
		s := &st.Suspects[i]
		if !slices.Contains(kinds, s.Kind) {
			continue
		}
		switch {
		case w["tag"] != "" && s.Tag != "":
			if strings.EqualFold(s.Tag, w["tag"]) {
				return true
			}
		case len(bibs) > 0 && len(s.Bibs) > 0:
			if slices.ContainsFunc(s.Bibs, func(b string) bool { return slices.Contains(bibs, b) }) {
				return true
			}
		default:
			if w["line"] == "" || s.Line == "" || s.Line == w["line"] {
				return true
			}
		}
	}
	return false
}

// After the rulings of somebody who knows all, every finish is the true one and every state.
func TestEveryKindOfRaceAfterTheRulings(t *testing.T) {
	if testing.Short() {
		t.Skip("not in a short run")
	}
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("SKIPPED: there is no bash here")
	}
	for _, x := range examples {
		t.Run(x.kind, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), x.kind)
			if err := os.CopyFS(dir, os.DirFS(filepath.Join(examplesDir, x.kind))); err != nil {
				t.Fatal(err)
			}
			c := exec.Command(bash, filepath.Join(dir, "truth", "rulings.sh"))
			c.Env = append(os.Environ(), asProgram+"=1", "RACE="+dir, "TWINMAT="+os.Args[0])
			said, err := c.CombinedOutput()
			if err != nil {
				t.Errorf("not every ruling was taken: %v\n%s", err, said)
			}
			f, err := ingest.Read(dir)
			if err != nil {
				t.Fatal(err)
			}
			st := reconcile.Compute(f.Input())
			kept := trueTimes(t, dir)
			for _, w := range table(t, filepath.Join(dir, "truth", "athletes.csv")) {
				k, ok := st.ByBib[w["bib"]]
				if !ok {
					t.Errorf("%s has no row", w["bib"])
					continue
				}
				r := st.Results[k]
				if _, wrong := kept.wrong(r, st.Plan.Zone); len(wrong) > 0 && r.State == "clean" {
					t.Errorf("%s, %s: %v", r.Bib, r.State, wrong)
				}
				if !slices.Contains(strings.Split(w["state_after"], "|"), r.State) {
					t.Errorf("%s is %s, in truth %s; held for %v", r.Bib, r.State, w["state_after"], r.HeldFor)
				}
			}
		})
	}
}
