package course

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// seen is a passing that both systems saw in full.
func seen(line int, at float64) Passing {
	return Passing{Line: line, At: race.Instant(math.Round(at * 1000)), Systems: 2, Full: 1}
}

// Lines: 0 pier, 1 lighthouse.
var outAndBack = splits("run", [2]float64{0, 0}, [2]float64{1, 5000}, [2]float64{1, 15000}, [2]float64{0, 20000})

func TestAssign(t *testing.T) {
	byBackup := seen(0, 7300)
	byBackup.Systems, byBackup.Best = 1, race.Backup
	keyed := func(line int, at float64) Passing {
		return Passing{Line: line, At: race.Instant(at * 1000), Systems: 1, Full: 1, Best: race.Hand, Keyed: true}
	}
	lost := func(line int, at float64) Passing { return Passing{Line: line, At: race.Instant(at * 1000)} }
	for _, c := range []struct {
		name string
		ps   []Passing
		want []int
		fate []race.Fate
	}{
		{"mistyped a quarter of an hour before the finish", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), keyed(0, 6400), seen(0, 7300)}, []int{0, 1, 2, -1, 3}, nil},
		{"mistyped, and read by one system alone", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), keyed(0, 6900), {Line: 0, At: 7_300_000, Systems: 1, Full: .5}}, []int{0, 1, 2, -1, 3}, nil},
		{"mistyped long after", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), seen(0, 7300), keyed(0, 8400)}, []int{0, 1, 2, 3, -1}, nil},
		{"keyed, and read as they linger", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), keyed(0, 7300), seen(0, 7330)}, []int{0, 1, 2, 3, -1}, nil},
		{"keyed, and read as they come back from behind it", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), keyed(0, 7300), seen(0, 7396)}, []int{0, 1, 2, 3, -1}, nil},
		{"nothing but a bib keyed at the finish", []Passing{keyed(0, 7300)}, []int{3}, nil},
		{"keyed alone", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), keyed(0, 7300)}, []int{0, 1, 2, 3}, nil},
		{"a line whose clock is off, after the finish", []Passing{seen(0, 10), seen(0, 7300), lost(1, 8000), lost(1, 11600)}, []int{0, 3, -1, -1}, nil},
		{"a line whose clock is off, and nothing after it", []Passing{seen(0, 10), lost(1, 12000)}, []int{0, 2}, nil},
		{"everything seen", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), seen(0, 7300)}, []int{0, 1, 2, 3}, nil},
		{"missed on the way out", []Passing{seen(0, 10), seen(1, 5500), seen(0, 7300)}, []int{0, 2, 3}, nil},
		{"missed on the way back", []Passing{seen(0, 10), seen(1, 1800), seen(0, 7300)}, []int{0, 1, 3}, nil},
		{"start missed, one line for start and finish", []Passing{seen(1, 1800), seen(1, 5500), seen(0, 7300)}, []int{1, 2, 3}, nil},
		{"nothing but the finish", []Passing{seen(0, 7300)}, []int{3}, nil},
		{"just started", []Passing{seen(0, 10)}, []int{0}, nil},
		{"gave up after the lighthouse", []Passing{seen(0, 10), seen(1, 1800)}, []int{0, 1}, nil},
		{"warmed up before the gun", []Passing{seen(0, -300), seen(0, 10), seen(1, 1800)}, []int{-1, 0, 1}, []race.Fate{race.BeforeGun, race.InSplit, race.InSplit}},
		{"set out before the gun", []Passing{seen(0, -1500), seen(1, 200), seen(1, 4000), seen(0, 5800)}, []int{-1, 1, 2, 3}, nil},
		{"warmed up, heard as they stood near, and missed at the gun", []Passing{seen(0, -300), seen(1, 60), seen(1, 1800), seen(1, 5500), seen(0, 7300)}, []int{-1, -1, 1, 2, 3}, nil},
		{"crossed the start, came back, crossed again", []Passing{seen(0, 10), seen(0, 90), seen(1, 1890), seen(1, 5590)}, []int{-1, 0, 1, 2}, []race.Fate{race.StayedNear, race.InSplit, race.InSplit, race.InSplit}},
		{"lingers after the finish", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), seen(0, 7300), seen(0, 7330), seen(0, 7500)}, []int{0, 1, 2, 3, -1, -1},
			[]race.Fate{race.InSplit, race.InSplit, race.InSplit, race.InSplit, race.StayedNear, race.StayedNear}},
		{"main reads them only as they linger", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), byBackup, seen(0, 7330)}, []int{0, 1, 2, 3, -1},
			[]race.Fate{race.InSplit, race.InSplit, race.InSplit, race.InSplit, race.Extra}},
		{"read again on the way out", []Passing{seen(0, 10), seen(1, 1800), seen(1, 1860), seen(1, 5500), seen(0, 7300)}, []int{0, 1, -1, 2, 3}, nil},
		{"walks in after a long stop", []Passing{seen(0, 10), seen(1, 1800), seen(1, 5500), seen(0, 14000)}, []int{0, 1, 2, 3}, nil},
		{"a weak read long before", []Passing{seen(0, 10), {Line: 1, At: 40_000, Systems: 1, Full: .1}, seen(1, 1800), seen(1, 5500), seen(0, 7300)}, []int{0, -1, 1, 2, 3}, nil},
		{"a cut course keeps its finish, at no human's pace", []Passing{seen(0, 10), seen(1, 1800), seen(0, 2200)}, []int{0, 1, 3}, nil},
		{"the line of another course", []Passing{seen(0, 10), seen(2, 900)}, []int{0, -1}, []race.Fate{race.InSplit, race.NotOnCourse}},
		{"two lines at one instant", []Passing{seen(0, 10), {Line: 0, At: 1_800_000, Systems: 1, Full: .2}, seen(1, 1800), seen(1, 5500), seen(0, 7300)}, []int{0, -1, 1, 2, 3},
			[]race.Fate{race.InSplit, race.Extra, race.InSplit, race.InSplit, race.InSplit}},
		{"nothing at all", nil, []int{}, nil},
	} {
		got := Assign(outAndBack, c.ps, gunAt0(), nil)
		if !reflect.DeepEqual(got.Split, c.want) {
			t.Errorf("%s: splits %v, want %v", c.name, got.Split, c.want)
		}
		if c.fate != nil && !reflect.DeepEqual(got.Fate, c.fate) {
			t.Errorf("%s: fates %v, want %v", c.name, got.Fate, c.fate)
		}
		if got.OutOfOrder {
			t.Errorf("%s: out of order", c.name)
		}
	}
}

