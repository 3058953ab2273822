package ruling

import (
	"reflect"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"twinmat/reconcile/race"
)

// plan is a small race: a half with a start, a turn and a finish; laps without end; two
// waves, of which B has no gun.
func plan(t testing.TB) *race.Plan {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	p := &race.Plan{Name: "Test", Zone: zone, Date: time.Date(2026, 5, 17, 0, 0, 0, 0, zone)}
	p.Lines = []race.Line{{ID: "start", Window: 5000, Logs: []int{0}}, {ID: "finish", Window: 8000, Logs: []int{1, 2}}}
	p.Logs = []race.Log{{Line: 0, System: race.Main}, {Line: 1, System: race.Main}, {Line: 1, System: race.Backup}}
	p.Courses = []race.Course{
		{ID: "half", Splits: []race.Split{{ID: "start", Line: 0}, {ID: "10k", Line: 1, At: 10000}, {ID: "finish", Line: 1, At: 21097.5}}},
		{ID: "hours", Open: true, LapLength: 1500, Splits: []race.Split{{ID: "start", Line: 0}, {ID: "lap-1", Line: 1, At: 1500, Lap: 1}}},
	}
	p.Waves = []race.Wave{{ID: "A", Gun: hour("09:00:00", p)}, {ID: "B", Gun: race.NoInstant}, {ID: "H", Course: 1, Gun: hour("10:00:00", p)}}
	return p
}

func hour(s string, p *race.Plan) race.Instant {
	t, err := Moment(p, s)
	if err != nil {
		panic(err)
	}
	return t
}

func list(p *race.Plan) ([]race.Athlete, []race.Chip) {
	none := race.NoInstant
	return []race.Athlete{{Bib: "1", Name: "Ada", Start: none}, {Bib: "2", Start: hour("09:05:00", p)}, {Bib: "3", Wave: 2, Start: none, Status: "dns"}},
		[]race.Chip{{Tag: "AA01", Bib: "1", From: none, To: none}, {Tag: "AA02", Bib: "2", From: none, To: none}, {Tag: "AA03", Bib: "3", From: none, To: none}}
}

// rulings parses lines and numbers them.
func rulings(t testing.TB, p *race.Plan, lines ...string) []race.Ruling {
	t.Helper()
	var out []race.Ruling
	for i, l := range lines {
		r, err := ParseLine(l, p)
		if err != nil {
			t.Fatalf("%s: %v", l, err)
		}
		r.Seq, r.Why, r.Made = i+1, "why", "2026-05-17T12:00:00.000+01:00"
		out = append(out, r)
	}
	return out
}

func fold(t testing.TB, lines ...string) *Effects {
	t.Helper()
	p := plan(t)
	a, c := list(p)
	return Fold(p, a, c, rulings(t, p, lines...))
}

func TestNothingRuledChangesNothing(t *testing.T) {
	p := plan(t)
	a, c := list(p)
	f := Fold(p, a, c, nil)
	if f.Plan != p || !reflect.DeepEqual(f.Athletes, a) || !reflect.DeepEqual(f.Chips, c) {
		t.Fatalf("%+v", f)
	}
	f = Fold(p, a, c, rulings(t, p, "accept --suspect clash:1:finish"))
	if f.Plan != p || &f.Athletes[0] != &a[0] || &f.Chips[0] != &c[0] {
		t.Fatal("copied for an accept")
	}
}

func TestTheCallersListsAreNeverChanged(t *testing.T) {
	p := plan(t)
	a, c := list(p)
	wantA, wantC, gun := append([]race.Athlete(nil), a...), append([]race.Chip(nil), c...), p.Waves[1].Gun
	f := Fold(p, a[:len(a):cap(a)], c[:len(c):cap(c)], rulings(t, p, "set-status --bib 1 --status dnf", "set-wave --bib 2 --wave H", "set-gun --wave B --at 09:30:00",
		"add-athlete --bib 9 --wave A", "assign-chip --tag AA01 --bib 9", "ignore-chip --tag AA02"))
	if !reflect.DeepEqual(a, wantA) || !reflect.DeepEqual(c, wantC) || p.Waves[1].Gun != gun {
		t.Fatal("changed in place")
	}
	if f.Plan == p || f.Plan.Waves[1].Gun != hour("09:30:00", p) {
		t.Fatalf("gun %v", f.Plan.Waves[1].Gun)
	}
	if got := f.Athletes; len(got) != 4 || got[0].Status != "dnf" || got[1].Wave != 2 || got[1].Start.Known() || got[3].Bib != "9" || got[3].Start.Known() {
		t.Fatalf("%+v", got)
	}
}

