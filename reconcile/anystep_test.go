package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Whatever happens to a race that is followed, reads, logs, lists, plans and rulings coming,
// changing and going, it is at every moment the race computed whole. The seeds are the numbers
// from 1, and 479, in which a speed is told by a passing whose own time moves, and 9259, in which a
// backup turns out to be main again while nobody passed;
// TWINMAT_STEPS='FROM SO_MANY' takes others.
func TestAnyStepIsTheWhole(t *testing.T) {
	from, many, kept := 1, 42, []int{479, 9259}
	if testing.Short() {
		many = 10
	}
	if s := os.Getenv("TWINMAT_STEPS"); s != "" {
		if _, err := fmt.Sscan(s, &from, &many); err != nil {
			t.Fatal(err)
		}
		kept = nil
	}
	seeds := kept
	for k := range many {
		seeds = append(seeds, from+k)
	}
	kinds, err := os.ReadDir(examples)
	if err != nil {
		t.Fatal(err)
	}
	moments, again := 0, 0
	for _, seed := range seeds {
		kind := kinds[seed%len(kinds)].Name()
		f, err := ingest.Read(filepath.Join(examples, kind))
		if err != nil {
			t.Fatal(err)
		}
		b := &stepper{t: t, f: f, rng: rand.New(rand.NewPCG(uint64(seed), 99))}
		if seed%4 == 2 {
			b.clocks = rand.New(rand.NewPCG(uint64(seed), 98))
		}
		b.enough = []int{1, 2, 3, 5, 6000}[b.rng.IntN(5)]
		if why := b.run(30); why != "" {
			t.Fatalf("%s, seed %d, %d asked: %s\nafter %s", kind, seed, b.enough, why, strings.Join(b.trace[max(0, len(b.trace)-8):], ", "))
		}
		moments, again = moments+b.moments, again+b.again
	}
	t.Logf("%d moments, %d of them dealt only what came", moments, again)
	if 4*again < moments {
		t.Errorf("only %d of %d moments dealt only what came", again, moments)
	}
}

// stepper is a race to which anything happens.
type stepper struct {
	t              *testing.T
	f              *ingest.Folder
	rng            *rand.Rand
	enough         int
	moments, again int
	trace          []string
	in             reconcile.Input
	whole          []*race.Reads // of each log
	share          []float64     // of whole, that has come
	plans          []*race.Plan
	older          []*race.Reads // that logs once held
	st             *race.State
	calm           bool       // mostly reads come
	clocks         *rand.Rand // by which one of them is set in mid-race; nil: none is
}

func (b *stepper) note(s string, args ...any) { b.trace = append(b.trace, fmt.Sprintf(s, args...)) }

// run takes so many moments of some steps each, and tells what the engine made another of.
func (b *stepper) run(moments int) (why string) {
	var g reconcile.Engine
	b.begin()
	var given []*race.State
	var gave []string
	for range moments {
		for range 1 + b.rng.IntN(3)*b.rng.IntN(2) {
			b.step()
		}
		b.moments++
		want := reconcile.ComputeAsking(b.in, b.enough)
		st := g.ComputeAsking(b.in, b.enough)
		if g.DealtAgain() {
			b.again++
		}
		b.note("computed")
		if b.moments%3 == 0 {
			var anew reconcile.Engine
			if anew.ComputeAsking(b.in, b.enough); g.Unlike(&anew) != "" {
				return g.Unlike(&anew)
			}
		}
		x, y := told(b.t, want), told(b.t, st)
		if x != y {
			return "differs: " + parting(x, y)
		}
		if !reflect.DeepEqual(want.Results, st.Results) {
			for i := range want.Results {
				if !reflect.DeepEqual(want.Results[i], st.Results[i]) {
					return fmt.Sprintf("results differ: %+v\n%+v", want.Results[i], st.Results[i])
				}
			}
			return "results differ"
		}
		if !reflect.DeepEqual(want.Points, st.Points) || fmt.Sprintf("%+v", want.Clocks) != fmt.Sprintf("%+v", st.Clocks) || !reflect.DeepEqual(want.ByBib, st.ByBib) || !reflect.DeepEqual(want.Strays, st.Strays) {
			return "points, clocks, strays or bibs differ"
		}
		for i := range given {
			if told(b.t, given[i]) != gave[i] {
				return "an older state changed"
			}
		}
		given, gave = append(given, st), append(gave, y)
		if len(given) > 2 {
			given, gave = given[1:], gave[1:]
		}
		b.st = st
	}
	return ""
}