// Who has ridden all laps rides another one at ease; nothing of that is a lap of the race.
func TestAfterTheLastLap(t *testing.T) {
	c := lapsCourse(3, 1, 300, "run")
	lap := func(times ...float64) (ps []Passing) {
		for _, at := range times {
			ps = append(ps, seen(0, at))
		}
		return ps
	}
	f := &Field{N: 20, Spread: 0.1, Factor: []float64{-1.15, -1.15, -1.15}, Scatter: []float64{0.1, 0.1, 0.1}, Miss: []float64{0.02, 0.02, 0.02}, Rest: 0.01, After: 0.6}
	for _, k := range []struct {
		name string
		ps   []Passing
		want []int
		last race.Fate
	}{
		{"one to cool down", lap(91, 187, 286, 500), []int{0, 1, 2, -1}, race.StayedNear},
		{"two", lap(91, 187, 286, 500, 720), []int{0, 1, 2, -1, -1}, race.StayedNear},
		{"a lap missed, one to cool down", lap(91, 286, 520), []int{0, 2, -1}, race.StayedNear},
		{"one more at the same pace is for a person to see", lap(91, 187, 286, 388), []int{0, 1, 2, -1}, race.Extra},
		{"stays at the line", lap(91, 187, 286, 300), []int{0, 1, 2, -1}, race.StayedNear},
	} {
		got := Assign(c, k.ps, gunAt0(), f)
		if !slices.Equal(got.Split, k.want) || got.Fate[len(k.ps)-1] != k.last {
			t.Errorf("%s: splits %v, want %v; the last is %v, want %v", k.name, got.Split, k.want, got.Fate[len(k.ps)-1], k.last)
		}
	}
}

// Where nobody rides on after the last lap, who came so often as there are laps rode them
// all: two slow ones are no missed ones, the last two no laps to cool down.
func TestSlowLapsAreNoMissedOnes(t *testing.T) {
	c := lapsCourse(8, 1, 300, "run")
	f := &Field{N: 20, Spread: 0.1, Scatter: []float64{0.1}, Miss: []float64{0.02}, Rest: 0.01, After: 0.004}
	for range c.Splits {
		f.Factor = append(f.Factor, -1.15)
	}
	var ps []Passing
	for _, at := range []float64{95, 190, 380, 475, 665, 760, 890, 1020} {
		ps = append(ps, seen(0, at))
	}
	if got := Assign(c, ps, gunAt0(), f); !slices.Equal(got.Split, []int{0, 1, 2, 3, 4, 5, 6, 7}) {
		t.Errorf("splits %v", got.Split)
	}
	f.After = 0.6
	if got := Assign(c, ps, gunAt0(), f); slices.Equal(got.Split, []int{0, 1, 2, 3, 4, 5, 6, 7}) {
		t.Errorf("in a field that rides on: %v; the price tells nothing", got.Split)
	}
}