func TestALaterRulingWins(t *testing.T) {
	p := plan(t)
	for name, c := range map[string]struct {
		lines []string
		holds func(f *Effects) bool
	}{
		"a chip given twice is the last one's": {[]string{"assign-chip --tag AA01 --bib 2", "assign-chip --tag aa-01 --bib 3"},
			func(f *Effects) bool {
				return f.Chips[0].Bib == "3" && f.Chips[1].Bib == "2" && f.Chips[2].Bib == "1" && f.AssignedSeq["AA01"] == 2
			}},
		"a chip ignored is nobody's any more": {[]string{"assign-chip --tag AA01 --bib 2", "ignore-chip --tag 'aa 01' --tag ff"},
			func(f *Effects) bool {
				return f.Ignored["AA01"] == 2 && f.Ignored["FF"] == 2 && len(f.Chips) == 3 && f.AssignedSeq["AA01"] == 0
			}},
		"a chip given after it was ignored is somebody's": {[]string{"ignore-chip --tag AA01", "assign-chip --tag AA01 --bib 2 --from 10:00:00"},
			func(f *Effects) bool { return len(f.Ignored) == 0 && f.Chips[0].From == hour("10:00:00", p) }},
		"a system after a time": {[]string{"set-time --bib 1 --split finish --at 10:30:00", "use-system --bib 1 --split finish --system backup"},
			func(f *Effects) bool {
				return len(f.SetTimes) == 0 && f.UseSystem[BibSplit{"1", "finish"}] == SystemRuling{race.Backup, 2}
			}},
		"a time after a system": {[]string{"use-system --bib 1 --split finish --system backup", "set-time --bib 1 --split finish --at 10:30:00.5 --plus-minus 0.5"},
			func(f *Effects) bool {
				return len(f.UseSystem) == 0 && f.SetTimes[BibSplit{"1", "finish"}] == TimeRuling{hour("10:30:00.500", p), 500, 2, ""}
			}},
		"a time after a time": {[]string{"set-time --bib 1 --split finish --at 10:30:00", "set-time --bib 1 --split finish --at 10:31:00"},
			func(f *Effects) bool {
				return f.SetTimes[BibSplit{"1", "finish"}] == TimeRuling{hour("10:31:00", p), 0, 2, ""}
			}},
		"a status taken off": {[]string{"set-status --bib 3 --status dsq", "set-status --bib 3 --status none"},
			func(f *Effects) bool { return f.Athletes[2].Status == "" && f.Status["3"].Seq == 2 }},
		"adjustments add up": {[]string{"adjust-time --bib 1 --by +2m", "adjust-time --bib 1 --by -12.5s"},
			func(f *Effects) bool { return f.Adjust["1"] == 107500 }},
		"a gun told twice": {[]string{"set-gun --wave B --at 09:30:00", "set-gun --wave B --at 09:31:00"},
			func(f *Effects) bool { return f.Plan.Waves[1].Gun == hour("09:31:00", p) }},
		"swaps stand in order": {[]string{"swap-bibs --bib 1 --with 2", "swap-bibs --bib 2 --with 3"},
			func(f *Effects) bool { return reflect.DeepEqual(f.Swaps, [][2]string{{"1", "2"}, {"2", "3"}}) }},
		"an added athlete can be moved and put out": {[]string{"add-athlete --bib 9 --wave A --name Bo", "set-wave --bib 9 --wave H", "set-status --bib 9 --status dnf"},
			func(f *Effects) bool {
				return f.Athletes[3].Name == "Bo" && f.Athletes[3].Wave == 2 && f.Athletes[3].Status == "dnf"
			}},
		"an own gun stays where the new wave has none": {[]string{"set-wave --bib 2 --wave B"},
			func(f *Effects) bool { return f.Athletes[1].Wave == 1 && f.Athletes[1].Start == hour("09:05:00", p) }},
		"an own gun stays in its own wave": {[]string{"set-wave --bib 2 --wave A"},
			func(f *Effects) bool { return f.Athletes[1].Start == hour("09:05:00", p) }},
	} {
		t.Run(name, func(t *testing.T) {
			if f := fold(t, c.lines...); !c.holds(f) || len(f.Idle) > 0 {
				t.Fatalf("%+v", f)
			}
		})
	}
}

