package suspect

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// grown is a made race to which more and more happens, and what everybody had at first.
type grown struct {
	*made
	rng  *rand.Rand
	had  []race.Result
	calm bool // nothing happens to many at once
}

// grownRace is one of two courses, of whom some have a start of their own, some are on no list,
// and, by the seed, a wave waits for its gun or a line need not be passed.
func grownRace(t *testing.T, seed uint64) *grown {
	m := makeRace(t, 60)
	m.addTen()
	g := &grown{made: m, rng: rand.New(rand.NewPCG(seed, 5)), calm: seed%2 == 1}
	m.st.Undone = map[int]int{}
	m.in.Asked = make([]bool, len(m.st.Results))
	m.in.Many = int(seed%3) * 20 // the newest times of the asked wait, or none do
	m.in.Seen = make([][]TagSeen, len(m.st.Results))
	m.plan.Courses[0].Splits[2].Required = seed%3 != 0
	if seed%7 == 3 { // a chip on each shoe
		for _, c := range m.in.Chips {
			m.in.Chips = append(m.in.Chips, race.Chip{Tag: c.Tag + "F", Bib: c.Bib, From: race.NoInstant, To: race.NoInstant})
		}
	}
	if seed%4 == 1 {
		m.plan.Waves[1].Gun = race.NoInstant
	}
	for i := range m.st.Results {
		r := m.st.Results[i]
		m.in.Asked[i] = i%(1+int(seed%4)) == 0
		r.Listed = i%37 != 5
		if i%11 == 3 || i < 60 && seed%5 == 2 {
			r.Start = r.Gun.Add(race.Millis(i * 1000))
			m.shift(r.Bib, 0, race.Millis(i*1000))
		}
		if r.Gun = m.plan.Waves[r.Wave].Gun; r.Start.Known() {
			r.Gun = r.Start
		}
		g.had = append(g.had, *r)
		g.had[i].Passings, g.had[i].Filled = slices.Clone(r.Passings), slices.Clone(r.Filled)
		if n := g.rng.IntN(5); n > 0 && i < 60 { // they are under way
			m.miss(r.Bib, []int{4, 3, 2, 1}[:n]...)
		}
	}
	return g
}

// changed notes whom something happened to.
func (g *grown) changed(i int) {
	g.settle(i)
	g.in.Changed = append(g.in.Changed, i)
}

// own gives a result passings that no other state has.
func (g *grown) own(i int) *race.Result {
	r := g.st.Results[i]
	r.Passings = slices.Clone(r.Passings)
	return r
}

// restore gives somebody back what they had at first.
func (g *grown) restore(i int) {
	r := g.st.Results[i]
	r.Passings, r.Filled = slices.Clone(g.had[i].Passings), slices.Clone(g.had[i].Filled)
	g.changed(i)
}

// moveAt moves the passings of a split, of every so manyth on somebody's course or in their wave.
func (g *grown) moveAt(i, split, each int, wave bool, by race.Millis) {
	as := g.st.Results[i]
	for k, r := range g.st.Results {
		if k%each != 0 || wave && r.Wave != as.Wave || !wave && r.Course != as.Course || split >= len(r.Filled) || r.Filled[split] < 0 {
			continue
		}
		p := &g.own(k).Passings[r.Filled[split]]
		p.At = p.At.Add(by)
		for s := range p.Seen {
			p.Seen[s] = p.Seen[s].Add(by)
		}
		g.changed(k)
	}
}

// loosely reads somebody where that fills no split.
func (g *grown) loosely(i int) {
	r, rng := g.own(i), g.rng
	at := gunTime.Add(race.Millis(rng.IntN(9_000_000) - 1_200_000))
	if n := len(g.st.Strays); n > 0 && rng.IntN(3) == 0 {
		g.keyed(i, g.st.Strays[rng.IntN(n)].Passings)
		return
	}
	if r.Gun.Known() && rng.IntN(2) == 0 {
		at = r.Gun.Add(-race.Millis(rng.IntN(400_000)))
		g.add(r.Bib, 0, at, race.BeforeGun)
	} else {
		g.add(r.Bib, rng.IntN(5), at, []race.Fate{race.Extra, race.StayedNear, race.NotOnCourse, race.Voided}[rng.IntN(4)])
	}
	g.changed(i)
}

// keyed has a person key somebody's bib at about one of these passings.
func (g *grown) keyed(i int, as []race.Passing) {
	r, p := g.own(i), as[g.rng.IntN(len(as))]
	at := p.At.Add(race.Millis(g.rng.IntN(6000) - 3000))
	g.add(r.Bib, p.Line, at, race.Extra)
	for k := range r.Passings {
		if q := &r.Passings[k]; q.At == at && q.Split < 0 {
			q.Bursts = [race.Systems]*race.Burst{race.Hand: {Source: -1, First: at, Count: 1, Peak: race.NoRSSI}}
		}
	}
	g.changed(i)
}

