package suspect

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

func TestARaceInWhichNothingHappenedHasNoSuspects(t *testing.T) {
	m := makeRace(t, 400)
	for _, s := range m.find() {
		if s.Kind != race.TooClose { // four hundred finish within an hour; some side by side
			t.Errorf("%s: %s", s.ID, s.Says)
		}
	}
}

func TestASplitThatNobodyReadHoldsWhereItIsRequired(t *testing.T) {
	m := makeRace(t, 60)
	m.miss("7", 2)
	s := m.one("missing-split:7:10k")
	if s.Weight != race.Hold || !slices.Equal(s.Holds, []string{"7"}) || s.Line != "10k" || s.Split != "10k" {
		t.Errorf("%+v", s)
	}
	m.none(race.ImpossiblePace, race.Overdue)
	m.result("7").Splits = slices.Clone(m.result("7").Splits)
	m.result("7").Splits[2].Required = false
	if s := m.one("missing-split:7:10k"); s.Weight != race.Look {
		t.Errorf("not required, and yet %v", s.Weight)
	}
}

// A lap that the line read nobody at is missing of each, who was read at other laps there.
func TestALapThatNobodyWasReadAtHolds(t *testing.T) {
	m := makeRace(t, 40)
	split := &m.plan.Courses[0].Splits[2] // everybody's
	split.Required = false
	for i := range m.st.Results {
		m.miss(m.st.Results[i].Bib, 2)
	}
	m.none(race.MissingSplit)
	split.Lap = 2
	if n := m.count(race.MissingSplit); n != len(m.st.Results) {
		t.Errorf("%d of %d lack their lap", n, len(m.st.Results))
	}
}

// Nobody may have missed a lap who rested for one: the crossing after it is the lap then.
func TestAMissingLapMayBeNone(t *testing.T) {
	m := makeRace(t, 40)
	splits := m.plan.Courses[0].Splits
	for k := 1; k <= 4; k++ {
		splits[k].Line, splits[k].Lap = splits[4].Line, k
	}
	m.miss("7", 2)
	s := m.one("missing-split:7:" + splits[2].ID)
	want := fmt.Sprintf("set-time --bib 7 --split %s --at %s", splits[2].ID, m.result("7").Passings[m.result("7").Filled[3]].At.Format(m.plan.Zone))
	if len(s.Others) == 0 || s.Others[0] != want {
		t.Errorf("%q; want %s", s.Others, want)
	}
}

func TestAMissingStartHoldsWhereNetTimeRanks(t *testing.T) {
	m := makeRace(t, 60)
	m.miss("7", 0)
	if s := m.one("missing-start:7"); s.Weight != race.Look {
		t.Errorf("gun time ranks: %v", s.Weight)
	}
	m.plan.Courses[0].Official.Net = true
	if s := m.one("missing-start:7"); s.Weight != race.Hold {
		t.Errorf("net time ranks: %v", s.Weight)
	}
}

func TestACutCourseIsImpossibleAndNotJustMissing(t *testing.T) {
	m := makeRace(t, 60)
	m.miss("12", 2)
	m.shift("12", 3, -3000000) // 10 km in a few minutes
	s := m.one("impossible-pace:12:15k")
	if s.Weight != race.Hold || s.Proposes != "set-status --bib 12 --status dsq" {
		t.Errorf("%+v", s)
	}
	m.one("missing-split:12:10k")
}

func TestAWholeFieldImpossibleIsOneSuspectThatHoldsNobody(t *testing.T) {
	m := makeRace(t, 60)
	// The 10 km mark stands at 6 km: everybody is there after one kilometre.
	for i := range m.st.Results {
		r := m.st.Results[i]
		r.Passings[2].At = r.Passings[1].At.Add(r.Passings[2].At.Sub(r.Passings[1].At) / 5)
		m.settle(i)
	}
	s := m.one("line-off:10k")
	if s.Weight != race.Hold || s.Holds != nil || s.Urgency < urgentMany {
		t.Errorf("%+v", s)
	}
	m.none(race.ImpossiblePace, race.UnlikelyPace)
}

func TestAClockAnHourOffIsToldByItsLine(t *testing.T) {
	m := makeRace(t, 60)
	for i := range m.st.Results {
		bib := m.st.Results[i].Bib
		at := m.st.Results[i].Passings[2].At
		m.miss(bib, 2)
		m.add(bib, 2, at.Add(-3600000), race.BeforeGun)
	}
	s := m.one("line-off:10k")
	if s.Proposes != "set-clock --line 10k --system main --offset -3600.000" {
		t.Errorf("proposes %s", s.Proposes)
	}
	m.none(race.MissingSplit, race.OutOfOrder)
}