// Read at 10 km before 5 km: no order of this course gives that.
func TestAnOrderThatTheCourseCantGive(t *testing.T) {
	c := splits("run", [2]float64{0, 0}, [2]float64{1, 5000}, [2]float64{2, 10000}, [2]float64{3, 15000})
	if got := Assign(c, []Passing{seen(0, 5), seen(2, 1700), seen(1, 3500), seen(3, 5300)}, gunAt0(), nil); !got.OutOfOrder {
		t.Errorf("%v %v", got.Split, got.Fate)
	}
}

// A line that is passed again and again has no order to break: backup read a lap of a course
// without end, and main its wearer as they stayed near.
func TestOneLineHasNoOrder(t *testing.T) {
	c := lapsCourse(1, 1, 6706, "run")
	c.Open, c.LapLength, c.TimeLimit = true, 6706, 12*3600_000
	byBackup := seen(0, 6300)
	byBackup.Systems, byBackup.Best = 1, race.Backup
	got := Assign(c, []Passing{seen(0, 2700), byBackup, seen(0, 6400), seen(0, 9900)}, gunAt0(), nil)
	if got.OutOfOrder || !slices.Equal(got.Split, []int{0, 1, -1, 2}) {
		t.Errorf("out of order %t: %v %v", got.OutOfOrder, got.Split, got.Fate)
	}
}

// A gun that hasn't been fired: the start passings are the anchor.
func TestWithoutAGun(t *testing.T) {
	a := gunAt0()
	a.Gun = race.NoInstant
	if got := Assign(outAndBack, []Passing{seen(0, 10), seen(1, 5500), seen(0, 7300)}, a, nil); !reflect.DeepEqual(got.Split, []int{0, 2, 3}) {
		t.Errorf("%v", got.Split)
	}
}

// A passing at the gun on a lap line is the start, not a lap, also where a lap was missed.
func TestOffTheGrid(t *testing.T) {
	a := gunAt0()
	a.MaxSpeed = 70
	got := Assign(lapsCourse(5, 1, 1000, "kart"), []Passing{seen(0, 6), seen(0, 55), seen(0, 106), seen(0, 155), seen(0, 256)}, a, nil)
	if !reflect.DeepEqual(got.Split, []int{-1, 0, 1, 2, 4}) || got.Fate[0] != race.Started || got.Start != 0 {
		t.Fatalf("%v %v", got.Split, got.Fate)
	}
}

// The last full lap inside the limit counts; open laps are written out as far as they came,
// also where a chip was covered for two of them.
func TestLapsAgainstTheClock(t *testing.T) {
	c := &race.Course{Sport: "run", Open: true, LapLength: 1500, Splits: []race.Split{{ID: "lap-1", At: 1500, Sport: "run", Lap: 1}}}
	a := gunAt0()
	a.Until = 3_600_000
	got := Assign(c, []Passing{seen(0, 480), seen(0, 970), seen(0, 1455), seen(0, 2925), seen(0, 3410), seen(0, 3900)}, a, nil)
	if !reflect.DeepEqual(got.Split, []int{0, 1, 2, 5, 6, -1}) || got.Fate[5] != race.AfterLimit {
		t.Fatalf("%v %v", got.Split, got.Fate)
	}
	if n := len(got.Splits); n != 7 || got.Splits[6].ID != "lap-7" || got.Splits[6].Lap != 7 || got.Splits[6].At != 10500 {
		t.Errorf("%d splits, %+v", n, got.Splits[n-1])
	}
}

// Flagged: the next passing after the leader's finish is a rider's last.
func TestFlagged(t *testing.T) {
	a := gunAt0()
	a.FlagAt = 1_050_000
	got := Assign(lapsCourse(5, 1, 2400, "bike"), []Passing{seen(0, 240), seen(0, 480), seen(0, 720), seen(0, 1060), seen(0, 1300)}, a, nil)
	if !reflect.DeepEqual(got.Split, []int{0, 1, 2, 3, -1}) || got.Fate[4] != race.AfterLimit {
		t.Errorf("%v %v", got.Split, got.Fate)
	}
}

