package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestCompareTellsWhatWouldMoveTimes(t *testing.T) {
	const athletes = "bib,name,wave,start\n1,Ann,A,\n2,Bo,A,10:05:00\n3,Cy,A,\n"
	const chips = "tag,bib,from,to\nA1,1,,\nA2,2,,\nA2B,2,,\nA3,3,,11:00:00\n"
	const wave = "\n[[wave]]\nid = \"B\"\ncourse = \"ten\"\n"
	for _, c := range []struct {
		name                  string
		plan, athletes, chips [2]string
		says, dropped         []string
	}{
		{name: "nothing"},
		{name: "a name, a team, a new athlete", athletes: [2]string{"1,Ann,A,\n", "1,Anne,A,\n9,Di,B,\n"}},
		{name: "a first gun", plan: [2]string{wave, wave + "gun = 10:10:00\n"}},
		{name: "a looser tolerance", plan: [2]string{`tolerance = "1s"`, `tolerance = "2s"`}},
		{name: "a new split between others", plan: [2]string{"id = \"finish\"\n  line", "id = \"5k\"\n  line = \"start\"\n  at = \"5km\"\n  [[course.split]]\n  id = \"finish\"\n  line"}},
		{name: "a gun", plan: [2]string{"gun = 10:00:00", "gun = 10:02:00"}, says: []string{"wave A: the gun was 2026-05-17T10:00:00.000+02:00, becomes 2026-05-17T10:02:00.000+02:00"}},
		{name: "no gun any more", plan: [2]string{"gun = 10:00:00", ""}, says: []string{"wave A: the gun was 2026-05-17T10:00:00.000+02:00, is left out"}},
		{name: "a distance", plan: [2]string{`at = "10km"`, `at = "10.1km"`}, says: []string{"course ten: split finish was at 10000m, becomes 10100m"}},
		{name: "a rounding and a clock", plan: [2]string{"[[line]]", "[official]\nrounding = \"up-1s\"\nclock = \"net\"\n[[line]]"},
			says: []string{"course ten: rounding was none, becomes up-1s", "course ten: clock was gun, becomes net"}},
		{name: "a zone", plan: [2]string{"Europe/Berlin", "Europe/Lisbon"}, says: []string{"the time zone was Europe/Berlin, becomes Europe/Lisbon",
			"wave A: the gun was 2026-05-17T10:00:00.000+02:00, becomes 2026-05-17T10:00:00.000+01:00",
			"bib 2: their own gun was 2026-05-17T10:05:00.000+02:00, becomes 2026-05-17T10:05:00.000+01:00"}, dropped: []string{"3"}},
		{name: "a log", plan: [2]string{"logs/start.csv", "logs/other.csv"}, says: []string{"line start: main log logs/start.csv is no longer read"}},
		{name: "a log's zone", plan: [2]string{`offset = "auto"`, "offset = \"auto\"\ntimezone = \"UTC\""}, says: []string{"line finish: the time zone of backup log logs/finish-b.csv was Europe/Berlin, becomes UTC"}},
		{name: "a day", plan: [2]string{"2026-05-17", "2026-05-16"}, says: []string{"the date was 2026-05-17, becomes 2026-05-16",
			"wave A: the gun was 2026-05-17T10:00:00.000+02:00, becomes 2026-05-16T10:00:00.000+02:00",
			"bib 2: their own gun was 2026-05-17T10:05:00.000+02:00, becomes 2026-05-16T10:05:00.000+02:00"}, dropped: []string{"3"}},
		{name: "a wave's name", plan: [2]string{`id = "B"`, `id = "C"`}, says: []string{"wave B is gone"}},
		{name: "ties, laps and limits", plan: [2]string{`id = "ten"`, "id = \"ten\"\nties = \"official\"\nlapped = \"flagged\"\ntime_limit = \"6h\""},
			says: []string{"course ten: ties are told apart another way", "course ten: the time limit was 0s, becomes 6h", "course ten: lapped riders are ranked another way"}},
		{name: "laps", plan: [2]string{`at = "10km"`, "at = \"10km\"\nrepeat = 2"}, says: []string{"course ten: split finish is gone"}},
		{name: "a split elsewhere", plan: [2]string{`line = "finish"`, `line = "start"`}, says: []string{"course ten: split finish was at line finish, moves to line start"}},
		{name: "a later finish", plan: [2]string{`at = "10km"`, "at = \"10km\"\n[[course.split]]\nid = \"home\"\nline = \"finish\"\nat = \"11km\""}, says: []string{"course ten: the finish was finish, becomes home"}},
		{name: "a wave's course", plan: [2]string{wave, "[[course]]\nid = \"five\"\n[[course.split]]\nid = \"f\"\nline = \"finish\"\nat = \"5km\"\n[[wave]]\nid = \"B\"\ncourse = \"five\"\n"}, says: []string{"wave B ran ten, is to run five"}},
		{name: "a fixed clock", plan: [2]string{`offset = "auto"`, `offset = "+3.217s"`}, says: []string{"line finish: the offset of backup log logs/finish-b.csv was auto, becomes 3.217s"}},
		{name: "a wave", athletes: [2]string{"3,Cy,A,", "3,Cy,B,"}, says: []string{"bib 3 was in wave A, moves to B"}},
		{name: "an athlete's own gun", athletes: [2]string{"10:05:00", "10:06:00"}, says: []string{"bib 2: their own gun was 2026-05-17T10:05:00.000+02:00, becomes 2026-05-17T10:06:00.000+02:00"}},
		{name: "an athlete dropped", athletes: [2]string{"1,Ann,A,\n", ""}, dropped: []string{"1"}},
		{name: "a chip dropped", chips: [2]string{"A2B,2,,\n", ""}, dropped: []string{"2"}},
		{name: "a chip for longer", chips: [2]string{"A3,3,,11:00:00", "A3,3,,"}},
		{name: "a chip on another bib", chips: [2]string{"A1,1,,", "A1,3,,"}, dropped: []string{"1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			edit := func(text string, e [2]string) []byte {
				if e[0] != "" && !strings.Contains(text, e[0]) {
					t.Fatalf("nothing to replace: %q", e[0])
				}
				return []byte(strings.Replace(text, e[0], e[1], 1))
			}
			none := [2]string{}
			old, _ := Parse(edit(goodPlan+wave, none), edit(athletes, none), edit(chips, none))
			now, found := Parse(edit(goodPlan+wave, c.plan), edit(athletes, c.athletes), edit(chips, c.chips))
			if now == nil {
				t.Fatal(show(found))
			}
			says, dropped := Compare(old, now)
			if d := cmp.Diff(c.says, says); d != "" {
				t.Error(d)
			}
			if d := cmp.Diff(c.dropped, dropped); d != "" {
				t.Error(d)
			}
		})
	}
}

// A log whose hours are in two parts stands twice at its line: a change elsewhere is none of it.
func TestALogWithTwoPartsOfADayIsComparedPartByPart(t *testing.T) {
	const box = "\n  [[line.log]]\n  system = \"backup\"\n  path = \"logs/box.csv\"\n  from = %s\n  to = %s\n"
	parse := func(second string) *Race {
		logs := fmt.Sprintf(box, "09:00:00", "10:00:00") + fmt.Sprintf(box, "11:00:00", second)
		r, found := Parse([]byte(strings.Replace(goodPlan, "[[course]]", logs+"[[course]]", 1)), []byte("bib,name,wave\n1,Ann,A\n"), []byte("tag,bib\nA1,1\n"))
		if r == nil {
			t.Fatal(show(found))
		}
		return r
	}
	if says, dropped := Compare(parse("12:00:00"), parse("12:00:00")); len(says)+len(dropped) > 0 {
		t.Errorf("nothing changed, and it says %q, %q", says, dropped)
	}
	want := []string{"line finish: the hours of backup log logs/box.csv change"}
	if says, _ := Compare(parse("12:00:00"), parse("12:30:00")); !slices.Equal(says, want) {
		t.Errorf("%q, want %q", says, want)
	}
}