func TestALongStopIsUnlikelyAgainstOneself(t *testing.T) {
	m := makeRace(t, 200)
	m.shift("30", 3, 900000)
	m.one("unlikely-pace:30:15k")
	if n := m.count(race.UnlikelyPace); n > 1 {
		t.Errorf("%d unlikely paces for one stop", n)
	}
}

func TestStartedBeforeTheGunIsEarlyAndSaysWithWhom(t *testing.T) {
	m := makeRace(t, 100)
	bib := "90" // of wave B
	m.shift(bib, 0, gunTime.Add(20000).Sub(m.result(bib).Passings[0].At))
	m.miss(bib, 0)
	m.add(bib, 0, gunTime.Add(20000), race.BeforeGun)
	s := m.one("early-start:90")
	if s.Weight != race.Hold || !strings.Contains(s.Says, "wave A") || s.Proposes != "accept --suspect early-start:90" {
		t.Errorf("%+v", s)
	}
	m.none(race.MissingStart, race.DoubtfulGun)
}

// Whose start no system read, and who crossed it before the gun, is held for that; where their pace
// fits the gun, the crossing is proposed as no start of theirs, and then the start is what is missing.
func TestWarmingUpIsProposedAsNoStart(t *testing.T) {
	m := makeRace(t, 100)
	m.add("90", 0, gunTime.Add(-60000), race.BeforeGun)
	m.none(race.EarlyStart)
	m.miss("90", 0) // the start itself unread, half an hour of race after the warm-up
	p := &m.st.Results[m.st.ByBib["90"]].Passings[0]
	p.At = m.result("90").Gun.Add(-1500000)
	s := m.one("early-start:90")
	if s.Weight != race.Hold || !strings.HasPrefix(s.Proposes, "void-passing --bib 90 --line start --at ") || !slices.Contains(s.Others, "accept --suspect early-start:90") {
		t.Errorf("%+v", s)
	}
	m.none(race.MissingStart, race.ImpossiblePace, race.UnlikelyPace)
	p.Fate = race.Voided
	m.none(race.EarlyStart)
	m.one("missing-start:90")
}

func TestStartedWithALaterWave(t *testing.T) {
	m := makeRace(t, 100)
	m.shift("10", 0, 600000)
	s := m.one("wrong-wave:10")
	if s.Weight != race.Look || s.Proposes != "set-wave --bib 10 --wave B" {
		t.Errorf("%+v", s)
	}
}

func TestTwoWhoStartedWithEachOthersWaveAreSwapped(t *testing.T) {
	m := makeRace(t, 100)
	a, b := m.result("10"), m.result("90")
	a.Passings, b.Passings = b.Passings, a.Passings
	b.Passings[0].Split, b.Passings[0].Fate, b.Filled[0] = -1, race.BeforeGun, -1
	m.settle(m.st.ByBib["10"])
	m.settle(m.st.ByBib["90"])
	if s := m.one("swapped:10+90"); s.Proposes != "swap-bibs --bib 10 --with 90" || s.Weight != race.Look {
		t.Errorf("%+v", s)
	}
	if s := m.one("early-start:90"); s.Proposes != "swap-bibs --bib 10 --with 90" {
		t.Errorf("the early start proposes %s", s.Proposes)
	}
	if s := m.one("wrong-wave:10"); s.Proposes != "swap-bibs --bib 10 --with 90" {
		t.Errorf("the wrong wave proposes %s", s.Proposes)
	}
}

