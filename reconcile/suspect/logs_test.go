package suspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

func TestAStepHoldsTheFillsInside(t *testing.T) {
	m := makeRace(t, 60)
	r := m.result("9")
	p := &r.Passings[2]
	p.From, p.PlusMinus = race.FromBackup, 900
	m.in.Steps = []ClockStep{{Line: 2, Source: 5, Before: p.At.Add(-30000), After: p.At.Add(40000), SizeS: 0.75, PlusMinusS: 0.05, Pairs: 30}}
	id := "clock-step:10k/backup@" + p.At.Add(5000).Time(m.plan.Zone).Format("15:04")
	s := m.one(id)
	if s.Weight != race.Hold || !slices.Equal(s.Holds, []string{"9"}) || s.Proposes != "set-clock --line 10k --stepped backup" {
		t.Errorf("%+v", s)
	}
	q := &m.result("30").Passings[2] // told twice: it may be from either side
	q.From = race.FromBackup
	q.SetUnsure(race.Backup, "a step")
	if s := m.one(id); !slices.Equal(s.Holds, []string{"9", "30"}) && !slices.Equal(s.Holds, []string{"30", "9"}) {
		t.Errorf("holds %v", s.Holds)
	}
	// Another backup that shares main's clock with nobody, and main's clock at two lines.
	m.plan.Logs[4].Clock, m.plan.Logs[2].Clock = "box-1", "box-1"
	m.in.Steps = append(m.in.Steps, ClockStep{Line: 1, Source: 3, Before: p.At.Add(-20000), After: p.At.Add(20000), SizeS: 0.74, PlusMinusS: 0.05, Pairs: 40})
	if s := m.one(id); s.Proposes != "set-clock --line 10k --stepped main" || !s.Strong {
		t.Errorf("main's clock stepped at two lines: %+v", s)
	}
}

// Which clock was set is told by those who crossed beside the step: people go on coming.
func TestWhoCrossedBesideAStepTellsWhoseItWas(t *testing.T) {
	for _, c := range []struct {
		gap   race.Millis // from the last before to the first after, by main
		size  float64
		every float64
		main  bool
		told  bool
	}{
		{307_000, -300, 5, true, true},      // main's set on by five minutes
		{627_000, -600, 4, true, true},      // so, after half a minute in which nobody came
		{7000, 300, 5, false, true},         // backup's set on
		{7000, -300, 5, false, true},        // backup's set back: its order is mixed up
		{20_000, -15, 5, false, false},      // somebody may come a quarter of a minute later
		{9000, 30, 5, false, false},         // the same
		{28_800_000, -300, 5, false, false}, // set by night, when nobody came by either
		{7000, 300, 0, false, false},
	} {
		m := makeRace(t, 60)
		p := &m.result("9").Passings[2]
		m.in.Steps = []ClockStep{{Line: 2, Source: 5, Before: p.At, After: p.At.Add(c.gap), SizeS: c.size, PlusMinusS: 0.05, Pairs: 30, EveryS: c.every}}
		var s race.Suspect
		for _, x := range m.find() {
			if x.Kind == race.ClockStep {
				s = x
			}
		}
		want := "set-clock --line 10k --stepped backup"
		if c.main {
			want = "set-clock --line 10k --stepped main"
		}
		if s.Proposes != want || s.Strong != c.told {
			t.Errorf("%+v: proposes %q, strong %v", c, s.Proposes, s.Strong)
		}
	}
}

// Half the field is impossible at a finish whose main was set back: that step is the one cause.
func TestAMainThatWasSetBackIsNoLineOff(t *testing.T) {
	m := makeRace(t, 120)
	for i := range m.st.Results {
		if i%2 == 0 {
			m.shift(m.st.Results[i].Bib, 4, -1500_000)
		}
	}
	if s := m.one("line-off:finish"); !strings.Contains(s.Says, "impossible") {
		t.Errorf("%+v", s)
	}
	p := &m.result("9").Passings[4]
	m.in.Steps = []ClockStep{{Line: 4, Source: 9, Before: p.At, After: p.At.Add(-1490_000), SizeS: 1500, PlusMinusS: 0.1, Pairs: 60, Back: true}}
	m.none(race.LineOff, race.ImpossiblePace)
}