// begin makes two plans of the race's: with more logs, shared clocks and other rules of keeping.
func (b *stepper) begin() {
	rng := b.rng
	p := clonePlan(b.f.Plan)
	b.whole = slices.Clone(b.f.Reads)
	for s := range b.whole {
		if b.whole[s] == nil {
			b.whole[s] = &race.Reads{Source: s}
		}
	}
	b.nameAntennas()
	if b.clocks != nil {
		l := p.Lines[b.clocks.IntN(len(p.Lines))].Logs
		s := l[b.clocks.IntN(len(l))]
		b.whole[s] = setFrom(b.whole[s], 0.3+0.4*b.clocks.Float64(), race.Millis(b.clocks.IntN(2_400_000)-1_800_000))
	}
	if rng.IntN(2) == 0 { // more logs of one system
		for range 1 + rng.IntN(2) {
			s := rng.IntN(len(p.Logs))
			l := p.Logs[s]
			l.Path += fmt.Sprint("-", len(p.Logs))
			if rng.IntN(4) == 0 {
				l.System = race.System(rng.IntN(3))
			}
			n := len(p.Logs)
			p.Logs = append(p.Logs, l)
			p.Lines[l.Line].Logs = append(p.Lines[l.Line].Logs, n)
			b.whole = append(b.whole, part(b.whole[s], n, 0.3+0.6*rng.Float64(), race.Instant(rng.IntN(700)), rng))
		}
	}
	if rng.IntN(3) == 0 { // clocks shared
		for s := range p.Logs {
			if rng.IntN(2) == 0 {
				p.Logs[s].Clock = "one-" + p.Logs[s].System.String()
			}
		}
	}
	if rng.IntN(3) == 0 {
		for c := range p.Courses {
			for k := range p.Courses[c].Splits {
				if rng.IntN(2) == 0 {
					p.Courses[c].Splits[k].Keep = race.Keep(rng.IntN(5))
				}
			}
		}
	}
	if rng.IntN(3) == 0 {
		for l := range p.Lines {
			p.Lines[l].Keep = race.Keep(1 + rng.IntN(4))
		}
	}
	b.plans = []*race.Plan{p}
	q := clonePlan(p)
	switch rng.IntN(5) {
	case 0:
		q.Lines[rng.IntN(len(q.Lines))].Window /= 2
	case 1:
		q.Waves[rng.IntN(len(q.Waves))].Gun = race.NoInstant
	case 2:
		q.Logs[rng.IntN(len(q.Logs))].Offset = race.Offset{Fixed: race.Millis(rng.IntN(3000))}
	case 3:
		if c := &q.Courses[rng.IntN(len(q.Courses))]; len(c.Splits) > 0 {
			c.Limit = 1000 * race.Millis(600+rng.IntN(9000))
		}
	}
	b.plans = append(b.plans, q)
	b.in = b.f.Input()
	b.in.Plan = p
	b.in.Rulings = nil
	b.in.Reads = make([]*race.Reads, len(b.whole))
	b.share = make([]float64, len(b.whole))
	for s := range b.share {
		b.share[s] = 0.2 + 0.7*rng.Float64()
		b.in.Reads[s] = grownTo(nil, b.whole[s], b.share[s])
	}
	b.calm = rng.IntN(3) > 0
}

func clonePlan(p *race.Plan) *race.Plan {
	q := *p
	q.Lines, q.Logs, q.Courses, q.Waves = slices.Clone(p.Lines), slices.Clone(p.Logs), slices.Clone(p.Courses), slices.Clone(p.Waves)
	for i := range q.Lines {
		q.Lines[i].Logs = slices.Clone(p.Lines[i].Logs)
	}
	for i := range q.Courses {
		q.Courses[i].Splits = slices.Clone(p.Courses[i].Splits)
	}
	return &q
}