func TestExtraPassingsOfOneWhoLingersAreOne(t *testing.T) {
	m := makeRace(t, 60)
	end := m.result("9").FinishAt
	m.add("9", 4, end.Add(60000), race.Extra)
	m.add("9", 4, end.Add(120000), race.Extra)
	m.add("9", 4, end.Add(180000), race.StayedNear)
	n := 0
	for _, s := range m.find() {
		if s.Kind == race.ExtraPassing {
			checkForm(t, s)
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d extra passings", n)
	}
	m.one("extra-passing:9:finish@" + end.Add(60000).Clock(m.plan.Zone))
}

func TestAnOrderThatTheCourseCantGiveHolds(t *testing.T) {
	m := makeRace(t, 60)
	m.add("9", 3, m.result("9").Passings[1].At.Add(60000), race.Extra)
	m.in.OutOfOrder = []string{"9"}
	if s := m.one("out-of-order:9"); s.Weight != race.Hold || s.Line != "15k" {
		t.Errorf("%+v", s)
	}
	m.none(race.ExtraPassing)
}

func TestAStatusThatReadsContradict(t *testing.T) {
	m := makeRace(t, 60)
	for bib, status := range map[string]string{"4": "dns", "5": "dnf", "6": "dnf"} {
		m.result(bib).Status = status
		m.settle(m.st.ByBib[bib])
	}
	m.miss("6", 3, 4)
	if s := m.one("out-but-seen:4"); s.Proposes != "set-status --bib 4 --status none" || s.Weight != race.Look {
		t.Errorf("%+v", s)
	}
	m.one("out-but-seen:5")
	for _, s := range m.find() {
		if s.ID == "out-but-seen:6" {
			t.Error("a dnf who never finished is contradicted by nothing")
		}
	}
	// Ruled after the reads, the status stands.
	m.st.Rulings = []race.Ruling{{Seq: 1, Rule: race.SetStatus, Bib: "5", Status: "dnf", Made: "2026-05-18T10:00:00Z"}}
	for _, s := range m.find() {
		if s.ID == "out-but-seen:5" {
			t.Error("the ruling came after every read")
		}
	}
	// What nobody knew who ruled it, for it stands in a log that came later, contradicts it.
	for shown, told := range map[string]bool{race.SeenNever: true, race.SeenUnfinished: true, race.SeenFinish: false} {
		m.st.Rulings[0].Evidence = shown
		n := 0
		for _, s := range m.find() {
			if s.ID == "out-but-seen:5" {
				n++
				if !strings.Contains(s.Says, "5 is dnf by ruling 1, yet has a finish at ") {
					t.Error(s.Says)
				}
			}
		}
		if n != map[bool]int{true: 1}[told] {
			t.Errorf("%s: told %d times", shown, n)
		}
	}
	m.result("4").Status = "dns"
	m.st.Rulings[0].Bib, m.st.Rulings[0].Status, m.st.Rulings[0].Evidence = "4", "dns", race.SeenUnfinished
	for _, s := range m.find() {
		if s.ID == "out-but-seen:4" {
			t.Error("who ruled it knew of the reads")
		}
	}
	m.st.Rulings[0].Evidence = race.SeenNever
	m.one("out-but-seen:4")
}

func TestWhoShouldHaveComeIsOverdueAndWhoMayYetComeIsNot(t *testing.T) {
	m := makeRace(t, 300)
	m.miss("8", 3, 4)
	if s := m.one("overdue:8"); s.Weight != race.Look || s.Proposes != "set-status --bib 8 --status dnf" || s.Split != "15k" {
		t.Errorf("%+v", s)
	}
	m.st.Now = m.result("8").Passings[2].At.Add(60000)
	for _, s := range m.find() {
		if s.ID == "overdue:8" {
			t.Errorf("a minute after 10 km: %s", s.Says)
		}
	}
	m.st.Closed[0] = true
	if s := m.one("overdue:8"); s.Weight != race.Hold {
		t.Errorf("closed: %+v", s)
	}
}

func TestWhoWasNeverReadIsNotOverdue(t *testing.T) {
	m := makeRace(t, 100)
	r := m.result("8")
	m.miss("8", 0, 1, 2, 3, 4)
	r.State = "unseen"
	m.st.Closed[0] = true
	m.none(race.Overdue)
}

func TestFirstRanksWithinTheResolutionNeedThePhoto(t *testing.T) {
	m := makeRace(t, 60)
	first, second := m.ranked(0), m.ranked(1)
	m.shift(second, 4, m.result(first).FinishAt.Sub(m.result(second).FinishAt)+150+race.Millis(m.result(second).Gun-m.result(first).Gun))
	id, _ := pairID(race.TooClose, first, second)
	if s := m.one(id); s.Weight != race.Look || s.Urgency < urgentFirst {
		t.Errorf("%+v", s)
	}
	m.shift(second, 4, 100)
	for _, s := range m.find() {
		if s.ID == id {
			t.Errorf("a quarter of a second apart: %s", s.Says)
		}
	}
	p := &m.result(second).Passings[4]
	p.From, p.PlusMinus = race.FromBackup, 600
	m.settle(m.st.ByBib[second])
	m.one(id)
}

// ranked is the bib that is n-th by gun time.
func (m *made) ranked(n int) string {
	f := newField(m.in)
	return m.st.Results[first(finishers(m.st, 0, f.courses[0].results), n+1)[n].At].Bib
}

func TestEnteredForTheHalfAndRanTheTen(t *testing.T) {
	m := makeRace(t, 100)
	m.addTen()
	m.runsTheTen("6", "1005")
	s := m.one("other-course:6")
	if s.Weight != race.Hold || s.Proposes != "set-wave --bib 6 --wave T" {
		t.Errorf("%+v", s)
	}
}

// addTen adds a course that shares start and 5 km, with a field of forty of its own.
func (m *made) addTen() {
	ten := race.Course{ID: "ten", Sport: "run", Prizes: 10, Splits: []race.Split{
		{ID: "start", Line: 0, Sport: "run"}, {ID: "5k", Line: 1, At: 5000, Sport: "run", Required: true}, {ID: "finish", Line: 4, At: 10000, Sport: "run"}}}
	m.plan.Courses = append(m.plan.Courses, ten)
	m.plan.Waves = append(m.plan.Waves, race.Wave{ID: "T", Course: 1, Gun: gunTime.Add(300000), Early: 2000})
	m.st.Closed = append(m.st.Closed, false)
	for i := range 40 { // the ten's own field
		own := *m.st.Results[i]
		r := &own
		r.Bib, r.Course, r.Wave, r.Gun, r.Splits, r.Filled = fmt.Sprint(1000+i), 1, 2, m.plan.Waves[2].Gun, ten.Splits, []int{0, 1, 2}
		r.Passings = slices.Clone(r.Passings[:3])
		for k := range r.Passings {
			r.Passings[k].At = r.Passings[k].At.Add(300000)
		}
		r.Passings[2].Line = 4
		m.st.ByBib[r.Bib] = len(m.st.Results)
		m.st.Results = append(m.st.Results, r)
		m.settle(len(m.st.Results) - 1)
	}
}

// runsTheTen lets one of the half start with the ten, and finish where a ten ends.
func (m *made) runsTheTen(bib, as string) {
	r := m.result(bib)
	r.Passings = slices.Clone(m.result(as).Passings)
	r.Passings[2].Split, r.Passings[2].Fate = -1, race.Extra
	r.Filled = []int{0, 1, -1, -1, -1}
	m.settle(m.st.ByBib[bib])
}

func TestTheListComesOutTheSameWhateverTheOrderIn(t *testing.T) {
	m := makeRace(t, 120)
	m.miss("7", 2)
	m.miss("8", 3, 4)
	m.stray("40", "FFFF0001")
	m.stray("41", "FFFF0002")
	a := m.find()
	m.st.Strays[0], m.st.Strays[1] = m.st.Strays[1], m.st.Strays[0]
	b := m.find()
	if !reflect.DeepEqual(a, b) {
		t.Errorf("%q\n%q", ids(a), ids(b))
	}
	for i := 1; i < len(a); i++ {
		if a[i].Urgency > a[i-1].Urgency {
			t.Errorf("%s (%d) after %s (%d)", a[i].ID, a[i].Urgency, a[i-1].ID, a[i-1].Urgency)
		}
	}
}

func TestStartedWithAWaveLongBeforeTheOwnIsAWrongWave(t *testing.T) {
	m := makeRace(t, 100)
	m.plan.Waves[1].Gun = gunTime.Add(3600000)
	for i := range m.st.Results {
		if r := m.st.Results[i]; r.Wave == 1 {
			r.Gun = m.plan.Waves[1].Gun
			m.shift(r.Bib, 0, 3000000)
		}
	}
	bib := "90"
	m.shift(bib, 0, gunTime.Add(20000).Sub(m.result(bib).Passings[0].At))
	for k := range 2 { // the start and 5 km lie before the own gun
		m.result(bib).Passings[k].Split, m.result(bib).Passings[k].Fate, m.result(bib).Filled[k] = -1, race.BeforeGun, -1
	}
	m.settle(m.st.ByBib[bib])
	if s := m.one("wrong-wave:90"); s.Proposes != "set-wave --bib 90 --wave A" || !strings.Contains(s.Says, "before its gun") {
		t.Errorf("%+v", s)
	}
	m.none(race.EarlyStart)
}
