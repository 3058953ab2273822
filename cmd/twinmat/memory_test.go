package main

import (
	"fmt"
	"math/rand/v2"
	"sort"
	"testing"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

// A race that an engine follows, reads coming and going by log and rulings in between, is at
// every moment the race computed without a memory, to the byte, and what it gave before
// stays as it was given. The seeds are the numbers from 1.
func TestEngineIsCompute(t *testing.T) {
	seeds, moments := 2, 12
	if testing.Short() {
		seeds, moments = 1, 6
	}
	for _, kind := range invent.Kinds {
		if kind == "big" {
			continue
		}
		for seed := 1; seed <= seeds; seed++ {
			m, err := invent.Make(invent.Options{Kind: kind, Seed: uint64(seed), Athletes: 40})
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			if err := m.Write(dir); err != nil {
				t.Fatal(err)
			}
			f, err := ingest.Read(dir)
			if err != nil {
				t.Fatal(err)
			}
			followed(t, f, fmt.Sprintf("%s, seed %d", kind, seed), moments, rand.New(rand.NewPCG(uint64(seed), 11)))
		}
	}
}

func followed(t *testing.T, f *ingest.Folder, name string, moments int, rng *rand.Rand) {
	t.Helper()
	var g reconcile.Engine
	in := f.Input()
	in.Reads = make([]*race.Reads, len(f.Reads))
	var before *race.State
	gave, ruled := "", 0
	for moment := range moments {
		for s, x := range f.Reads {
			if rng.IntN(2) == 0 {
				in.Reads[s] = upTo(x, min(1, (rng.Float64()+float64(moment))/float64(moments-2)))
			}
		}
		for range rng.IntN(4) {
			if x, ok := anyRuling(t, in, before, rng); ok {
				in.Rulings = append(in.Rulings[:len(in.Rulings):len(in.Rulings)], x)
				ruled++
			}
		}
		st := g.Compute(in)
		want, got := exports(t, reconcile.Compute(in)), exports(t, st)
		if want != got {
			t.Fatalf("%s, moment %d: %s", name, moment, firstDifference(want, got))
		}
		if before != nil && exports(t, before) != gave {
			t.Fatalf("%s, moment %d: the state given before has changed", name, moment)
		}
		before, gave = st, got
	}
	t.Logf("%s: %d moments, %d rulings", name, moments, ruled)
}

// upTo is a log as far as a share of its time.
func upTo(x *race.Reads, share float64) *race.Reads {
	first, last := race.NoInstant, race.NoInstant
	for tag := range x.Tags.All() {
		for _, r := range tag.Reads {
			if last = max(last, r.At); !first.Known() || r.At < first {
				first = r.At
			}
		}
	}
	end := first + race.Instant(share*float64(last-first))
	y := *x
	y.Kept = 0
	var tags []race.TagReads
	for tag := range x.Tags.All() {
		if n := sort.Search(len(tag.Reads), func(i int) bool { return tag.Reads[i].At > end }); n > 0 {
			tags, y.Kept = append(tags, race.TagReads{Tag: tag.Tag, Reads: tag.Reads[:n:n], Twice: tag.Twice}), y.Kept+n
		}
	}
	y.Tags = race.TagsOf(tags...)
	y.Lines = y.Kept + y.Repeated + y.BadLines + y.Waiting
	return &y
}

// anyRuling makes one that applies, of a kind taken at random; false where it doesn't.
func anyRuling(t *testing.T, in reconcile.Input, st *race.State, rng *rand.Rand) (race.Ruling, bool) {
	t.Helper()
	if st == nil || len(st.Results) == 0 {
		return race.Ruling{}, false
	}
	x := &st.Results[rng.IntN(len(st.Results))]
	other := &st.Results[rng.IntN(len(st.Results))]
	line := ""
	switch k := rng.IntN(10); {
	case k == 0:
		line = fmt.Sprintf("adjust-time --bib %s --by +%ds", x.Bib, 1+rng.IntN(90))
	case k == 1:
		line = fmt.Sprintf("swap-bibs --bib %s --with %s", x.Bib, other.Bib)
	case k == 2 && len(in.Rulings) > 0:
		line = fmt.Sprintf("undo --seq %d", 1+rng.IntN(len(in.Rulings)))
	case k == 3 && len(x.Passings) > 0:
		p := &x.Passings[rng.IntN(len(x.Passings))]
		line = fmt.Sprintf("void-passing --bib %s --line %s --at %s", x.Bib, in.Plan.Lines[p.Line].ID, p.At.Format(in.Plan.Zone))
	case k == 4 && len(x.Splits) > 0 && x.Gun.Known():
		s := &x.Splits[rng.IntN(len(x.Splits))]
		line = fmt.Sprintf("set-time --bib %s --split %s --at %s", x.Bib, s.ID, x.Gun.Add(race.Millis(s.At*400)).Format(in.Plan.Zone))
	case k == 5 && len(x.Splits) > 0:
		line = fmt.Sprintf("use-system --bib %s --split %s --system backup", x.Bib, x.Splits[rng.IntN(len(x.Splits))].ID)
	case k == 6 && len(st.Strays) > 0:
		line = fmt.Sprintf("assign-chip --tag %s --bib %s", st.Strays[rng.IntN(len(st.Strays))].Tag, x.Bib)
	case k == 7:
		line = fmt.Sprintf("set-status --bib %s --status %s", x.Bib, []string{"dnf", "dns", "dsq", "none"}[rng.IntN(4)])
	case len(st.Suspects) > 0:
		line = st.Suspects[rng.IntN(len(st.Suspects))].Proposes
	}
	if line == "" {
		return race.Ruling{}, false
	}
	y, err := ruling.ParseLine(line+" --why tried", in.Plan)
	if err != nil || ruling.Check(&y, in.Plan, in.Athletes, in.Rulings, st) != nil {
		return race.Ruling{}, false
	}
	y.Seq, y.Made = len(in.Rulings)+1, fmt.Sprintf("2026-01-01T00:00:00.%03dZ", len(in.Rulings))
	if y.Evidence == "" {
		y.Evidence = reconcile.Shown(st, &y)
	}
	return y, true
}
