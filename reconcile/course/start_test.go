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
