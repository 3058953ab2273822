package course

import (
	"math"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// rolling: laps that are begun over their line, by somebody every so often for some seconds;
// the plan may have a split for the start. Who is in unread isn't read there.
func rolling(seed uint64, n int, spread, lap float64, laps int, split bool, unread ...int) *maker {
	c := lapsCourse(laps, 1, lap*3, "run")
	if laps == 0 {
		c = &race.Course{Sport: "run", Open: true, LapLength: lap * 3, TimeLimit: 3600_000, Splits: []race.Split{{ID: "lap-1", At: lap * 3, Sport: "run", Lap: 1}}}
	}
	first := 0
	if split {
		c.Splits, first = slices.Insert(c.Splits, 0, race.Split{ID: "start", Sport: "run"}), 1
	}
	m := newMaker(seed, c, 0, 0)
	for i := range n {
		a := made{a: gunAt0()}
		if laps == 0 {
			a.a.Until = 3600_000
		}
		t, own := m.between(.5, spread), lap*m.between(.85, 1.25)
		switch {
		case slices.Contains(unread, i):
		case split:
			a.cross(m, 0, t)
		default:
			a.stray(m.sees(0, t))
		}
		for k := 0; k < laps || laps == 0; k++ {
			if t += own * m.between(.98, 1.04); laps == 0 && t > 3600 {
				break
			}
			a.cross(m, first+k, t)
		}
		m.add(a)
	}
	return m
}

// How the wave went over the line tells whether a first crossing half a minute, five minutes
// or a lap after the gun is a start.
func TestAStartOnTheLineOfLaps(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(seed uint64) *maker
	}{
		{"three starts missed, open laps", func(s uint64) *maker { return rolling(s, 40, 20, 430, 0, true, 5, 17, 30) }},
		{"three starts missed, four laps", func(s uint64) *maker { return rolling(s, 40, 20, 430, 4, true, 5, 17, 30) }},
		{"three starts missed, a plan of laps only", func(s uint64) *maker { return rolling(s, 40, 20, 430, 0, false, 5, 17, 30) }},
		{"five minutes over the line", func(s uint64) *maker { return rolling(s, 150, 300, 430, 0, true) }},
		{"the same, a plan of laps only", func(s uint64) *maker { return rolling(s, 150, 300, 430, 0, false) }},
		{"the same, four laps", func(s uint64) *maker { return rolling(s, 80, 300, 430, 4, false) }},
		{"half a lap over the line", func(s uint64) *maker { return rolling(s, 150, 40, 90, 12, false) }},
	} {
		s := seeds(0, 4, c.make)
		if s.wrong > 0 || s.laps > 0 {
			t.Errorf("%s: %s; for one:%s", c.name, s, s.failed)
		}
	}
}

// Children's races once round on one line for start and finish: some run a lap of honour, of
// some the start isn't read. A wave is over the line in seconds, and what comes a lap after
// the gun is the finish.
func TestOnceRoundOnOneLine(t *testing.T) {
	s := seeds(0, 20, func(seed uint64) *maker {
		m := newMaker(seed, splits("run", [2]float64{0, 0}, [2]float64{0, 400}), .01, 0)
		for range 25 {
			a := made{a: gunAt0()}
			t := math.Abs(m.normal(2, 1.5))
			a.cross(m, 0, t)
			t += 400 / 2.8 * math.Exp(m.normal(0, .1))
			a.seen = append(a.seen, crossing{Passing: m.sees(0, t), split: 1})
			if m.chance(.25) {
				a.linger(m, 0, 1, t+m.between(40, 500))
			}
			m.add(a)
		}
		return m
	})
	if s.wrong > 0 || s.laps > 0 {
		t.Errorf("%s; for one:%s", s, s.failed)
	}
}

// Who starts long after their wave has started all the same: their laps count from there.
func TestWhoStartsLate(t *testing.T) {
	m := rolling(1, 40, 20, 430, 4, true)
	late := &m.all[7]
	for k := range late.seen {
		late.seen[k].At += 200_000
	}
	if s := m.score(); s.wrong > 0 {
		t.Errorf("%s; for one:%s", s, s.failed)
	}
}