// tighter leaves where and when somebody passed, but not how they were read there.
func (g *grown) tighter(i int) {
	r := g.own(i)
	for k := range r.Passings {
		p := &r.Passings[k]
		p.PlusMinus += race.Millis(g.rng.IntN(300))
		p.From = []race.From{race.FromMain, race.FromBackup}[g.rng.IntN(2)]
		if b := p.Bursts[race.Main]; b != nil {
			c := *b
			last, strongest := c.Last(), c.Strongest()
			c.First = c.First.Add(-race.Millis(g.rng.IntN(400)))
			c.SetLast(last.Add(race.Millis(g.rng.IntN(20_000))))
			c.SetStrongest(strongest)
			p.Bursts[race.Main] = &c
		}
	}
	if len(r.Passings) > 0 {
		why := []string{"", "no pairs"}[g.rng.IntN(2)]
		r.Passings[0].SetUnsure(race.Main, why)
		r.Passings[0].SetUnsure(race.Backup, why)
	}
	g.changed(i)
}

// strayed lets a tag that nobody owns come, go on, or be ignored.
func (g *grown) strayed(i int) {
	r, rng := g.st.Results[i], g.rng
	n := len(g.st.Strays)
	switch {
	case n < 7 && len(r.Passings) > 1 && rng.IntN(3) == 0: // worn beside their own chip
		x := race.StrayTag{Tag: fmt.Sprint("EEEE000", n), Reads: 9, First: r.Passings[0].At, Last: r.Passings[len(r.Passings)-1].At}
		for _, p := range r.Passings {
			x.Passings, x.Lines = append(x.Passings, passingAt(p.Line, p.At.Add(race.Millis(rng.IntN(600))), -1)), append(x.Lines, p.Line)
		}
		if rng.IntN(2) == 0 { // or by somebody who starts late, and is slow
			for k := range x.Passings {
				x.Passings[k].At = x.Passings[k].At.Add(race.Millis((k + 1) * rng.IntN(200_000)))
			}
		}
		g.st.Strays = append(slices.Clone(g.st.Strays), x)
	case n < 5 && len(r.Passings) > 0:
		strays := slices.Clone(g.st.Strays)
		g.st.Strays = strays
		g.own(i)
		r.Filled = slices.Clone(r.Filled)
		g.stray(r.Bib, []string{"ABCD00000F11", "FFFF0001", "ABCD0000F00D", "F7", "FFFF0040"}[n])
		g.changed(i)
	case n > 0:
		g.st.Strays = slices.Clone(g.st.Strays)
		x := &g.st.Strays[rng.IntN(n)]
		if rng.IntN(3) == 0 {
			x.Ignored, g.in.Grown = !x.Ignored, false
			return
		}
		x.Passings = slices.Clone(x.Passings)
		last := x.Passings[len(x.Passings)-1]
		x.Passings = append(x.Passings, passingAt(min(last.Line+1, 4), last.At.Add(race.Millis(900_000+rng.IntN(900_000))), -1))
		x.Lines, x.Last, x.Reads = append(slices.Clone(x.Lines), min(last.Line+1, 4)), x.Passings[len(x.Passings)-1].At, x.Reads+9
	}
}

// otherClocks lets something else be known of clocks.
func (g *grown) otherClocks(i int) {
	line := g.rng.IntN(5)
	switch g.rng.IntN(6) {
	case 0:
		g.st.Clocks = []race.ClockStretch{{Line: line, Source: 2*line + 1, Offset: float64(g.rng.IntN(500) - 250), Pairs: 60, Spread: g.rng.Float64()}}
	case 4: // and of whose chips are whose
		g.in.Chips, g.in.Grown = slices.Delete(slices.Clone(g.in.Chips), i/2, i/2+1), false
	case 5:
		g.in.Seen = slices.Repeat([][]TagSeen{make([]TagSeen, g.rng.IntN(3))}, len(g.in.Seen))
	case 1:
		line %= 2 // one that was may come again
		at := gunTime.Add(race.Millis(30_000 + 1_500_000*line))
		g.in.Steps = []ClockStep{{Line: line, Source: 2*line + 1, Before: at, After: at.Add(1000), SizeS: float64(g.rng.IntN(600) - 300), PlusMinusS: 0.1, Pairs: 50,
			Back: g.rng.IntN(4) == 0, Main: g.rng.IntN(2) == 0, Ruled: max(0, g.rng.IntN(4)-2)}}
	case 2:
		g.in.Unsure = []ClockUnsure{{Line: line, Source: 2*line + 1, Why: "two pairs", OffsetS: 3, Pairs: 2}}
	default:
		g.st.Clocks, g.in.Steps, g.in.Unsure = nil, nil, nil
	}
}

// ruledOut has a status ruled, or that undone.
func (g *grown) ruledOut(i int) {
	r := g.st.Results[i]
	n := len(g.st.Rulings)
	made := gunTime.Add(race.Millis(g.rng.IntN(6_000_000))).Time(time.UTC).Format(time.RFC3339)
	g.st.Rulings = append(slices.Clone(g.st.Rulings), race.Ruling{Seq: n + 1, Rule: race.SetStatus, Bib: r.Bib, Status: race.DNF, Made: made})
	r.Status = []string{race.DNF, race.DSQ, race.DNS, ""}[g.rng.IntN(4)]
	g.changed(i)
}

