package reconcile_test

import (
	"fmt"
	"hash/fnv"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

// What once set a followed race apart from the whole, found by steps taken at random.

var nineOClock = race.Of(time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC))

// fiveOn is a course of five kilometres from a gun at nine to a finish, its line's logs and
// those of others as given.
func fiveOn(lines []race.Line, logs []race.Log) *race.Plan {
	for s := range logs {
		logs[s].From, logs[s].To = race.NoInstant, race.NoInstant
	}
	return &race.Plan{Name: "five", Zone: time.UTC, Date: time.Date(2026, 5, 17, 0, 0, 0, 0, time.UTC), Resolution: 10, Lines: lines, Logs: logs,
		Courses: []race.Course{{ID: "five", Sport: "run", Splits: []race.Split{{ID: "finish", At: 5000, Sport: "run"}}}},
		Waves:   []race.Wave{{ID: "A", Gun: nineOClock}}}
}

// logOf is a log with so many tags, each with its reads.
func logOf(source, tags int, reads func(i int) (string, []race.Instant)) *race.Reads {
	x := &race.Reads{Source: source, Antennas: []string{""}, Files: []race.File{{}}}
	var all []race.TagReads
	for i := range tags {
		tag, at := reads(i)
		t := race.TagReads{Tag: tag}
		for _, a := range at {
			x.Kept++
			t.Reads = append(t.Reads, race.Read{At: a, Line: uint32(x.Kept), RSSI: race.NoRSSI})
		}
		all = append(all, t)
	}
	x.Lines, x.Tags = x.Kept, race.TagsOf(all...)
	return x
}

// Where a line has two mains the one that read first stands for both. When by another read
// that becomes the other one, when the line's mains began and ended is told anew.
func TestSpansOfTwoMains(t *testing.T) {
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{0, 1}}}, []race.Log{{System: race.Main}, {System: race.Main}})
	log := func(source int, seconds ...race.Millis) *race.Reads {
		return logOf(source, 1, func(int) (string, []race.Instant) {
			var at []race.Instant
			for _, s := range seconds {
				at = append(at, nineOClock.Add(1000*s))
			}
			return "T1", at
		})
	}
	in := reconcile.Input{Plan: p, Athletes: []race.Athlete{{Bib: "1", Start: race.NoInstant}}, Reads: []*race.Reads{log(0, 1200, 1204), log(1, 1201)},
		Chips: []race.Chip{{Tag: "T1", Bib: "1", From: race.NoInstant, To: race.NoInstant}}}
	var g reconcile.Engine
	g.Compute(in)
	in.Reads = []*race.Reads{in.Reads[0], log(1, 1199, 1201)} // one late line of the second main
	st, want := g.Compute(in), reconcile.Compute(in)
	if !g.DealtAgain() {
		t.Error("all was dealt")
	}
	if a, b := told(t, want), told(t, st); a != b {
		t.Errorf("another race than computed whole: %s", parting(a, b))
	}
}

// Of more tags without an owner than are listed, another line's log may tell which ones those
// are, and so what a log's clock is told from.
func TestVoteOfMoreStraysThanListed(t *testing.T) {
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{0, 1}}, {ID: "far", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{2}}},
		[]race.Log{{System: race.Main}, {System: race.Backup, Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true}}, {Line: 1, System: race.Main}})
	// Ten tags that both read, and ten thousand that main alone read; far's log has those or not.
	const few, many = 10, 10_000
	name := func(i int) string {
		if i < few {
			return fmt.Sprintf("Z%05d", i)
		}
		return fmt.Sprintf("A%05d", i)
	}
	at := func(i int, more ...race.Millis) []race.Instant {
		all := []race.Instant{nineOClock.Add(race.Millis(i * 1000))}
		for _, m := range more {
			all = append(all, all[0].Add(m))
		}
		return all
	}
	main := logOf(0, few+many, func(i int) (string, []race.Instant) { return name(i), at(i) })
	backup := logOf(1, few, func(i int) (string, []race.Instant) {
		return name(i), []race.Instant{at(i)[0].Add(race.Millis(7000 + 10*i))}
	})
	none := logOf(2, 1, func(int) (string, []race.Instant) { return "F", at(0) })
	all := logOf(2, many, func(i int) (string, []race.Instant) { return name(few + i), at(i) })
	twice := logOf(2, many, func(i int) (string, []race.Instant) { return name(few + i), at(i, 60_000) })
	var g reconcile.Engine
	in := reconcile.Input{Plan: p, Athletes: []race.Athlete{{Bib: "1", Start: race.NoInstant}}}
	for n, x := range []*race.Reads{none, all, twice, none, twice} {
		in.Reads = []*race.Reads{main, backup, x}
		st, want := g.Compute(in), reconcile.Compute(in)
		if a, b := told(t, want), told(t, st); a != b || !reflect.DeepEqual(want.Points, st.Points) {
			t.Errorf("%d: another race than computed whole: %s", n, parting(a, b))
		}
	}
}