// Where nobody is read at the gun, one lap more than the race has is for a person to see: the
// first is no start.
func TestNoStartWhereNobodyIsRead(t *testing.T) {
	all := make([]int, 40)
	for i := range all {
		all[i] = i
	}
	m := rolling(1, 40, 5, 200, 8, false, all...)
	one := &m.all[3]
	one.stray(m.sees(0, one.seen[7].At.Sub(0).Seconds()+210))
	got, _ := m.twice()
	if want := []int{0, 1, 2, 3, 4, 5, 6, 7, -1}; !slices.Equal(got[3].Split, want) || got[3].Start >= 0 || got[3].Fate[8] != race.Extra {
		t.Errorf("%v, start %d, %v", got[3].Split, got[3].Start, got[3].Fate)
	}
}

// Waves of one course go over the line each in their own time: beside one that takes five
// minutes, who comes a lap after the gun in another that takes ten seconds was not read at
// the start.
func TestEachWaveStartsInItsOwnTime(t *testing.T) {
	m := rolling(1, 30, 10, 200, 6, true, 3, 11)
	const later = 3600_000
	for i, a := range rolling(2, 60, 300, 200, 6, true).all {
		a.a.Gun = later
		a.a.Bib = string(rune('a' + i))
		for k := range a.seen {
			a.seen[k].At += later
		}
		m.all = append(m.all, a)
	}
	if s := m.score(); s.wrong > 0 {
		t.Errorf("%s; for one:%s", s, s.failed)
	}
}

// What a start costs, in nats, by what its field has taught.
func TestPriceOfAStart(t *testing.T) {
	seen := func(share float64, known bool) *Starts {
		return &Starts{Seen: share, Known: known, Late: 30, Spread: 10}
	}
	for _, c := range []struct {
		name     string
		unlisted bool
		starts   *Starts
		laps     bool // so many and no more
		d, want  float64
		miss     float64 // the price of no start, where no split lists it
	}{
		{"nothing known, with the wave", false, nil, false, 20, .2, 0},
		{"nothing known, a lap later", false, nil, false, 400, 4, 0},
		{"in the wave", false, seen(1, true), false, 29, 0, 0},
		{"a bit late", false, seen(1, true), false, 50, 2, 0},
		{"late", false, seen(1, true), false, 300, startLate, 0},
		{"late by a lap, where one lap more would be the race's", false, seen(1, true), true, 400, startLate + 24, 0},
		{"unlisted, nothing known", true, nil, false, 20, .2, 0},
		{"unlisted, a lap later: hardly", true, nil, false, 400, 28, 0},
		{"unlisted, half are read", true, seen(.5, true), false, 20, math.Log(2), math.Log(2)},
		{"unlisted, all are read", true, seen(.99, true), false, 20, -math.Log(.99), -math.Log(.01)},
		{"unlisted, nobody is", true, seen(.01, false), false, 20, -math.Log(.01) + .6, -math.Log(.99)},
	} {
		s := &search{unlisted: c.unlisted, starts: c.starts, open: !c.laps, marks: []mark{{back: 400}, {lap: 1, at: 1200}}}
		for k := range s.per {
			s.per[k] = 1
		}
		var got [classes]float64
		s.begins(&got, c.d)
		if math.Abs(got[0]-c.want) > .01 {
			t.Errorf("%s: a start costs %.2f, want %.2f", c.name, got[0], c.want)
		}
		if got := s.missStart(); c.unlisted && math.Abs(got-c.miss) > .01 {
			t.Errorf("%s: none costs %.2f, want %.2f", c.name, got, c.miss)
		}
	}
}

// The start that no split lists breaks no order, and one lap alone tells a level from the gun.
func TestTheUnlistedStartIsNoSplit(t *testing.T) {
	c := lapsCourse(2, 2, 5000, "run")
	got := Assign(c, []Passing{seen(0, 900), seen(1, 960), seen(1, 1800), seen(0, 2700), seen(1, 3600)}, gunAt0(), nil)
	if got.OutOfOrder || !slices.Equal(got.Split, []int{0, -1, 1, 2, 3}) {
		t.Errorf("out of order %t: %v %v", got.OutOfOrder, got.Split, got.Fate)
	}
	got = Assign(c, []Passing{seen(1, 20), seen(0, 900), seen(1, 1800), seen(0, 2700), seen(1, 3600)}, gunAt0(), nil)
	if got.Start != 0 || !slices.Equal(got.Split, []int{-1, 0, 1, 2, 3}) {
		t.Errorf("laps of two lines: start %d, %v %v", got.Start, got.Split, got.Fate)
	}
	got = Assign(lapsCourse(3, 1, 5000, "run"), []Passing{seen(0, 1800)}, gunAt0(), nil)
	if got.Split[0] != 0 || math.IsNaN(got.Level) {
		t.Errorf("%v, level %.2f", got.Split, got.Level)
	}
	laps := lapsCourse(2, 1, 1000, "run") // and a last stretch to a finish on the same line
	laps.Splits = append(laps.Splits, race.Split{ID: "finish", At: 2500, Sport: "run"})
	got = Assign(laps, []Passing{seen(0, 20), seen(0, 360), seen(0, 700), seen(0, 870)}, gunAt0(), nil)
	if got.Start != 0 || !slices.Equal(got.Split, []int{-1, 0, 1, 2}) {
		t.Errorf("start %d: %v %v", got.Start, got.Split, got.Fate)
	}
}