func TestWhatIsRuledOnLinesAndClocks(t *testing.T) {
	p := plan(t)
	f := fold(t, "void-reads --line start --from 07:00:00 --to 08:00:00", "void-reads --line finish --system backup --from 07:00:00 --to 2026-05-17T07:00:00Z",
		"witness --bib 1 --line finish --at 10:30:00", "void-passing --bib 1 --line finish --at 10:00:00.250",
		"set-clock --line finish --system backup --offset +3.217s --from 10:00:00", "set-clock --line finish --stepped main", "set-clock --line finish --stepped backup --right after",
		"close-course --course hours", "accept --suspect clash:1:finish")
	want := &Effects{
		VoidReads:    []VoidReads{{0, race.Main, true, hour("07:00:00", p), hour("08:00:00", p), 1}, {1, race.Backup, false, hour("07:00:00", p), hour("08:00:00", p), 2}},
		Witnesses:    []WitnessRead{{"1", 1, hour("10:30:00", p), 3, ""}},
		VoidPassings: []VoidPassing{{"1", 1, hour("10:00:00.250", p), 4}},
		Clocks: []ClockRuling{{Line: 1, System: race.Backup, Offset: 3217, From: hour("10:00:00", p), Right: "before", Seq: 5},
			{Line: 1, From: race.NoInstant, Stepped: "main", Right: "before", Seq: 6}, {Line: 1, From: race.NoInstant, Stepped: "backup", Right: "after", Seq: 7}},
		Closed: map[int]int{1: 8}, Accepts: map[string]AcceptRuling{"clash:1:finish": {9, ""}},
	}
	got := &Effects{VoidReads: f.VoidReads, Witnesses: f.Witnesses, VoidPassings: f.VoidPassings, Clocks: f.Clocks, Closed: f.Closed, Accepts: f.Accepts}
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("got  %+v\nwant %+v", got, want)
	}
}

func TestUndo(t *testing.T) {
	f := fold(t, "set-status --bib 1 --status dnf", "undo --seq 1")
	if f.Athletes[0].Status != "" || f.Undone[1] != 2 || len(f.Status) != 0 {
		t.Fatalf("%+v", f)
	}
	f = fold(t, "set-status --bib 1 --status dnf", "undo --seq 1", "undo --seq 2")
	if f.Athletes[0].Status != "dnf" || f.Undone[2] != 3 || len(f.Undone) != 1 {
		t.Fatalf("an undo taken back: %+v", f)
	}
	f = fold(t, "set-status --bib 1 --status dnf", "set-status --bib 1 --status dsq", "undo --seq 2")
	if f.Athletes[0].Status != "dnf" {
		t.Fatal("what was ruled before does not come back")
	}
	f = fold(t, "undo --seq 2", "set-status --bib 1 --status dnf", "undo --seq 3")
	if len(f.Undone) != 0 || f.Athletes[0].Status != "dnf" {
		t.Fatalf("an undo of itself or of a later ruling took effect: %v", f.Undone)
	}
}

func TestByBib(t *testing.T) {
	f := fold(t, "assign-chip --tag AA01 --bib 2", "swap-bibs --bib 1 --with 3", "ignore-chip --tag AA03", "accept --suspect carried-together:2+3", "accept --suspect missing-split:1:10k",
		"undo --seq 2", "accept --suspect ruling-adrift:2", "accept --suspect extra-passing:3:finish@10:41:07", "accept --suspect line-off:10k", "close-course --course half")
	want := map[string][]int{"1": {1, 2, 5, 6, 7}, "2": {1, 4}, "3": {2, 3, 4, 6, 7, 8}}
	if !reflect.DeepEqual(f.ByBib, want) {
		t.Fatalf("got %v, want %v", f.ByBib, want)
	}
}

