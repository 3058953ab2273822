package main

import (
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// A race half come, whose reads go on to come one by one, is at every moment the race computed
// whole: of fields great enough that one athlete more is no new field, as the small examples'
// are. The seeds are 1, or TWINMAT_NEXT='FROM MANY'.
func TestNextReadsAreTheWhole(t *testing.T) {
	from, many := 1, 1
	fmt.Sscan(os.Getenv("TWINMAT_NEXT"), &from, &many)
	for _, k := range []struct {
		kind     string
		athletes int
	}{{"demo", 300}, {"open-laps", 150}, {"day", 60}, {"relay", 150}, {"triathlon", 150}, {"laps", 90}, {"two-courses", 300}, {"mass-ride", 300}, {"kart", 60}, {"steps-main", 200}, {"late-gun", 200}, {"flagged", 80}} {
		for seed := from; seed < from+many; seed++ {
			t.Run(fmt.Sprint(k.kind, "-", seed), func(t *testing.T) {
				t.Parallel()
				goesOn(t, k.kind, k.athletes, uint64(seed))
			})
		}
	}
}

// inventedRace is a race that is invented, and its folder as it is read.
func inventedRace(t *testing.T, o invent.Options) (*invent.Race, *ingest.Folder) {
	t.Helper()
	r, err := invent.Make(o)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := r.Write(dir); err != nil {
		t.Fatal(err)
	}
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	return r, f
}

// goesOn lets the next reads of a race come, of which every so many-th is held against the whole.
func goesOn(t *testing.T, kind string, athletes int, seed uint64) {
	t.Helper()
	_, f := inventedRace(t, invent.Options{Kind: kind, Seed: seed, Athletes: athletes})
	in, next := halfCome(f.Input())
	var g reconcile.Engine
	g.Compute(in)
	const moments, between = 15, 12
	for k, x := range next[:min(len(next), moments*between)] {
		in.Reads = slices.Clone(in.Reads)
		in.Reads[x.source] = withRead(in.Reads[x.source], x.tag, x.read)
		st := g.Compute(in)
		if k%between != between-1 {
			continue
		}
		if what := unlike(st, reconcile.Compute(in)); what != "" {
			t.Fatalf("after %d reads more, not as computed whole: %s", k+1, what)
		}
	}
}

// unlike names what of two states is not the same, "" : nothing.
func unlike(a, b *race.State) string {
	for _, x := range []struct {
		what string
		a, b any
	}{{"results", a.Results, b.Results}, {"ranks", a.Ranks, b.Ranks}, {"expected", a.Expected, b.Expected}, {"sums", a.Sums, b.Sums}, {"now", a.Now, b.Now}, {"closed", a.Closed, b.Closed}, {"suspects", a.Suspects, b.Suspects}} {
		if !reflect.DeepEqual(x.a, x.b) {
			return x.what
		}
	}
	for _, x := range []struct {
		what string
		a, b any
	}{{"systems", a.Systems, b.Systems}, {"clocks", a.Clocks, b.Clocks}} { // with NaNs, which differ from themselves
		if s, w := fmt.Sprintf("%+v", x.a), fmt.Sprintf("%+v", x.b); s != w {
			n := 0
			for n < min(len(s), len(w)) && s[n] == w[n] {
				n++
			}
			from := max(0, n-200)
			return fmt.Sprintf("%s:\n%s\nwhole:\n%s", x.what, strings.ToValidUTF8(s[from:min(len(s), n+200)], ""), strings.ToValidUTF8(w[from:min(len(w), n+200)], ""))
		}
	}
	return ""
}