// drawOf is the number by which somebody is asked among many: a bib's FNV-1a hash without its
// last four bits.
func drawOf(bib string) int {
	h := fnv.New32a()
	h.Write([]byte(bib))
	return int(h.Sum32() >> 4)
}

// Where one who tells of a course leaves it and one who doesn't takes the place, the course
// is learnt anew all the same.
func TestOneWhoTellsLeaves(t *testing.T) {
	const enough = 5
	tried := 0
	for _, kind := range []string{"two-courses", "village", "demo", "road", "steps", "hand", "marathon", "mass-ride"} {
		f, err := ingest.Read(filepath.Join(examples, kind))
		if err != nil {
			t.Fatal(err)
		}
		in := f.Input()
		in.Rulings = nil
		n := 0
		for _, a := range in.Athletes {
			if in.Plan.Waves[a.Wave].Course == 0 {
				n++
			}
		}
		every := n / enough
		if every < 2 {
			continue
		}
		other := 5001 // a bib that isn't asked
		for drawOf(fmt.Sprint(other))%every == 0 {
			other++
		}
		for i, a := range in.Athletes {
			if in.Plan.Waves[a.Wave].Course != 0 || drawOf(a.Bib)%every != 0 {
				continue
			}
			tried++
			var g reconcile.Engine
			g.ComputeAsking(in, enough)
			next := in
			next.Athletes = slices.Clone(in.Athletes)
			next.Athletes[i] = race.Athlete{Bib: fmt.Sprint(other), Wave: a.Wave, Start: race.NoInstant}
			slices.SortFunc(next.Athletes, func(x, y race.Athlete) int { return race.CompareBibs(x.Bib, y.Bib) })
			st, want := g.ComputeAsking(next, enough), reconcile.ComputeAsking(next, enough)
			if x, y := told(t, want), told(t, st); x != y {
				t.Errorf("%s without %s: %s", kind, a.Bib, parting(x, y))
			}
		}
	}
	if tried < 20 {
		t.Errorf("only %d tried", tried)
	}
}

// While a log is away chips change hands; when it is back as it was its vote is another.
func TestVoteOfALogThatWasAway(t *testing.T) {
	kinds := []string{"hand", "steps", "relay", "marathon", "dirty"}
	for _, kind := range kinds {
		f, err := ingest.Read(filepath.Join(examples, kind))
		if err != nil {
			t.Fatal(err)
		}
		in := f.Input()
		in.Rulings = nil
		for s := range in.Reads {
			var g reconcile.Engine
			g.Compute(in)
			away := in
			away.Reads = slices.Clone(in.Reads)
			away.Reads[s] = nil
			away.Chips = slices.Clone(in.Chips[:len(in.Chips)/2])
			g.Compute(away)
			back := away
			back.Reads = in.Reads
			st, want := g.Compute(back), reconcile.Compute(back)
			if x, y := told(t, want), told(t, st); x != y || !reflect.DeepEqual(want.Points, st.Points) {
				t.Errorf("%s, log %d: %s", kind, s, parting(x, y))
			}
		}
	}
}

// A race of hours whose course closes before its time is over still has a state.
func TestOpenCourseClosedByItsLimit(t *testing.T) {
	f, err := ingest.Read(filepath.Join(examples, "open-laps"))
	if err != nil {
		t.Fatal(err)
	}
	in := f.Input()
	in.Rulings = nil
	whole := reconcile.Compute(in)
	p := *in.Plan
	p.Courses = slices.Clone(p.Courses)
	p.Courses[0].Limit = p.Courses[0].TimeLimit / 6
	in.Plan = &p
	half := reconcile.Until(in, whole, p.Waves[0].Gun.Add(p.Courses[0].TimeLimit/2))
	if st := reconcile.Compute(half); !st.Closed[0] {
		t.Error("the course is not closed")
	}
}