// Many start over the line that they finish at, or pass on the way, in plans that list no start:
// who sets out there fits no split and is nothing to look at. Who comes over another line first,
// or later than anybody sets out, is.
func TestWhoSetsOutOverALineOfThePlan(t *testing.T) {
	round := splits("run", [2]float64{1, 5000}, [2]float64{0, 10000})
	soonTurn := splits("run", [2]float64{1, 1000}, [2]float64{0, 10000})
	finishOnly := splits("run", [2]float64{0, 3000})
	for _, k := range []struct {
		name string
		c    *race.Course
		ps   []Passing
		want []int
		fate race.Fate // of the first that fills none
	}{
		{"start and finish on one line", round, []Passing{seen(0, 12), seen(1, 1250), seen(0, 2500)}, []int{-1, 0, 1}, race.StayedNear},
		{"the turn missed", round, []Passing{seen(0, 12), seen(0, 2500)}, []int{-1, 1}, race.StayedNear},
		{"over the line twice", round, []Passing{seen(0, -1), seen(0, 40), seen(1, 1250), seen(0, 2500)}, []int{-1, -1, 0, 1}, race.StayedNear},
		{"nothing but a finish", finishOnly, []Passing{seen(0, 8), seen(0, 700)}, []int{-1, 0}, race.StayedNear},
		{"a start that is listed, a second early", outAndBack, []Passing{seen(0, -1), seen(1, 1250), seen(1, 3750)}, []int{0, 1, 2}, race.StayedNear},
		{"back from the turn too soon", soonTurn, []Passing{seen(1, 240), seen(0, 300), seen(0, 2500)}, []int{0, -1, 1}, race.Extra},
		{"later than anybody sets out", round, []Passing{seen(0, 700), seen(1, 1250), seen(0, 2500)}, []int{-1, 0, 1}, race.Extra},
	} {
		got := Assign(k.c, k.ps, gunAt0(), nil)
		if !slices.Equal(got.Split, k.want) {
			t.Errorf("%s: %v, want %v", k.name, got.Split, k.want)
			continue
		}
		if i := slices.Index(got.Split, -1); i >= 0 && got.Fate[i] != k.fate {
			t.Errorf("%s: passing %d is %v", k.name, i, got.Fate[i])
		}
	}
}

// Who strolls over the line after their own gun and then starts with the next wave has started
// with it: that is likelier than a start between two.
func TestAStartWithTheNextWave(t *testing.T) {
	c := splits("run", [2]float64{0, 0}, [2]float64{0, 1200})
	var runs []Run
	for i := range 40 {
		gun := race.Instant(i%2) * 600_000
		start := gun + 500 + 250*race.Instant(i)
		runs = append(runs, Run{Gun: gun, Start: race.NoInstant, Times: []race.Instant{start, start + 330_000 + 4000*race.Instant(i)}})
	}
	f := Learn(c, runs)
	alone := f
	alone.Starts = f.Starts[:2] // no other wave than the own
	for _, k := range []struct {
		name string
		f    *Field
		at   float64
		want []int
	}{
		{"a second before the next gun", &f, 599.3, []int{-1, -1, 0, 1}},
		{"there is no next wave", &alone, 599.3, []int{-1, 0, 1, -1}},
		{"the next wave is gone", &f, 660, []int{-1, 0, 1, -1}},
		{"the next wave is yet to go", &f, 540, []int{-1, 0, 1, -1}},
	} {
		ps := []Passing{seen(0, 160), seen(0, k.at-390), seen(0, k.at), seen(0, k.at+450)}
		if got := Assign(c, ps, gunAt0(), k.f); !slices.Equal(got.Split, k.want) {
			t.Errorf("%s: %v, want %v", k.name, got.Split, k.want)
		}
	}
}
