package main

import (
	"cmp"
	"os"
	"slices"
	"testing"
	"time"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// benchRace is an invented race to measure on: TWINMAT_BENCH names a folder made with
// `twinmat demo --kind big --write-only`; without it a smaller one is made.
func benchRace(b *testing.B) string {
	b.Helper()
	greatPages()
	if dir := os.Getenv("TWINMAT_BENCH"); dir != "" {
		return dir
	}
	r, err := invent.Make(invent.Options{Kind: "big", Seed: 1, Athletes: 2000})
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	if err := r.Write(dir); err != nil {
		b.Fatal(err)
	}
	return dir
}

// Reading and computing, the two halves of an export.
func BenchmarkRead(b *testing.B) {
	dir := benchRace(b)
	for b.Loop() {
		if _, err := ingest.Read(dir); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCompute(b *testing.B) {
	f, err := ingest.Read(benchRace(b))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		reconcile.Compute(f.Input())
	}
}

// One more read in a race that is computed already, against the whole computation above: the
// ratio tells what a read costs live. The middle and the slowest hundredth are told besides.
func BenchmarkOneMoreRead(b *testing.B) {
	f, err := ingest.Read(benchRace(b))
	if err != nil {
		b.Fatal(err)
	}
	var g reconcile.Engine
	g.Compute(f.Input())
	k, in := 0, f.Input()
	var took []time.Duration
	for b.Loop() {
		in.Reads = slices.Clone(in.Reads)
		s := k % len(in.Reads)
		for in.Reads[s] == nil || in.Reads[s].Kept == 0 {
			s = (s + 1) % len(in.Reads)
		}
		in.Reads[s] = oneMore(in.Reads[s], k)
		k++
		from := time.Now()
		g.Compute(in)
		took = append(took, time.Since(from))
	}
	tellTook(b, took)
}

// The next reads of a race half of which has come, one by one, as they come.
func BenchmarkNextRead(b *testing.B) {
	f, err := ingest.Read(benchRace(b))
	if err != nil {
		b.Fatal(err)
	}
	in, next := halfCome(f.Input())
	var g reconcile.Engine
	g.Compute(in)
	k := 0
	var took []time.Duration
	for b.Loop() {
		x := next[k%len(next)]
		in.Reads = slices.Clone(in.Reads)
		in.Reads[x.source] = withRead(in.Reads[x.source], x.tag, x.read)
		k++
		from := time.Now()
		g.Compute(in)
		took = append(took, time.Since(from))
	}
	tellTook(b, took)
}

// One more read of a chip that nobody owns, and that lies near the finish, again and again.
func BenchmarkStrayRead(b *testing.B) {
	f, err := ingest.Read(benchRace(b))
	if err != nil {
		b.Fatal(err)
	}
	in, next := halfCome(f.Input())
	var g reconcile.Engine
	from := next[0].read
	var took []time.Duration
	g.Compute(in)
	for b.Loop() {
		from.At = from.At.Add(1000)
		in.Reads = slices.Clone(in.Reads)
		in.Reads[next[0].source] = withRead(in.Reads[next[0].source], "0000BEEF", from)
		start := time.Now()
		g.Compute(in)
		took = append(took, time.Since(start))
	}
	tellTook(b, took)
}

// The next 50,000 reads of a race half of which has come, all at once.
func BenchmarkBurst(b *testing.B) {
	f, err := ingest.Read(benchRace(b))
	if err != nil {
		b.Fatal(err)
	}
	half, next := halfCome(f.Input())
	come := half
	come.Reads = slices.Clone(half.Reads)
	for s, x := range half.Reads {
		come.Reads[s] = withReads(x, s, next)
	}
	for b.Loop() {
		b.StopTimer()
		var g reconcile.Engine
		g.Compute(half)
		b.StartTimer()
		g.Compute(come)
	}
}

// withReads is a log with those of some reads more that are its own.
func withReads(x *race.Reads, source int, next []nextRead) *race.Reads {
	y := *x
	tags, at := x.Tags.Edit(), map[string]int{}
	for i := range tags.Len() {
		at[tags.Peek(i).Tag] = i
	}
	for _, n := range next {
		if n.source != source {
			continue
		}
		i, ok := at[n.tag]
		if !ok {
			i = tags.Len()
			at[n.tag] = i
			tags.Grow(i + 1)
			*tags.At(i) = race.TagReads{Tag: n.tag}
		}
		t := tags.At(i)
		t.Reads = append(t.Reads[:len(t.Reads):len(t.Reads)], n.read)
		y.Kept++
		y.Lines++
	}
	y.Tags = tags.List()
	return &y
}

// tellTook tells the middle of times and the slowest hundredth.
func tellTook(b *testing.B, took []time.Duration) {
	slices.Sort(took)
	b.ReportMetric(took[len(took)/2].Seconds()*1000, "ms-middle")
	b.ReportMetric(took[len(took)*9/10].Seconds()*1000, "ms-90th")
	b.ReportMetric(took[len(took)*99/100].Seconds()*1000, "ms-99th")
}

type nextRead struct {
	source int
	tag    string
	read   race.Read
}

// halfCome is an input as it was when half of its reads had come, and the next 50,000 of them.
func halfCome(in reconcile.Input) (reconcile.Input, []nextRead) {
	var all []race.Instant
	for _, x := range in.Reads {
		for t := range x.Tags.All() {
			for _, r := range t.Reads {
				all = append(all, r.At)
			}
		}
	}
	slices.Sort(all)
	half := all[len(all)/2]
	var next []nextRead
	in.Reads = slices.Clone(in.Reads)
	for s, x := range in.Reads {
		var tags []race.TagReads
		y := *x
		y.Kept = 0
		for t := range x.Tags.All() {
			n := 0
			for ; n < len(t.Reads) && t.Reads[n].At < half; n++ {
			}
			if n > 0 {
				tags = append(tags, race.TagReads{Tag: t.Tag, Reads: t.Reads[:n:n]})
				y.Kept += n
			}
			for _, r := range t.Reads[n:] {
				next = append(next, nextRead{s, t.Tag, r})
			}
		}
		y.Lines, y.Tags = y.Kept, race.TagsOf(tags...)
		in.Reads[s] = &y
	}
	slices.SortStableFunc(next, func(a, b nextRead) int { return cmp.Compare(a.read.At, b.read.At) })
	return in, next[:min(len(next), 50000)]
}

// withRead is a log with one read more of a tag.
func withRead(x *race.Reads, tag string, r race.Read) *race.Reads {
	y := *x
	tags, at := x.Tags.Edit(), -1
	for i := range tags.Len() {
		if tags.Peek(i).Tag == tag {
			at = i
		}
	}
	if at < 0 {
		at = tags.Len()
		tags.Grow(at + 1)
		*tags.At(at) = race.TagReads{Tag: tag}
	}
	t := tags.At(at)
	t.Reads = append(t.Reads[:len(t.Reads):len(t.Reads)], r)
	y.Tags = tags.List()
	y.Kept++
	y.Lines++
	return &y
}

// One more ruling in a race that is computed already, each about somebody else: on one bib's
// own time or status, the same but tried, as when a case is opened and left, and on whose a chip
// is. The first, with which the race is also worked out without its rulings, isn't counted.
func BenchmarkOneMoreRuling(b *testing.B) {
	f, err := ingest.Read(benchRace(b))
	if err != nil {
		b.Fatal(err)
	}
	for _, kind := range []string{"own", "tried", "chip"} {
		b.Run(kind, func(b *testing.B) {
			var g reconcile.Engine
			in := f.Input()
			rule := func() {
				n := len(in.Rulings)
				x := race.Ruling{Seq: n + 1, Bib: in.Athletes[n*7919%len(in.Athletes)].Bib, Why: "told at the tent", Who: "timer"}
				switch {
				case kind == "chip":
					x.Rule, x.Tag = race.AssignChip, in.Chips[n*6007%len(in.Chips)].Tag
				case n%2 == 0:
					x.Rule, x.Shift = race.AdjustTime, "+10"
				default:
					x.Rule, x.Status = race.SetStatus, "dnf"
				}
				in.Rulings = append(in.Rulings[:n:n], x)
				g.Compute(in)
				if kind == "tried" && n > 0 {
					in.Rulings = in.Rulings[:n]
					g.Compute(in)
				}
			}
			rule()
			for b.Loop() {
				rule()
			}
		})
	}
}

// oneMore is a log with one tag's last read seen once more, a quarter of a second later.
func oneMore(x *race.Reads, k int) *race.Reads {
	y := *x
	tags := x.Tags.Edit()
	t := tags.At(k * 7919 % x.Tags.Len())
	last := t.Reads[len(t.Reads)-1]
	last.At += 250
	t.Reads = append(t.Reads[:len(t.Reads):len(t.Reads)], last)
	y.Tags = tags.List()
	y.Kept++
	y.Lines++
	return &y
}