// Who gave up after three laps and came home over the line later rode the first three, not the last,
// in a field that cools down by riding on at ease.
func TestLapsThatNobodySawAreNotCut(t *testing.T) {
	c := lapsCourse(9, 1, 2500, "bike")
	g := rand.New(rand.NewPCG(4, 9))
	var runs []Run
	for i := range 60 {
		x, at := Run{Bib: fmt.Sprint(i), Gun: 0, Start: race.NoInstant}, 0.0
		for range 9 {
			at += 420 + 10*g.NormFloat64() + float64(i)/2
			x.Times = append(x.Times, race.Instant(at*1000))
		}
		x.Laps = crossings(x.Times)
		if i%3 == 0 {
			x.Laps = append(x.Laps, Crossing{At: race.Instant((at + 700 + 200*g.Float64()) * 1000)})
		}
		runs = append(runs, x)
	}
	f := Learn(c, runs)
	got := Assign(c, []Passing{seen(0, 406), seen(0, 830), seen(0, 1228), seen(0, 2246)}, gunAt0(), &f)
	if !slices.Equal(got.Split[:3], []int{0, 1, 2}) {
		t.Errorf("%v %v", got.Split, got.Fate)
	}
}

// Turned early, missed on the way out, missed on the way back: told apart by the pace of the
// legs, seeds 0 to 19, 150 athletes each and a third of them odd. Who turned beyond the
// lighthouse was there twice, and both times fill a split at no human's pace; who turned
// before it was never there; who turned at it was there once, on the way out.
func TestOutAndBackToldApart(t *testing.T) {
	right, all := map[string]int{}, map[string]int{}
	for seed := range uint64(20) {
		m := newMaker(seed, outAndBack, 0, 0)
		var kinds []string
		for range 150 {
			a, kind := oneOutAndBack(m)
			m.add(a)
			kinds = append(kinds, kind)
		}
		got, _ := m.twice()
		for i, kind := range kinds {
			s := judge(&m.all[i], &got[i])
			for _, k := range []string{kind, strings.Fields(kind)[0]} {
				if all[k]++; s.wrong == 0 {
					right[k]++
				}
			}
		}
	}
	for _, kind := range slices.Sorted(maps.Keys(all)) {
		t.Logf("%s: %d of %d right (%.2f %%); seeds 0 to 19", kind, right[kind], all[kind], 100*float64(right[kind])/float64(all[kind]))
	}
	for _, kind := range []string{"all", "turned", "missed on the way out", "missed on the way back"} {
		if all[kind] < 150 || float64(right[kind]) < .99*float64(all[kind]) {
			t.Errorf("%s: %d of %d", kind, right[kind], all[kind])
		}
	}
}

func oneOutAndBack(m *maker) (made, string) {
	pace := math.Exp(m.normal(-1.06, .2))
	leg := func(metres float64) float64 { return metres * pace * math.Exp(m.normal(0, .06)) }
	kind, turn := "all seen", 10000.0
	switch m.rng.IntN(15) {
	case 0:
		kind = "missed on the way out"
	case 1:
		kind = "missed on the way back"
	case 2:
		kind, turn = "turned beyond the lighthouse", m.between(5200, 7000)
	case 3:
		kind, turn = "turned before the lighthouse", m.between(2000, 4900)
	case 4:
		kind, turn = "turned at the lighthouse", 5000
	}
	a := made{a: gunAt0()}
	add := func(line, split int, at float64) {
		a.seen = append(a.seen, crossing{Passing: m.sees(line, at), split: split})
	}
	at := m.between(0, 60)
	add(0, 0, at)
	if turn < 5000 {
		add(0, 3, at+leg(2*turn))
		return a, kind
	}
	at += leg(5000)
	if kind != "missed on the way out" {
		add(1, 1, at)
	}
	if turn > 5000 {
		if at += leg(2 * (turn - 5000)); kind != "missed on the way back" {
			add(1, 2, at)
		}
	}
	add(0, 3, at+leg(5000))
	return a, kind
}

// What was assigned before leaves no trace in what is assigned next.
func TestAssignDependsOnItsArgumentsOnly(t *testing.T) {
	m := loops(3, .2, .1)
	got, f := m.twice()
	for _, i := range rand.New(rand.NewPCG(1, 2)).Perm(len(m.all)) {
		Assign(outAndBack, []Passing{seen(1, 5500), seen(0, 7300)}, gunAt0(), nil)
		if again := Assign(m.c, m.all[i].passings(), m.all[i].a, &f); !reflect.DeepEqual(again.Split, got[i].Split) || again.Margin != got[i].Margin || again.Cost != got[i].Cost {
			t.Fatalf("athlete %d: %v then %v", i, got[i].Split, again.Split)
		}
	}
}