func TestTooFewPairsHoldTheFillsThatRestOnThem(t *testing.T) {
	m := makeRace(t, 60)
	m.in.Unsure = []ClockUnsure{{Line: 2, Source: 5, Why: "two pairs", OffsetS: 3.2174, Pairs: 2}}
	m.none(race.ClockUnsure) // nothing rests on it
	m.result("9").Passings[2].From = race.FromBackup
	s := m.one("clock-unsure:10k/backup")
	if !slices.Equal(s.Holds, []string{"9"}) || s.Proposes != "set-clock --line 10k --system backup --offset +3.217" {
		t.Errorf("%+v", s)
	}
}

func TestAMainThatReadsNobodyWhileBackupDoesIsSilent(t *testing.T) {
	m := makeRace(t, 300)
	from := gunTime.Add(7000000)
	n := 0
	for i := range m.st.Results {
		p := &m.st.Results[i].Passings[4]
		if p.At >= from && p.At < from.Add(240000) {
			p.Bursts[race.Main], p.From = nil, race.FromBackup
			n++
		}
	}
	if n < 8 {
		t.Fatalf("only %d in the outage", n)
	}
	for from, silent := range map[race.Instant]int{from: 0, from.Add(60000): 1} { // voided as a whole, or in part
		m.in.Voided = []Voided{{Line: 4, System: race.Backup, From: gunTime, To: gunTime.Add(9000000)}, {Line: 4, System: race.Main, From: from, To: from.Add(240000)}}
		if n := m.count(race.SilentLog); n != silent {
			t.Errorf("main's reads are voided from %d on: %d silences, want %d", from, n, silent)
		}
	}
	m.in.Voided = nil
	found := 0
	for _, s := range m.find() {
		if s.Kind == race.SilentLog {
			checkForm(t, s)
			found++
			if s.Line != "finish" || !strings.HasPrefix(s.ID, "silent-log:finish/main@") || s.At < from || s.At > from.Add(60000) {
				t.Errorf("%+v", s)
			}
		}
	}
	if found != 1 {
		t.Errorf("%d silences", found)
	}
}

// A dozen seconds are too short to act on, but not when a whole crowd came in them.
func TestAShortSilenceMattersInACrowd(t *testing.T) {
	for _, n := range []int{10, 60} {
		m := makeRace(t, 300)
		from := m.st.Results[0].Passings[4].At
		for i := range n { // they come in together
			p := &m.st.Results[i].Passings[4]
			p.At = from.Add(race.Millis(12_000 * i / n))
			p.Bursts[race.Main], p.From = nil, race.FromBackup
		}
		told := slices.ContainsFunc(m.find(), func(s race.Suspect) bool { return s.Kind == race.SilentLog })
		if told != (n == 60) {
			t.Errorf("%d in twelve seconds: told %v", n, told)
		}
	}
}

// A bunch comes in within two seconds, and main misses all of it: alone for minutes it may have been
// dead as long, whether others come after or not; among others it reads on at once, and a few are too few.
func TestABunchThatMainMissesIsASilence(t *testing.T) {
	for _, k := range []struct {
		n             int
		before, after race.Millis // nobody else comes; 0: nobody at all
		told          bool
	}{{12, 90_000, 90_000, true}, {12, 90_000, 0, true}, {12, 5_000, 5_000, false}, {7, 90_000, 90_000, false}} {
		m := makeRace(t, 300)
		from := gunTime.Add(9_000_000)
		for i := range m.st.Results {
			p := &m.st.Results[i].Passings[4]
			switch {
			case i < k.n:
				p.At = from.Add(race.Millis(2_000 * i / k.n))
				p.Bursts[race.Main], p.From = nil, race.FromBackup
			case i%2 == 0 && k.after > 0:
				p.At = from.Add(2_000 + k.after + race.Millis(1_000*i))
			default:
				p.At = from.Add(-k.before - race.Millis(1_000*i))
			}
			m.settle(i)
		}
		if n := m.count(race.SilentLog); (n > 0) != k.told {
			t.Errorf("%d, %d s after others and %d s before: %d silences", k.n, k.before/1000, k.after/1000, n)
		}
	}
}

