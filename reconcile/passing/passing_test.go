package passing

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

func reads(at ...race.Instant) []race.Read {
	var out []race.Read
	for _, t := range at {
		out = append(out, race.Read{At: t, RSSI: race.NoRSSI})
	}
	return out
}

// The late element that bridges two sessions is the example of the Kafka documentation of
// session windows: 10 to 12 and 20 with a gap of 5, then 16 arrives and they are one.
func TestBurstsAreSessionWindows(t *testing.T) {
	rule := Rule{Window: 5, Cut: race.NoInstant}
	two := Bursts(nil, []Own{{Tag: "A", Reads: reads(10, 12, 20)}}, rule)
	if len(two) != 2 || two[0].First != 10 || two[0].Last() != 12 || two[1].First != 20 {
		t.Fatalf("10, 12, 20 with a window of 5: %v", two)
	}
	one := Bursts(nil, []Own{{Tag: "A", Reads: reads(10, 12, 16, 20)}}, rule)
	if len(one) != 1 || one[0].First != 10 || one[0].Last() != 20 || one[0].Count != 4 {
		t.Fatalf("10, 12, 16, 20 with a window of 5: %v", one)
	}
	if edge := Bursts(nil, []Own{{Tag: "A", Reads: reads(10, 15)}}, rule); len(edge) != 2 {
		t.Fatalf("a gap of the window itself ends a burst: %v", edge)
	}
}

// Whoever is read without a gap for longer than a burst may last is read on in another: its
// moments have no room for more.
func TestABurstIsNoLongerThanItMayBe(t *testing.T) {
	last := race.Instant(race.LongestBurst)
	b := Bursts(nil, []Own{{Tag: "A", Reads: reads(0, last/2, last, last+1, last+2)}}, Rule{Window: race.LongestBurst, Cut: race.NoInstant})
	if len(b) != 2 || b[0].Last() != last || b[1].First != last+1 || b[1].Last() != last+2 {
		t.Fatalf("%+v", b)
	}
}

func TestTwoChipsOfOneBibAreOneBurst(t *testing.T) {
	b := Bursts(nil, []Own{{Tag: "A", Reads: reads(10, 14)}, {Tag: "B", Reads: reads(12, 30)}}, Rule{Window: 5, Cut: race.NoInstant})
	if len(b) != 2 || b[0].Count != 3 || len(b[0].Tags()) != 2 || len(b[1].Tags()) != 1 || b[1].Tags()[0] != "B" {
		t.Fatalf("%+v", b)
	}
}

func TestABurstIsCutAtTheGun(t *testing.T) {
	b := Bursts(nil, []Own{{Tag: "A", Reads: reads(8, 9, 10, 11)}}, Rule{Window: 5, Cut: 10})
	if len(b) != 2 || b[0].Last() != 9 || b[1].First != 10 {
		t.Fatalf("%+v", b)
	}
}

// A great race has a million bursts: what they are made in is room that is used again.
func TestBurstsOfOneChipAllocateNothing(t *testing.T) {
	own, room := []Own{{Tag: "A", Reads: reads(10, 12, 20, 22, 30)}}, make([]race.Burst, 0, 8)
	if n := testing.AllocsPerRun(100, func() { room = Bursts(room[:0], own, Rule{Window: 5, Cut: race.NoInstant, Wide: true}) }); n > 0 || len(room) != 3 {
		t.Errorf("%d bursts took %v allocations", len(room), n)
	}
}

func TestStrongestTakesTheEarliestOfEquals(t *testing.T) {
	rs := []race.Read{{At: 1, RSSI: -600}, {At: 2, RSSI: -500}, {At: 3, RSSI: -500}}
	b := Bursts(nil, []Own{{Tag: "A", Reads: rs}}, Rule{Window: 5, Cut: race.NoInstant})
	if b[0].Strongest() != 2 || b[0].Peak != -500 {
		t.Fatalf("%+v", b[0])
	}
}

