package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"twinmat/ingest"
	"twinmat/ingest/logs"
	"twinmat/reconcile"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

// exports are all tables of a state as one text, to compare.
func exports(t testing.TB, st *race.State) string {
	t.Helper()
	var b bytes.Buffer
	for _, f := range export.Files {
		fmt.Fprintf(&b, "== %s\n", f.Name)
		if err := f.Write(&b, st, export.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	return b.String()
}

// The same bytes whatever the order of arrival: the logs' files are fed in random chunks,
// in random turns, and computed in between by an engine that remembers. The order of lines
// within a file stays. 40 schedules a race, 200 in all; the seeds are the schedule's number.
func TestOrderOfArrivalChangesNothing(t *testing.T) {
	dir := shared(t)
	schedules := 40
	if testing.Short() {
		schedules = 4
	}
	for _, name := range races {
		t.Run(name, func(t *testing.T) {
			f, err := ingest.Read(filepath.Join(dir, "races", name, "race"))
			if err != nil {
				t.Fatal(err)
			}
			want := exports(t, reconcile.Compute(f.Input()))
			for seed := range schedules {
				if got := exports(t, arrive(t, f, rand.New(rand.NewPCG(uint64(seed), 7)))); got != want {
					t.Fatalf("seed %d: %s", seed, firstDifference(want, got))
				}
			}
		})
	}
}

// arrive feeds a race's files in random chunks and turns, computing now and then.
func arrive(t *testing.T, f *ingest.Folder, rng *rand.Rand) *race.State {
	t.Helper()
	type stream struct {
		source, file int
		rest         []byte
	}
	var g reconcile.Engine
	var all []*stream
	var takers []*logs.Log
	in := f.Input()
	in.Reads = make([]*race.Reads, len(f.Plan.Logs))
	for s := range f.Plan.Logs {
		l := logs.New(f.Plan, s)
		takers = append(takers, l)
		files := f.Reads[s].Files
		for _, k := range rng.Perm(len(files)) {
			b, err := os.ReadFile(filepath.Join(f.Dir, files[k].Path))
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, &stream{s, l.File(files[k].Path), b})
		}
	}
	for left := len(all); left > 0; {
		x := all[rng.IntN(len(all))]
		if x.rest == nil {
			continue
		}
		n := min(len(x.rest), 1+rng.IntN(1<<(4+rng.IntN(14))))
		takers[x.source].Append(x.file, x.rest[:n])
		if x.rest = x.rest[n:]; len(x.rest) == 0 {
			x.rest = nil
			left--
		}
		if rng.IntN(20) == 0 {
			for s, l := range takers {
				in.Reads[s] = l.Reads()
			}
			g.Compute(in)
		}
	}
	for s, l := range takers {
		l.Finish()
		in.Reads[s] = l.Reads()
	}
	return g.Compute(in)
}

func firstDifference(a, b string) string {
	x, y := bytes.Split([]byte(a), []byte("\n")), bytes.Split([]byte(b), []byte("\n"))
	for i := range x {
		if i >= len(y) || !bytes.Equal(x[i], y[i]) {
			other := "(nothing)"
			if i < len(y) {
				other = string(y[i])
			}
			return fmt.Sprintf("line %d\n  %s\n  %s", i+1, x[i], other)
		}
	}
	return "the second is longer"
}

// Nothing vanishes: lines are reads, repeated, bad or waiting; reads are in passings,
// unassigned, or left out for a named reason.
func TestSums(t *testing.T) {
	dir := shared(t)
	for _, name := range races {
		f, err := ingest.Read(filepath.Join(dir, "races", name, "race"))
		if err != nil {
			t.Fatal(err)
		}
		st := reconcile.Compute(f.Input())
		sumsHold(t, name, st.Sums)
	}
}

func sumsHold(t testing.TB, name string, s race.Sums) {
	t.Helper()
	if s.Lines != s.Kept+s.Repeated+s.Bad+s.Waiting {
		t.Errorf("%s: %d lines are not %d reads, %d repeated, %d bad and %d waiting", name, s.Lines, s.Kept, s.Repeated, s.Bad, s.Waiting)
	}
	if s.Kept != s.InPassings+s.Unassigned+s.Ignored+s.Voided+s.Elsewhere+s.TwinLog {
		t.Errorf("%s: %d reads are not %d in passings, %d unassigned, %d ignored, %d voided, %d elsewhere and %d in a log that is main's again",
			name, s.Kept, s.InPassings, s.Unassigned, s.Ignored, s.Voided, s.Elsewhere, s.TwinLog)
	}
	if s.Kept == 0 {
		t.Errorf("%s: no reads at all", name)
	}
}