// Two silences that begin in one minute, of one day or of the next, have one id: an accept would
// settle whichever of them.
func TestSilencesOfOneMinuteAreOneCase(t *testing.T) {
	for _, later := range []race.Millis{30_000, 86_400_000} {
		m := makeRace(t, 300)
		from := m.st.Results[0].Passings[4].At / 60_000 * 60_000
		for i := range 120 {
			p := &m.st.Results[i].Passings[4]
			p.At = from.Add(race.Millis(12_000*(i%60)/60) + race.Millis(i/60)*later)
			p.Bursts[race.Main], p.From = nil, race.FromBackup
		}
		seen := &m.st.Results[120].Passings[4] // between the two
		seen.At = from.Add(20_000)
		n := 0
		for _, s := range m.find() {
			if s.Kind == race.SilentLog {
				checkForm(t, s)
				n++
				if strings.Count(s.Says, "read nobody from") != 2 || strings.Count(s.Evidence, "from ") != 2 {
					t.Errorf("%s: %s; %s", s.ID, s.Says, s.Evidence)
				}
			}
		}
		if n != 1 {
			t.Errorf("%d cases of two silences %d s apart", n, later/1000)
		}
	}
}

// Main has nothing at all, and backup's clock, held against nothing, is a day off: what it read
// fits no split, and tells of main's silence all the same.
func TestAMainThatIsDeadFromTheStart(t *testing.T) {
	m := makeRace(t, 40)
	for i := range m.st.Results {
		for k := range m.st.Results[i].Passings {
			if p := &m.st.Results[i].Passings[k]; p.Line == 2 {
				p.Bursts[race.Main], p.From = nil, race.FromBackup
				p.At, p.Split, p.Fate = p.At.Add(86_400_000), -1, race.Extra
			}
		}
		m.st.Results[i].Filled[2] = -1
		m.settle(i)
	}
	m.in.Unsure = []ClockUnsure{{Line: 2, Source: 5, Why: "no tag was seen by both", OffsetS: math.NaN()}}
	if s := m.one("line-off:10k"); s.Proposes != "set-clock --line 10k --system backup --offset +86400.000" {
		t.Errorf("%s proposes %s", s.ID, s.Proposes) // main's clock moves nothing
	}
	n := 0
	for _, s := range m.find() {
		if s.Kind == race.SilentLog && s.Line == "10k" {
			checkForm(t, s)
			n++
			if !strings.Contains(s.Says, "it has read nobody at all") {
				t.Error(s.Says)
			}
		}
	}
	if n != 1 {
		t.Errorf("%d silences", n)
	}
}

// Two courses over one line tell of its clock: it is one thing to settle.
func TestALineIsOffForBothItsCourses(t *testing.T) {
	m := makeRace(t, 60)
	other := m.plan.Courses[0]
	other.ID = "other"
	m.plan.Courses = append(m.plan.Courses, other)
	m.plan.Waves[1].Course, m.st.Closed = 1, []bool{false, false}
	for i := range m.st.Results {
		r := m.st.Results[i]
		r.Course = r.Wave
		p := &r.Passings[2]
		p.At, p.Split, p.Fate = p.At.Add(3_600_000), -1, race.Extra
		r.Filled[2] = -1
		m.settle(i)
	}
	if s := m.one("line-off:10k"); !strings.Contains(s.Says, " On other: ") {
		t.Error(s.Says)
	}
	seen := map[string]bool{}
	for _, s := range m.find() {
		if seen[s.ID] {
			t.Errorf("%s is told twice", s.ID)
		}
		seen[s.ID] = true
	}
}

func TestABackupThatIsMainAgainIsSaid(t *testing.T) {
	m := makeRace(t, 60)
	m.in.TwinLogs = []TwinLog{{Line: 4, Source: 9, Reads: 540, Equal: 533}}
	for _, s := range m.find() {
		if s.Kind == race.SilentLog {
			checkForm(t, s)
			if !strings.Contains(s.Says, "main's own again: 533 of its 540 reads") {
				t.Error(s.Says)
			}
			return
		}
	}
	t.Error("nothing said")
}