// A plan that changed after the rulings leaves some without effect, and each is told.
func TestWhatPlanAndListsLeftBehindIsTold(t *testing.T) {
	p := plan(t)
	a, c := list(p)
	rs := rulings(t, p, "witness --bib 1 --line finish --at 10:30:00", "set-gun --wave B --at 09:30:00", "close-course --course hours", "add-athlete --bib 9 --wave A", "set-wave --bib 3 --wave A",
		"set-status --bib 1 --status dnf")
	rs = append(rs, race.Ruling{Seq: 7, Rule: "neutralise"}, race.Ruling{Seq: 8, Rule: race.SetTime, Bib: "1", Split: "10k", Time: "soon"})
	p.Lines[1].ID, p.Waves[1].ID, p.Courses[1].ID = "goal", "C", "day"
	a = append(a[:2], race.Athlete{Bib: "9", Start: race.NoInstant})
	f := Fold(p, a, c, rs)
	for seq, says := range map[int]string{1: `no line "finish"`, 2: `no wave "B"`, 3: `no course "hours"`, 4: "listed by now", 5: `bib "3"`, 7: "neutralise", 8: "soon"} {
		if !strings.Contains(f.Idle[seq], says) {
			t.Errorf("ruling %d: told %q", seq, f.Idle[seq])
		}
	}
	if len(f.Idle) != 7 || f.Athletes[0].Status != "dnf" {
		t.Fatalf("%v", f.Idle)
	}
}

// The order in which the lines are handed over does not matter, their numbers do.
func TestNumbersDecideTheOrder(t *testing.T) {
	p := plan(t)
	a, c := list(p)
	rs := rulings(t, p, "set-status --bib 1 --status dnf", "set-status --bib 1 --status dsq", "undo --seq 2", "undo --seq 3")
	want := Fold(p, a, c, rs)
	back := []race.Ruling{rs[3], rs[1], rs[0], rs[2]}
	if got := Fold(p, a, c, back); !reflect.DeepEqual(got, want) || back[0].Seq != 4 {
		t.Fatalf("%+v, want %+v", got, want)
	}
}

// A laptop's clock may be set back between two rulings: their numbers order them.
func TestTheLaptopsClockOrdersNothing(t *testing.T) {
	p := plan(t)
	athletes, chips := list(p)
	rs := rulings(t, p, "set-time --bib 1 --split finish --at 11:00:00", "set-time --bib 1 --split finish --at 11:30:00")
	rs[0].Made, rs[1].Made = "2026-05-17T12:00:00.000+01:00", "2026-05-17T10:59:00.000+01:00"
	if got := Fold(p, athletes, chips, rs).SetTimes[BibSplit{"1", "finish"}]; got.Seq != 2 || got.At != hour("11:30:00", p) {
		t.Errorf("ruling %d holds, %s", got.Seq, got.At.Clock(p.Zone))
	}
}

// What is ruled of main's clock for the whole race takes the place of what the plan says of it, and
// of all that was ruled of it before; what is ruled from a moment on comes on top.
func TestMainsClockIsThePlans(t *testing.T) {
	for _, k := range []struct {
		lines  []string
		offset race.Millis
		after  int // rulings from a moment on
	}{
		{[]string{"set-clock --line finish --system main --offset +5s"}, 5000, 0},
		{[]string{"set-clock --line finish --system main --offset +5s", "set-clock --line finish --system main --offset +6s --from 10:00:00"}, 5000, 1},
		{[]string{"set-clock --line finish --system main --offset +6s --from 10:00:00", "set-clock --line finish --system main --offset +5s"}, 5000, 0},
		{[]string{"set-clock --line finish --system main --offset +5s", "undo --seq 1"}, 0, 0},
	} {
		f := fold(t, k.lines...)
		line := f.Plan.LineIndex("finish")
		if o := f.Plan.Logs[f.Plan.Reference(line)].Offset; o.Auto || o.Fixed != k.offset || len(f.Clocks) != k.after {
			t.Errorf("%v: %+v, %d more", k.lines, o, len(f.Clocks))
		}
	}
	p := plan(t)
	before := p.Logs[0].Offset
	Fold(p, nil, nil, rulings(t, p, "set-clock --line "+p.Lines[p.Logs[0].Line].ID+" --system main --offset +5s"))
	if p.Logs[0].Offset != before {
		t.Error("the plan itself was changed")
	}
}
