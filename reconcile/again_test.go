package reconcile_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"sort"
	"strconv"
	"testing"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

const examples = "../testdata/races"

// A race whose logs grow read by read is at every moment the race computed whole, whoever of
// the field is asked; most of the time only what came is dealt. The seed is 7, or
// TWINMAT_AGAIN.
func TestReadByReadIsTheWhole(t *testing.T) {
	kinds, err := os.ReadDir(examples)
	if err != nil {
		t.Fatal(err)
	}
	moments := 40
	if testing.Short() {
		moments = 15
	}
	seed := uint64(7)
	if n, err := strconv.Atoi(os.Getenv("TWINMAT_AGAIN")); err == nil {
		seed = uint64(n)
	}
	for _, enough := range []int{5, 6000} {
		all, again := 0, 0
		for _, kind := range kinds {
			f, err := ingest.Read(filepath.Join(examples, kind.Name()))
			if err != nil {
				t.Fatal(err)
			}
			a := growing(t, f, fmt.Sprintf("%s, %d asked", kind.Name(), enough), enough, moments, rand.New(rand.NewPCG(seed, uint64(enough))))
			all, again = all+moments, again+a
		}
		t.Logf("%d asked: %d of %d moments dealt only what came", enough, again, all)
		if 3*again < all {
			t.Errorf("%d asked: only %d of %d moments dealt only what came", enough, again, all)
		}
	}
}

// growing follows a race by small steps and tells how many of them dealt only what came.
func growing(t *testing.T, f *ingest.Folder, name string, enough, moments int, rng *rand.Rand) (again int) {
	t.Helper()
	var g reconcile.Engine
	in := f.Input()
	in.Reads = make([]*race.Reads, len(f.Reads))
	in.Rulings = nil
	share := make([]float64, len(f.Reads))
	for s := range share {
		share[s] = 0.3 + 0.6*rng.Float64()
		in.Reads[s] = grown(in.Reads[s], f.Reads[s], share[s])
	}
	var before *race.State
	gave := ""
	for moment := range moments {
		for range 1 + rng.IntN(2) {
			s := rng.IntN(len(share))
			in.Reads = append([]*race.Reads(nil), in.Reads...)
			switch rng.IntN(12) {
			case 0: // the file was cut
				share[s] = max(0.1, share[s]-0.1*rng.Float64())
				in.Reads[s] = grown(nil, f.Reads[s], share[s])
			case 1, 2, 3:
				share[s] = min(1, share[s]+0.05*rng.Float64())
			case 4: // the same again, read a little later
				in.Reads[s] = lingering(in.Reads[s], rng)
				continue
			default:
				share[s] = min(1, share[s]+0.004*rng.Float64())
			}
			in.Reads[s] = grown(in.Reads[s], f.Reads[s], share[s])
		}
		if before != nil && rng.IntN(10) == 0 {
			b := stepper{in: in, st: before, rng: rng}
			b.rule()
			if rng.IntN(2) == 0 { // it is but tried
				tried, want := g.ComputeAsking(b.in, enough), reconcile.ComputeAsking(b.in, enough)
				if x, y := told(t, want), told(t, tried); x != y {
					t.Fatalf("%s, moment %d: a ruling that is tried makes another race than computed whole: %s", name, moment, parting(x, y))
				}
			} else {
				in = b.in
			}
		}
		st := g.ComputeAsking(in, enough)
		if g.DealtAgain() {
			again++
		}
		want := reconcile.ComputeAsking(in, enough)
		if a, b := told(t, want), told(t, st); a != b || !reflect.DeepEqual(want.Results, st.Results) {
			t.Fatalf("%s, moment %d: another race than computed whole: %s", name, moment, parting(a, b))
		}
		if before != nil && told(t, before) != gave {
			t.Fatalf("%s, moment %d: the state given before has changed", name, moment)
		}
		before, gave = st, told(t, st)
	}
	return again
}

// grown is a log up to a share of its time, with the slices of the one before where a tag's
// reads are the same, and its tags in their order.
func grown(before, whole *race.Reads, share float64) *race.Reads {
	first, last := race.NoInstant, race.NoInstant
	for tag := range whole.Tags.All() {
		first, last = earlier(first, tag.Reads[0].At), max(last, tag.Reads[len(tag.Reads)-1].At)
	}
	end := first + race.Instant(share*float64(last-first))
	y := *whole
	y.Kept = 0
	var list race.TagEdit
	at := map[string]int{}
	if before != nil {
		list = before.Tags.Edit()
		for i := range before.Tags.Len() {
			at[before.Tags.At(i).Tag] = i
		}
	}
	for tag := range whole.Tags.All() {
		n := sort.Search(len(tag.Reads), func(i int) bool { return tag.Reads[i].At > end })
		i, ok := at[tag.Tag]
		if ok {
			n = max(n, len(list.Peek(i).Reads))
		}
		if n == 0 {
			continue
		}
		y.Kept += n
		switch {
		case !ok:
			list.Grow(list.Len() + 1)
			*list.At(list.Len() - 1) = race.TagReads{Tag: tag.Tag, Reads: tag.Reads[:n:n], Twice: tag.Twice}
		case len(list.Peek(i).Reads) < n:
			list.At(i).Reads = tag.Reads[:n:n]
		}
	}
	y.Tags = list.List()
	y.Lines = y.Kept + y.Repeated + y.BadLines + y.Waiting
	return &y
}

