package course

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// hoursOf is a field of laps without end: some thirty rounds of about 600 s each, some crossings of
// which are heard faintly, and of every fifth runner reads at a tent, by the share of all that are.
func hoursOf(g *rand.Rand, faint float64, tents int) (*race.Course, []Run) {
	c := &race.Course{Sport: "run", Open: true, LapLength: 1500, Splits: []race.Split{{ID: "lap-1", At: 1500, Sport: "run", Lap: 1}}}
	heard := func() Heard {
		if g.Float64() < faint {
			return faintest
		}
		return 0
	}
	var runs []Run
	for i := range 40 {
		x := Run{Start: race.NoInstant}
		at := 0.
		for k := range 30 {
			at += 600 * (0.97 + 0.06*g.Float64())
			x.Times = append(x.Times, race.Instant(1000*at))
			x.Laps = append(x.Laps, Crossing{At: race.Instant(1000 * at), Heard: heard(), Both: true})
			if i%5 == 0 && k == 14 {
				for range tents {
					at += 350
					x.Laps = append(x.Laps, Crossing{At: race.Instant(1000 * at), Heard: faintest})
				}
			}
		}
		runs = append(runs, x)
	}
	return c, runs
}

// lone is a passing that one system read once.
func lone(at float64) Passing {
	p := seen(0, at)
	p.Systems, p.Full, p.Heard = 1, 0.1, faintest
	return p
}

// Where crossings are well heard and people rest beside the line, one read as late as a lap is
// nobody's lap; where crossings are often heard once, it is one.
func TestOneReadAtATentIsNoLap(t *testing.T) {
	rest := []Passing{seen(0, 600), seen(0, 1200), seen(0, 1800), seen(0, 2400), lone(3000), seen(0, 4950), seen(0, 5550), seen(0, 6150)}
	for _, k := range []struct {
		name  string
		faint float64
		tents int
		want  []int
	}{
		{"well heard, and tents", 0, 8, []int{0, 1, 2, 3, -1}},
		{"often heard once", 0.5, 0, []int{0, 1, 2, 3, 4}},
	} {
		c, runs := hoursOf(rand.New(rand.NewPCG(1, 7)), k.faint, k.tents)
		f := Learn(c, runs)
		if got := Assign(c, rest, gunAt0(), &f); !slices.Equal(got.Split[:5], k.want) {
			t.Errorf("%s: %v, want %v; %+v", k.name, got.Split, k.want, f.Faint)
		}
	}
}

// A crossing that is heard faintly just when it is due stays a lap beside the tents: else the lap
// would be missing.
func TestAFaintCrossingWhenItIsDueIsALap(t *testing.T) {
	c, runs := hoursOf(rand.New(rand.NewPCG(2, 7)), 0.01, 8)
	f := Learn(c, runs)
	ps := []Passing{seen(0, 600), seen(0, 1200), seen(0, 1800), lone(2400), seen(0, 3000), seen(0, 3600)}
	if got := Assign(c, ps, gunAt0(), &f); !slices.Equal(got.Split, []int{0, 1, 2, 3, 4, 5}) {
		t.Errorf("%v, %+v", got.Split, f.Faint)
	}
}

// Who is heard from a tent before the line and then crosses it ends the lap as they cross.
func TestTheLapEndsAsTheyCrossNotAtTheTent(t *testing.T) {
	c, runs := hoursOf(rand.New(rand.NewPCG(3, 7)), 0, 8)
	f := Learn(c, runs)
	a := gunAt0()
	a.Lap = 600_000
	ps := []Passing{seen(0, 600), seen(0, 1200), lone(1700), lone(1760), seen(0, 1850), seen(0, 2450), seen(0, 3050)}
	if got := Assign(c, ps, a, &f); !slices.Equal(got.Split, []int{0, 1, -1, -1, 2, 3, 4}) {
		t.Errorf("%v, %+v", got.Split, f.Faint)
	}
}

// Reads that come far apart, however many, are no crossing's.
func TestHowFaintlyABurstIsHeard(t *testing.T) {
	for _, k := range []struct {
		reads        int
		long, window race.Millis
		want         Heard
	}{{1, 0, 5000, 3}, {2, 900, 5000, 2}, {4, 900, 5000, 1}, {5, 900, 5000, 0}, {300, 30_000, 5000, 0}, {9, 30_000, 5000, 2}, {0, 0, 5000, 0}} {
		if got := HeardOf(k.reads, k.long, k.window); got != k.want {
			t.Errorf("%d reads over %d ms: %d, want %d", k.reads, k.long, got, k.want)
		}
	}
}