// early lets somebody cross the start before the gun, and not again; the first split before it too,
// now and then.
func (g *grown) early(i int) {
	g.restore(i)
	r := g.own(i)
	g.miss(r.Bib, 0)
	if r.Gun.Known() && g.rng.IntN(4) > 0 {
		g.add(r.Bib, 0, r.Gun.Add(-race.Millis(5_000+g.rng.IntN(900_000))), race.BeforeGun)
		if g.rng.IntN(3) == 0 {
			g.miss(r.Bib, 1)
			g.add(r.Bib, 1, r.Gun.Add(-race.Millis(3_000)), race.BeforeGun)
		}
	}
	if g.rng.IntN(3) == 0 {
		g.miss(r.Bib, 1, 2, 3, 4)
	}
	g.changed(i)
}

// swappedWith has somebody wear the chip of one of another wave of their course, or with another start.
func (g *grown) swappedWith(i int) {
	k := g.rng.IntN(60)
	if x, y := g.st.Results[i], g.st.Results[k]; i < 60 && x.Start.Known() == y.Start.Known() && (x.Wave != y.Wave || x.Start != y.Start) {
		g.restore(i)
		g.restore(k)
		g.exchange(x.Bib, y.Bib)
		g.changed(i)
		g.changed(k)
	}
}

// acrossCourses has one of the half wear the chip of one of the ten.
func (g *grown) acrossCourses(i int) {
	k := 60 + g.rng.IntN(40)
	if i >= 60 || k == 65 {
		return
	}
	g.restore(i)
	g.restore(k)
	g.exchangeCourses(i, k)
	if g.rng.IntN(3) == 0 {
		g.miss(g.st.Results[i].Bib, 1)
	}
	if g.rng.IntN(3) == 0 {
		g.miss(g.st.Results[k].Bib, 2)
	}
}

// exchangeCourses has one of the half, i, and one of the ten, k, wear each other's chip.
func (g *grown) exchangeCourses(i, k int) {
	x, y := g.st.Results[i], g.st.Results[k]
	x.Passings, y.Passings = y.Passings, x.Passings
	x.Passings[2].Split, x.Passings[2].Fate, x.Filled = -1, race.Extra, []int{0, 1, -1, -1, -1}
	for _, n := range []int{2, 3} {
		y.Passings[n].Split, y.Passings[n].Fate = -1, race.NotOnCourse
	}
	y.Passings[4].Split, y.Filled = 2, []int{0, 1, 4}
	g.changed(i)
	g.changed(k)
}

// allEarly has a wave begin before its gun, but for those who set out with another.
func (g *grown) allEarly(i int) {
	w := g.st.Results[i].Wave
	for k, r := range g.st.Results {
		if r.Wave != w || r.Start.Known() || !r.Gun.Known() || r.Filled[0] < 0 || r.Passings[r.Filled[0]].At.Sub(r.Gun) > 200_000 {
			continue
		}
		g.own(k)
		g.miss(r.Bib, 0)
		g.add(r.Bib, 0, r.Gun.Add(race.Millis(-60_000+500*k)), race.BeforeGun)
		g.changed(k)
	}
}

// happens lets one thing happen to somebody, or to many.
func (g *grown) happens(i int) {
	if g.st.Results[i].Bib == "1005" {
		return // others run as they do
	}
	kinds := 18
	if g.calm {
		kinds = 14
	}
	switch last := len(g.st.Results[i].Filled) - 1; g.rng.IntN(kinds) {
	case 17:
		g.moveAt(i, 0, 1+g.rng.IntN(2), true, []race.Millis{-60_000, 60_000, 45_000}[g.rng.IntN(3)])
	case 14:
		g.moveAt(i, 1+g.rng.IntN(last), 1, false, []race.Millis{-400_000, 400_000, 3_600_000, -3_600_000}[g.rng.IntN(4)])
	case 2, 3:
		g.loosely(i)
	case 4:
		g.tighter(i)
	case 5, 6:
		g.strayed(i)
	case 7:
		g.otherClocks(i)
	case 8:
		g.ruledOut(i)
	case 9:
		for k := range g.st.Results {
			if g.st.Results[k].Course == g.st.Results[i].Course {
				g.restore(k)
			}
		}
	case 10, 11:
		g.restore(i)
	case 0:
		g.early(i)
	case 1:
		g.swappedWith(i)
	case 15:
		for k := range g.st.Results {
			if r := g.st.Results[k]; r.Course == 0 && k%7 != 0 {
				g.miss(r.Bib, 2)
				g.changed(k)
			}
		}
	case 13:
		g.acrossCourses(i)
	case 16:
		g.allEarly(i)
	case 12:
		if !g.calm {
			g.happen(g.rng, i)
		}
	}
}

// whose writes who may own each tag that nobody owns.
func (f *field) whose() string {
	s := ""
	for _, t := range f.unowned.ranked {
		s += fmt.Sprintf("%s: %+v", t.stray.Tag, t.with)
		for _, o := range t.owners {
			s += fmt.Sprintf(", %s %v", f.st.Results[o.result].Bib, o.score)
		}
		s += "\n"
	}
	return s
}
