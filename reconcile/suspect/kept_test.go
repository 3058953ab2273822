package suspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
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
	if r.Gun.Known() && rng.IntN(2) == 0 {
		at = r.Gun.Add(-race.Millis(rng.IntN(400_000)))
		g.add(r.Bib, 0, at, race.BeforeGun)
	} else {
		g.add(r.Bib, rng.IntN(5), at, []race.Fate{race.Extra, race.StayedNear, race.NotOnCourse, race.Voided}[rng.IntN(4)])
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
			c.First, c.Last = c.First.Add(-race.Millis(g.rng.IntN(400))), c.Last.Add(race.Millis(g.rng.IntN(20_000)))
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

// early lets somebody cross the start before the gun, and not again.
func (g *grown) early(i int) {
	g.restore(i)
	r := g.own(i)
	g.miss(r.Bib, 0)
	if r.Gun.Known() && g.rng.IntN(4) > 0 {
		g.add(r.Bib, 0, r.Gun.Add(-race.Millis(5_000+g.rng.IntN(900_000))), race.BeforeGun)
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

// findsTheSame finds what there is, and holds it against what a search anew finds.
func (m *made) findsTheSame() []race.Suspect {
	m.t.Helper()
	got := m.find()
	anew := *m.in
	anew.Memory = nil
	search := Begin(&anew)
	want := search.Find()
	Order(&anew, want)
	if a, b := m.in.Memory.field.whose(), search.f.whose(); a != b {
		m.t.Errorf("remembered of whose tags may be %s\nanew %s", a, b)
	}
	for l, want := range search.f.byLine() {
		if got := m.in.Memory.field.byLine()[l]; !slices.Equal(got, want) {
			m.t.Errorf("remembered of line %d %v\nanew %v", l, got, want)
		}
	}
	for at, want := range search.f.kept.sides {
		if got := m.in.Memory.field.kept.sides[at].at; got != want.at {
			m.t.Errorf("remembered of the sides of a step %v\nanew %v", got, want.at)
		}
	}
	if a, b := fmt.Sprint(m.in.Memory.field.reach), fmt.Sprint(search.f.reach); a != b {
		m.t.Errorf("remembered who came how far as %s\nanew %s", a, b)
	}
	for k := range max(len(got), len(want)) {
		if k >= len(got) || k >= len(want) || !reflect.DeepEqual(got[k], want[k]) {
			m.t.Errorf("remembered %q\nanew %q\n%+v\n%+v", ids(got), ids(want), got[k:min(k+1, len(got))], want[k:min(k+1, len(want))])
			break
		}
	}
	return got
}

// Whatever happens, what a search that remembers finds is, word for word, what one anew finds.
func TestWhateverHappensASearchThatRemembersFindsTheSame(t *testing.T) {
	kinds, from, seeds := map[string]int{}, uint64(0), uint64(24)
	for seed := from; seed < from+seeds; seed++ {
		g := grownRace(t, seed)
		g.in.Memory, g.in.Grown = &Memory{}, true
		now := gunTime
		g.find()
		for step := range 60 {
			g.in.Same, g.in.Grown, g.in.Changed = true, true, nil
			for range g.rng.IntN(3) {
				g.happens(g.rng.IntN(len(g.st.Results)))
			}
			slices.Sort(g.in.Changed)
			g.in.Changed = slices.Compact(g.in.Changed)
			if now = now.Add(race.Millis(math.Exp(g.rng.Float64() * 13))); g.rng.IntN(20) == 0 { // it is told by reads, and some went
				now = gunTime.Add(race.Millis(g.rng.IntN(9_000_000)))
			}
			g.st.Now = now
			for _, s := range g.findsTheSame() {
				kinds[s.Kind]++
			}
			if t.Failed() {
				t.Fatalf("seed %d, step %d", seed, step)
			}
		}
	}
	for _, kind := range []string{race.OtherCourse, race.MissingSplit, race.MissingStart, race.UnlikelyPace, race.EarlyStart, race.WrongWave, race.ImpossiblePace, race.LineOff,
		race.DoubtfulGun, race.Swapped, race.UnassignedChip, race.OutButSeen, race.UnlistedBib, race.ClockStep} {
		if kinds[kind] == 0 {
			t.Errorf("no %s among what was found", kind)
		}
	}
}

// A search that was begun and not gone through leaves nothing out for the one after it.
func TestASearchThatWasOnlyBegunIsNoSearch(t *testing.T) {
	m := makeRace(t, 60)
	m.in.Memory, m.in.Grown = &Memory{}, true
	m.find()
	m.in.Same, m.in.Changed = true, []int{6}
	m.result("7").Status = race.DNF
	Begin(m.in)
	m.in.Changed = nil
	m.findsTheSame()
	m.one("out-but-seen:7")
}

// That a wave's gun is in doubt changes what is told of others in it than those who told of it.
func TestAGunInDoubtIsWordForItsWholeWave(t *testing.T) {
	m := makeRace(t, 100)
	m.exchange("7", "55")
	for i := range 50 {
		if i != 6 {
			m.miss(m.st.Results[i].Bib, 0, 1, 2, 3, 4)
		}
	}
	m.in.Memory, m.in.Grown, m.in.Asked = &Memory{}, true, make([]bool, 100)
	for i := 50; i < 100; i++ {
		m.in.Asked[i] = true // the other wave's
	}
	told := map[bool]bool{}
	for i := range 50 {
		m.in.Same, m.in.Changed = true, nil
		if bib := m.st.Results[i].Bib; i != 6 {
			m.add(bib, 0, gunTime.Add(race.Millis(-60_000+300*i)), race.BeforeGun)
			m.in.Changed = []int{i}
		}
		told[slices.Contains(ids(m.findsTheSame()), "swapped:7+55")] = true
	}
	if len(told) != 2 {
		t.Errorf("the two are told of: %v", told)
	}
}

// Time alone makes it tell that somebody is on another's course, and then with whom they exchanged.
func TestTimeAloneTellsOfAnotherCourse(t *testing.T) {
	g := grownRace(t, 1)
	g.in.Memory, g.in.Grown = &Memory{}, true
	for i := range g.st.Results {
		g.restore(i)
	}
	g.exchangeCourses(6, 70)
	g.miss("7", 0)
	y := g.result("1010")
	y.Passings, y.Filled = y.Passings[:2], []int{0, 1, -1}
	told := map[string]int{}
	for g.st.Now = gunTime; g.st.Now < gunTime.Add(12_000_000); g.st.Now = g.st.Now.Add(60_000) {
		told[fmt.Sprint(ids(slices.DeleteFunc(g.findsTheSame(), func(s race.Suspect) bool { return s.Kind != race.Swapped && s.Kind != race.OtherCourse })))]++
		g.in.Same, g.in.Changed = true, nil
	}
	if len(told) != 3 || told["[]"] == 0 || told["[other-course:7 swapped:7+1010]"] == 0 {
		t.Errorf("told of, and how often: %v", told)
	}
}

// A wave is a crowd until fewer than a thousand of it lack passings: then one passing alone says
// something of its owner.
func TestACrowdThatThinsOutTellsOfATag(t *testing.T) {
	m := makeRace(t, 2*manyLacking+4)
	m.in.Asked = make([]bool, len(m.st.Results))
	m.st.Strays = []race.StrayTag{{Tag: "F7", Lines: []int{1}, Reads: 9, Passings: []race.Passing{passingAt(1, m.result("2000").Passings[1].At, -1)}}}
	of := manyLacking + 2 // a wave
	left := map[string][]race.Passing{}
	for _, r := range m.st.Results[of:] {
		left[r.Bib] = r.Passings
		m.miss(r.Bib, 0, 1, 2, 3, 4)
	}
	m.in.Memory, m.in.Grown = &Memory{}, true
	told := map[string]bool{}
	for _, i := range []int{of, of + 1, of + 2, of + 3, of, of + 1, of + 2} {
		r := m.st.Results[i]
		if ps := r.Passings; len(ps) == 0 {
			r.Passings, r.Filled = left[r.Bib], []int{0, 1, 2, 3, 4}
		} else {
			m.miss(r.Bib, 0, 1, 2, 3, 4)
		}
		m.settle(i)
		m.in.Changed = []int{i}
		m.findsTheSame()
		told[m.in.Memory.field.whose()] = true
		m.in.Same = true
	}
	if len(told) < 2 {
		t.Errorf("a crowd or none: %v", told)
	}
}

// How long a wave takes over its start says whether a tag set out with it: of those who lack
// passings, of one with a gun of their own, and of who wore it beside their chip.
func TestAWavesStartTellsOfTags(t *testing.T) {
	for _, c := range []struct {
		start race.Millis // of the tags, after the gun
		own   bool        // somebody of the wave has a gun of their own
	}{{300_000, false}, {500_000, false}, {250_000, true}} {
		m := makeRace(t, 60)
		m.in.Asked = make([]bool, 60) // nobody: the field teaches the same all the while
		for _, bib := range []string{"52", "54", "55"} {
			m.shift(bib, 0, m.plan.Waves[1].Gun.Add(c.start).Sub(m.result(bib).Passings[0].At))
		}
		worn := slices.Clone(m.result("52").Passings)
		m.miss("52", 0)
		m.stray("54", "F7")
		m.stray("55", "F8")
		if r := m.result("55"); c.own {
			r.Start = r.Gun.Add(-60_000)
			r.Gun = r.Start
		}
		m.st.Strays = append(m.st.Strays, race.StrayTag{Tag: "EEEE0001", Lines: []int{0, 1, 2, 3, 4}, Reads: 45, Passings: worn})
		m.in.Memory, m.in.Grown = &Memory{}, true
		told := map[string]bool{}
		for i := 30; i < 50; i++ {
			m.findsTheSame()
			told[m.in.Memory.field.whose()] = true
			m.in.Same, m.in.Changed = true, []int{i}
			r := m.st.Results[i]
			r.Passings = slices.Clone(r.Passings)
			r.Passings[0].At = r.Passings[0].At.Add(race.Millis(100_000 + 1000*i))
		}
		if len(told) < 5 {
			t.Errorf("%+v: told of them: %v", c, told)
		}
	}
}

// Whether somebody wears fewer chips than others is told by those that were read.
func TestAChipThatIsReadMakesOneBesideItSpare(t *testing.T) {
	m := makeRace(t, 60)
	for _, c := range m.in.Chips {
		m.in.Chips = append(m.in.Chips, race.Chip{Tag: c.Tag + "F", Bib: c.Bib, From: race.NoInstant, To: race.NoInstant})
	}
	m.st.Strays = []race.StrayTag{{Tag: "EEEE0001", Lines: []int{0, 1, 2, 3, 4}, Reads: 45, Passings: slices.Clone(m.result("52").Passings)}}
	m.in.Memory, m.in.Grown, m.in.Seen = &Memory{}, true, make([][]TagSeen, 60)
	m.findsTheSame()
	m.in.Same, m.in.Changed = true, []int{51}
	m.in.Seen[51] = make([]TagSeen, 2)
	m.findsTheSame()
	if got := m.one("unassigned-chip:EEEE0001").Proposes; got != "ignore-chip --tag EEEE0001" {
		t.Error(got)
	}
}

// Of a line that turns out to be off, or to have read nobody, nothing is told of those any more who
// lack it alone; of one that reads somebody at last it is.
func TestALineIsWordForThoseWhoPassedBefore(t *testing.T) {
	for _, shift := range []race.Millis{0, 3_600_000} {
		m := makeRace(t, 60)
		m.plan.Courses[0].Splits[2].Required = shift > 0
		m.in.Asked = make([]bool, 60) // nobody: what the field teaches stays
		had := map[string][]race.Passing{}
		for _, r := range m.st.Results {
			had[r.Bib] = slices.Clone(r.Passings)
			m.miss(r.Bib, 0, 1, 2, 3, 4)
		}
		m.in.Memory, m.in.Grown = &Memory{}, true
		told := map[int]bool{}
		for i := range 12 {
			r := m.st.Results[i]
			r.Passings, r.Filled = had[r.Bib], []int{0, 1, 2, 3, 4}
			if i < 10 {
				m.miss(r.Bib, 2)
			}
			if i < 10 && shift > 0 {
				m.add(r.Bib, 2, had[r.Bib][2].At.Add(shift), race.Extra)
			}
			m.settle(i)
			m.in.Changed = []int{i}
			told[len(slices.DeleteFunc(m.findsTheSame(), func(s race.Suspect) bool { return s.Kind != race.MissingSplit }))] = true
			m.in.Same = true
		}
		if !told[2] || !told[0] || shift == 0 && !told[10] {
			t.Errorf("by %v: so many lack it: %v", shift, told)
		}
	}
}

// Who has a gun of their own, and set out with others, may come again until their own start is over.
func TestAStartOfOnesOwnIsOverAtAMomentOfItsOwn(t *testing.T) {
	m := makeRace(t, 60)
	r := m.result("58")
	r.Start = m.plan.Waves[1].Gun.Add(60_000)
	r.Gun = r.Start
	m.miss("58", 0, 1, 2, 3, 4)
	m.add("58", 0, gunTime.Add(20_000), race.BeforeGun)
	m.in.Memory, m.in.Grown = &Memory{}, true
	told := map[bool]bool{}
	for m.st.Now = r.Gun; m.st.Now < r.Gun.Add(600_000); m.st.Now = m.st.Now.Add(20_000) {
		told[slices.Contains(ids(m.findsTheSame()), "early-start:58")] = true
		m.in.Same = true
	}
	if len(told) != 2 {
		t.Errorf("it is told: %v", told)
	}
}

// A status that is ruled no more is the list's again.
func TestAStatusThatIsRuledNoMoreIsTheLists(t *testing.T) {
	m := makeRace(t, 60)
	m.result("7").Status = race.DNF
	m.st.Rulings = []race.Ruling{{Seq: 1, Rule: race.SetStatus, Bib: "7", Status: race.DNF, Made: gunTime.Add(3_600_000).Time(time.UTC).Format(time.RFC3339)}}
	m.in.Memory, m.in.Grown = &Memory{}, true
	m.findsTheSame()
	m.in.Same, m.st.Undone = true, map[int]int{1: 2}
	m.findsTheSame()
}

// That a clock says that a line is off is word for those whose pace there is unlikely.
func TestAClockThatIsToldOfIsWordForPaces(t *testing.T) {
	m := makeRace(t, 200)
	m.otherClock(2, 0.4)
	m.atLine(2, 190_000)
	m.shift("7", 3, 900_000)
	m.in.Memory, m.in.Grown = &Memory{}, true
	told := map[string]bool{}
	for range 2 {
		for _, id := range ids(m.findsTheSame()) {
			told[id] = true
		}
		m.in.Same = true
		m.st.Clocks = slices.Clone(m.st.Clocks)
		m.st.Clocks[0].Offset -= 190
	}
	if !told["line-off:10k"] || !told["unlikely-pace:7:15k"] {
		t.Errorf("told: %v", told)
	}
}