// However often they are heard at the tent, for however long, and though they go home from there.
func TestManyReadsAtATentAreNoLaps(t *testing.T) {
	c, runs := hoursOf(rand.New(rand.NewPCG(4, 7)), 0, 8)
	f := Learn(c, runs)
	laps := []Passing{seen(0, 600), seen(0, 1200), seen(0, 1800), seen(0, 2400)}
	long := lone(3000)
	long.After = 1_100_000
	for _, k := range []struct {
		name string
		more []Passing
		want []int
	}{
		{"home from the tent", []Passing{lone(3000)}, []int{-1}},
		{"one after the other", []Passing{lone(3000), lone(3300), lone(3600), lone(3900), lone(4200), lone(4500), seen(0, 5150), seen(0, 5750)}, []int{-1, -1, -1, -1, -1, -1, 4, 5}},
		{"for long", []Passing{long, seen(0, 4720), seen(0, 5320)}, []int{-1, 4, 5}},
	} {
		got := Assign(c, slices.Concat(laps, k.more), gunAt0(), &f)
		for n := range k.more { // nor is each for a person to look at, but one that may be their last lap
			if extra := got.Fate[len(laps)+n] == race.Extra; extra != (len(k.more) == 1) {
				t.Errorf("%s: %v", k.name, got.Fate)
			}
		}
		if !slices.Equal(got.Split, append([]int{0, 1, 2, 3}, k.want...)) {
			t.Errorf("%s: %v, %+v", k.name, got.Split, f.Faint)
		}
	}
}

// Reads at tents that happen to come as evenly as laps teach nobody that crossings are heard so faintly.
func TestEvenReadsAtATentAreNoCrossings(t *testing.T) {
	c, runs := hoursOf(rand.New(rand.NewPCG(5, 7)), 0, 8)
	for i := 0; i < len(runs); i += 5 {
		x := &runs[i]
		at := x.Times[len(x.Times)-1]
		for range 20 {
			at = at.Add(600_000)
			x.Times, x.Laps = append(x.Times, at), append(x.Laps, Crossing{At: at, Heard: faintest})
		}
	}
	if f := Learn(c, runs); f.Faint.Lap[faintest][0] < 6 {
		t.Errorf("a crossing's price is %.2f", f.Faint.Lap[faintest][0])
	}
}

// Where every crossing is heard once, those beside a rest are crossings as well, and none is cheap to leave out.
func TestWhereAllAreHeardOnceNobodyIsAtATent(t *testing.T) {
	c, runs := hoursOf(rand.New(rand.NewPCG(6, 7)), 1, 0)
	for i := range runs {
		for k := 10; k < len(runs[i].Times); k++ {
			runs[i].Times[k] = runs[i].Times[k].Add(800_000)
			runs[i].Laps[k].At = runs[i].Times[k]
		}
	}
	if f := Learn(c, runs); f.Faint.Stray[faintest][1] < 6 {
		t.Errorf("a stray's price is %.2f", f.Faint.Stray[faintest][1])
	}
}

// Of a chip that is worn badly most crossings are heard faintly, each a lap after the one before: all
// are laps. Who is heard beside the line for hours, by chance or at even times of their own, has none.
func TestAChipThatIsHardlyHeardHasAllItsLaps(t *testing.T) {
	c, runs := hoursOf(rand.New(rand.NewPCG(5, 7)), 0, 8)
	f := Learn(c, runs)
	if !f.Faint.Told {
		t.Fatal("nothing was learnt")
	}
	for _, k := range []struct {
		name string
		gap  func(g *rand.Rand) float64 // from one faint passing to the next
		well int                        // every so many-th is well heard
		laps bool
	}{
		{"a weak chip", func(g *rand.Rand) float64 { return 600 * (0.95 + 0.1*g.Float64()) }, 4, true},
		{"a chip never heard well", func(g *rand.Rand) float64 { return 600 * (0.95 + 0.1*g.Float64()) }, 1000, true},
		{"now and then in a tent", func(g *rand.Rand) float64 { return 600 * (0.05 + g.ExpFloat64()) }, 1000, false},
		{"every five minutes in a tent", func(g *rand.Rand) float64 { return 300 }, 1000, false},
	} {
		t.Run(k.name, func(t *testing.T) {
			for seed := range uint64(20) {
				g := rand.New(rand.NewPCG(seed, 8))
				var ps []Passing
				at, crossings := 0.0, 0
				if !k.laps { // ran well heard, before
					for range 8 {
						at += 600
						ps = append(ps, seen(0, at))
					}
				}
				for n := range 24 {
					at += k.gap(g)
					if p := lone(at); n%k.well == k.well-1 {
						ps = append(ps, seen(0, at))
					} else {
						ps = append(ps, p)
					}
				}
				HeardEvenly(c, ps)
				got := Assign(c, ps, gunAt0(), &f)
				for _, s := range got.Split {
					if s >= 0 {
						crossings++
					}
				}
				if k.laps && crossings != 24 || !k.laps && crossings > 9 {
					t.Errorf("seed %d: %d laps", seed, crossings)
				}
			}
		})
	}
}