// Who rules that a crossing was a later lap than it seemed says that one before it was missed: all
// laps after it are counted on from there, and none is told twice.
func TestARuledLapMovesThoseAfterIt(t *testing.T) {
	f, err := ingest.Read(filepath.Join(examples, "open-laps"))
	if err != nil {
		t.Fatal(err)
	}
	in := f.Input()
	in.Rulings = nil
	was := reconcile.Compute(in)
	tried := 0
	for _, x := range was.Results {
		if len(x.Filled) < 6 || x.State != "clean" || slices.Contains(x.Filled, -1) {
			continue
		}
		tried++
		line := fmt.Sprintf("set-time --bib %s --split %s --at %s --why seen", x.Bib, x.Splits[3].ID, x.Passings[x.Filled[2]].At.Format(in.Plan.Zone))
		y, err := ruling.ParseLine(line, in.Plan)
		if err != nil {
			t.Fatal(err)
		}
		y.Seq = 1
		in.Rulings = []race.Ruling{y}
		st := reconcile.Compute(in)
		r := st.Results[st.ByBib[x.Bib]]
		if len(r.Filled) != len(x.Filled)+1 || !slices.Contains(r.Filled[:3], -1) {
			t.Fatalf("%s: %d laps of %d before, the first %v", x.Bib, len(r.Filled), len(x.Filled), r.Filled[:4])
		}
		for k := 3; k < len(r.Filled); k++ {
			if got, want := r.Passings[r.Filled[k]].At, x.Passings[x.Filled[k-1]].At; got != want {
				t.Errorf("%s: %s at %d, want %d", x.Bib, r.Splits[k].ID, got, want)
			}
		}
	}
	if tried < 3 {
		t.Errorf("only %d tried", tried)
	}
}

// Where main read everybody, a backup's reads that come late change nobody's times, and yet the field
// teaches anew how often both miss a lap.
func TestABackupThatComesLateTeaches(t *testing.T) {
	f, err := ingest.Read(filepath.Join(examples, "laps"))
	if err != nil {
		t.Fatal(err)
	}
	in := f.Input()
	in.Rulings = nil
	var system [race.Systems]int
	for s, l := range in.Plan.Logs {
		system[l.System] = s
	}
	var by []race.TagReads
	for x := range f.Reads[system[race.Main]].Tags.All() {
		by = append(by, *x)
	}
	log := func(system, tags int, later race.Millis) *race.Reads {
		return logOf(system, tags, func(i int) (string, []race.Instant) {
			var at []race.Instant
			for k, r := range by[i].Reads {
				at = append(at, r.At.Add(later*race.Millis(k%7)))
			}
			return by[i].Tag, at
		})
	}
	in.Reads = make([]*race.Reads, len(f.Reads))
	in.Reads[system[race.Main]] = log(system[race.Main], len(by), 0)
	var g reconcile.Engine
	for n := len(by) / 3; n <= len(by); n++ {
		in.Reads = slices.Clone(in.Reads)
		in.Reads[system[race.Backup]] = log(system[race.Backup], n, 30)
		g.Compute(in)
		var anew reconcile.Engine
		if anew.Compute(in); g.Unlike(&anew) != "" {
			t.Fatalf("with %d tags of backup's: %s", n, g.Unlike(&anew))
		}
	}
	if !g.DealtAgain() {
		t.Error("all was dealt")
	}
}

// Of a bib that nobody has the chip is told that was read, and may be ignored.
func TestABibThatNobodyHasIsToldWithItsChip(t *testing.T) {
	found := 0
	for _, kind := range []string{"demo", "marathon", "mass-ride", "road", "village"} {
		f, err := ingest.Read(filepath.Join(examples, kind))
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range reconcile.Compute(f.Input()).Suspects {
			if s.Kind != race.UnlistedBib {
				continue
			}
			found++
			if s.Tag == "" || !slices.Contains(s.Others, "ignore-chip --tag "+s.Tag) {
				t.Errorf("%s: %s: chip %q, %q", kind, s.ID, s.Tag, s.Others)
			}
		}
	}
	if found < 5 {
		t.Errorf("%d bibs that nobody has", found)
	}
}

// A case that a ruling made go away names that ruling, not a later one that speaks of somebody else at the
// same line.
func TestWhatSettledACaseIsTheRulingThatNamesIt(t *testing.T) {
	log := logOf(0, 2, func(i int) (string, []race.Instant) {
		return []string{"T1", "ZZ99"}[i], []race.Instant{nineOClock.Add(1_500_000 + race.Millis(i)*3000)}
	})
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{0}}}, []race.Log{{System: race.Main}})
	in := reconcile.Input{Plan: p, Athletes: []race.Athlete{{Bib: "14", Start: race.NoInstant}}, Reads: []*race.Reads{log},
		Chips: []race.Chip{{Tag: "T1", Bib: "14", From: race.NoInstant, To: race.NoInstant}},
		Rulings: []race.Ruling{{Seq: 1, Rule: race.IgnoreChip, Tags: []string{"ZZ99"}, Why: "a spare"},
			{Seq: 2, Rule: race.Witness, Bib: "14", Line: "finish", Time: "2026-05-17T09:25:00Z", Why: "by eye"}}}
	for _, s := range reconcile.Compute(in).Suspects {
		if s.ID == "unassigned-chip:ZZ99" && s.Settled {
			if s.SettledBy != 1 {
				t.Errorf("settled by ruling %d", s.SettledBy)
			}
			return
		}
	}
	t.Error("the chip is not listed as settled")
}
