package suspect

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// teaches is all that the fields teach by now.
func (f *field) teaches() (s string) {
	for c := range f.courses {
		x := &f.courses[c]
		f.offOwnPace(x)
		f.levels(c)
		s += fmt.Sprint(x.effect, x.scale, x.usual, x.stretches, x.taught, x.mid, x.sd, x.tails, x.off, " ")
	}
	return s + fmt.Sprint(f.groupLevels(), f.level)
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
	if a, b := m.in.Memory.field.teaches(), search.f.teaches(); a != b {
		m.t.Errorf("remembered that the field teaches %s\nanew %s", a, b)
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