func earlier(a, b race.Instant) race.Instant {
	if !a.Known() || b < a {
		return b
	}
	return a
}

// lingering is a log in which somebody's last read came once more.
func lingering(x *race.Reads, rng *rand.Rand) *race.Reads {
	if x.Tags.Len() == 0 {
		return x
	}
	y := *x
	list := x.Tags.Edit()
	t := list.At(rng.IntN(list.Len()))
	last := t.Reads[len(t.Reads)-1]
	last.At += race.Instant(rng.IntN(3000))
	t.Reads = append(t.Reads[:len(t.Reads):len(t.Reads)], last)
	y.Tags = list.List()
	y.Kept++
	y.Lines++
	return &y
}

// told is everything that a state tells.
func told(t *testing.T, st *race.State) string {
	t.Helper()
	var b bytes.Buffer
	for _, f := range export.Files {
		if err := f.Write(&b, st, export.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	fmt.Fprintf(&b, "%d %+v %v\n", st.Now, st.Sums, st.Closed)
	for i := range st.Results {
		fmt.Fprintln(&b, st.Results[i].Bib, "expected", st.Expected[i])
	}
	for i := range st.Suspects {
		x := &st.Suspects[i]
		fmt.Fprintf(&b, "%+v %v %d %d\n", *x.Finding, x.Settled, x.SettledBy, x.Urgency)
	}
	for i := range st.Strays {
		x := &st.Strays[i]
		fmt.Fprintln(&b, x.Tag, x.Ignored, x.Reads, x.Lines, x.First, x.Last, len(x.Passings))
	}
	for _, s := range st.Systems {
		fmt.Fprintf(&b, "%+v\n", s)
	}
	return b.String()
}

func parting(a, b string) string {
	x, y := bytes.Split([]byte(a), []byte("\n")), bytes.Split([]byte(b), []byte("\n"))
	for i := range min(len(x), len(y)) {
		if !bytes.Equal(x[i], y[i]) {
			return fmt.Sprintf("\n%s\nwhole, and then\n%s", x[i], y[i])
		}
	}
	return fmt.Sprintf("%d lines whole, %d", len(x), len(y))
}

// Of whom no list has a bib, what comes after their first read is dealt as everybody's is, a second
// chip of theirs too.
func TestMoreOfABibThatNobodyHasIsDealtAgain(t *testing.T) {
	p := fiveOn([]race.Line{{ID: "start", Window: 5000, Logs: []int{0}}, {ID: "finish", Window: 5000, Logs: []int{1}}}, []race.Log{{System: race.Main}, {System: race.Main, Line: 1}})
	in := reconcile.Input{Plan: p, Athletes: []race.Athlete{{Bib: "1", Start: race.NoInstant}}, Reads: make([]*race.Reads, 2)}
	for i, bib := range []string{"1", "9", "9"} {
		in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprint("T", i), Bib: bib, From: race.NoInstant, To: race.NoInstant})
	}
	whole := func(source int, from race.Millis) *race.Reads {
		return logOf(source, 3, func(i int) (string, []race.Instant) {
			var at []race.Instant
			for n := range race.Millis(12) { // T0 first, then T1, then T2
				at = append(at, nineOClock.Add(from+40_000*race.Millis(i)+7000*n))
			}
			return fmt.Sprint("T", i), at
		})
	}
	logs := []*race.Reads{whole(0, 0), whole(1, 1_200_000)}
	var g reconcile.Engine
	again := 0
	for n := 1; n <= 40; n++ {
		s := n / 21
		in.Reads = append([]*race.Reads(nil), in.Reads...)
		in.Reads[s] = grown(in.Reads[s], logs[s], float64(n-20*s)/20)
		st := g.ComputeAsking(in, 5)
		if g.DealtAgain() {
			again++
		}
		if want := reconcile.ComputeAsking(in, 5); told(t, want) != told(t, st) || !reflect.DeepEqual(want.Results, st.Results) {
			t.Fatalf("moment %d: another race than computed whole: %s", n, parting(told(t, want), told(t, st)))
		}
	}
	if again != 37 { // all but the first, the one in which bib 9 came, and the other log's first
		t.Errorf("%d of 40 moments dealt only what came", again)
	}
}