// A parabola's own points give back its vertex; noise of 2 dB leaves the centre unbiased.
func TestCentreOfAParabola(t *testing.T) {
	var rs []race.Read
	for i := -5; i <= 6; i++ {
		at := float64(i) * 100
		rs = append(rs, race.Read{At: race.Instant(at) + 10_000, RSSI: int16(-500 - at*at/5000)})
	}
	if c := Centre(rs); c < 9_998 || c > 10_002 {
		t.Fatalf("the vertex is at 10000, got %d", c)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var sum, n float64
	for range 400 {
		noisy := make([]race.Read, len(rs))
		for i, r := range rs {
			noisy[i] = r
			noisy[i].RSSI += int16(math.Round(20 * rng.NormFloat64()))
		}
		sum += float64(Centre(noisy) - 10_000)
		n++
	}
	if bias := sum / n; math.Abs(bias) > 20 {
		t.Fatalf("bias of %f ms over 400 bursts", bias)
	}
}

// Who stops beyond the antenna to tie a lace, or waited before it, was nearest when they crossed;
// a few reads are all taken, however they lie about the strongest.
func TestCentreOfWhoStaysAtTheLine(t *testing.T) {
	var crossing []race.Read
	for i := -6; i <= 6; i++ {
		at := float64(i) * 250
		crossing = append(crossing, race.Read{At: race.Instant(at) + 100_000, RSSI: int16(-480 - at*at/11_000)})
	}
	stay := func(from race.Instant) (rs []race.Read) {
		for k := range 60 {
			rs = append(rs, race.Read{At: from + race.Instant(500*k), RSSI: -620})
		}
		return rs
	}
	for name, rs := range map[string][]race.Read{
		"stays after":   slices.Concat(crossing, stay(102_000)),
		"waited before": slices.Concat(stay(68_000), crossing),
	} {
		if c := Centre(rs); c < 99_950 || c > 100_050 {
			t.Errorf("%s: crossed at 100000, got %d", name, c)
		}
	}
	few := []race.Read{{At: 1000, RSSI: -500}, {At: 1300, RSSI: -520}, {At: 1900, RSSI: -530}}
	if c := Centre(few); c < 1300 {
		t.Errorf("three reads, the first of them the strongest: %d", c)
	}
}

func spans(at ...race.Instant) []Span {
	var out []Span
	for _, t := range at {
		out = append(out, Span{t, t, t})
	}
	return out
}

func TestJoin(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b []Span
		want [][2]int
	}{
		{"nothing", nil, nil, nil},
		{"one each", spans(10), spans(12), [][2]int{{0, 0}}},
		{"too far", spans(10), spans(15), [][2]int{{0, -1}, {-1, 0}}},
		{"backup missed the first", spans(10, 30), spans(31), [][2]int{{0, -1}, {1, 0}}},
		{"main missed the first", spans(30), spans(11, 31), [][2]int{{-1, 0}, {0, 1}}},
		{"the nearer of two", spans(10, 14), spans(13), [][2]int{{0, -1}, {1, 0}}},
		{"as many pairs as can be", spans(10, 14), spans(13, 18), [][2]int{{0, 0}, {1, 1}}},
		{"overlapping bursts are one crossing", []Span{{0, 20, 20}}, []Span{{18, 25, 25}}, [][2]int{{0, 0}}},
	} {
		got := Join(nil, c.a, c.b, 5)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
				break
			}
		}
	}
}

// What stayed alone on either side is one crossing where two follow each other.
func TestJoinAlone(t *testing.T) {
	for _, c := range []struct {
		name  string
		a, b  []Span
		pairs int
	}{
		{"backup later", spans(10), spans(17), 1},
		{"backup earlier", spans(17), spans(10), 1},
		{"too far", spans(10), spans(20), 2},
		{"two of main's", spans(10, 17), nil, 2},
		{"who is paired stays so", spans(10, 17), spans(11), 2},
		{"out and back", spans(10, 100), spans(17, 93), 2},
		{"the first of two", spans(10), spans(17, 24), 2},
	} {
		got := JoinAlone(Join(nil, c.a, c.b, 5), c.a, c.b, 10)
		i, j := 0, 0
		for _, p := range got {
			if p[0] >= 0 && p[0] != i || p[1] >= 0 && p[1] != j {
				t.Errorf("%s: %v", c.name, got)
			}
			i, j = i+min(1, p[0]+1), j+min(1, p[1]+1)
		}
		if len(got) != c.pairs || i != len(c.a) || j != len(c.b) {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// Every span comes out once, in order, and pairs are close: on random lists, 2000 trials.
func TestJoinKeepsEverything(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for trial := range 2000 {
		make1 := func() []Span {
			var out []Span
			at := race.Instant(0)
			for range rng.IntN(7) {
				at += race.Instant(rng.IntN(12))
				out = append(out, Span{at, at + 1, at})
				at += 6
			}
			return out
		}
		a, b := make1(), make1()
		i, j := 0, 0
		for _, p := range Join(nil, a, b, 5) {
			if p[0] >= 0 {
				if p[0] != i {
					t.Fatalf("trial %d: a out of order: %v", trial, p)
				}
				i++
			}
			if p[1] >= 0 {
				if p[1] != j {
					t.Fatalf("trial %d: b out of order: %v", trial, p)
				}
				j++
			}
			if p[0] >= 0 && p[1] >= 0 && apart(a[p[0]], b[p[1]]) >= 5 {
				t.Fatalf("trial %d: a pair too far apart", trial)
			}
		}
		if i != len(a) || j != len(b) {
			t.Fatalf("trial %d: %d of %d and %d of %d came out", trial, i, len(a), j, len(b))
		}
	}
}
