package plan

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"twinmat/reconcile/race"
)

// every is the plan that shows every key, as the outer surface prints it.
func every(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile("testdata/every-key.toml")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The printed plan names lines that it leaves out; nothing else may be wrong with it.
func TestThePlanWithEveryKeyLacksOnlyItsOtherLines(t *testing.T) {
	_, found := Parse([]byte(every(t)), nil, nil)
	var got []string
	for _, p := range found {
		if !p.Warning {
			got = append(got, p.String())
		}
	}
	want := []string{
		`race.toml:49:10: there is no line "start"; want the id of a line: finish`,
		`race.toml:54:10: there is no line "turn"; want the id of a line: finish`,
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestThePlanWithEveryKeyIsReadAsItSays(t *testing.T) {
	toml := every(t) + "\n[[line]]\nid = \"start\"\n[[line]]\nid = \"turn\"\n"
	r, found := Parse([]byte(toml), nil, nil)
	if r == nil {
		t.Fatal(show(found))
	}
	p := r.Plan
	lisbon, _ := time.LoadLocation("Europe/Lisbon")
	day := time.Date(2026, 5, 17, 0, 0, 0, 0, lisbon)
	at := func(h, m int) race.Instant {
		return race.Of(day.Add(time.Duration(h)*time.Hour + time.Duration(m)*time.Minute))
	}
	if p.Name != "Saltmarsh Half" || !p.Date.Equal(day) || p.Zone.String() != "Europe/Lisbon" || p.Resolution != 200 || p.MaxSpeed != 30 {
		t.Errorf("top: %+v", p)
	}
	wantLines := []race.Line{
		{ID: "finish", Window: 8000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0, 1}},
		{ID: "start", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000},
		{ID: "turn", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000},
	}
	if d := cmp.Diff(wantLines, p.Lines); d != "" {
		t.Error(d)
	}
	wantLogs := []race.Log{
		{System: race.Main, Path: "logs/finish-main*.csv", Clock: "box-3", From: at(8, 30), To: race.NoInstant, Zone: lisbon},
		{System: race.Backup, Path: "logs/finish-backup.csv", Offset: race.Offset{Auto: true}, Behind: race.Behind{Auto: true},
			From: race.NoInstant, To: race.NoInstant, Zone: time.UTC, Columns: map[string]string{"tag": "epc", "time": "first_seen"},
			Delimiter: ";", TimeFormat: "unix-us"},
	}
	if d := cmp.Diff(wantLogs, p.Logs, cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() })); d != "" {
		t.Error(d)
	}
	up1s := race.Official{Rounding: race.Rounding{Name: "up-1s", Unit: 1000, Up: true}}
	half, criterium, six := p.Courses[0], p.Courses[1], p.Courses[2]
	wantHalf := race.Course{ID: "half", Sport: "run", Limit: 12_600_000, Prizes: 10, Official: up1s, Splits: []race.Split{
		{ID: "start", Line: 1, Sport: "run"},
		{ID: "10k", Line: 2, At: 10_000, Required: true, Sport: "run", Fastest: 27 * 60_000},
		{ID: "finish", At: 21_097.5, Sport: "run"},
	}}
	if d := cmp.Diff(wantHalf, half); d != "" {
		t.Error(d)
	}
	if len(criterium.Splits) != 12 || criterium.Open || criterium.LapLength != 2400 || criterium.Splits[0].ID != "lap-1" ||
		criterium.Splits[11].ID != "lap-12" || criterium.Splits[11].At != 28_800 || criterium.Splits[11].Lap != 12 || criterium.Splits[3].Sport != "bike" {
		t.Errorf("criterium: %+v", criterium)
	}
	if len(six.Splits) != 1 || !six.Open || six.LapLength != 1500 || six.TimeLimit != 6*3600_000 || six.Splits[0].Lap != 1 || six.Splits[0].ID != "lap-1" {
		t.Errorf("six hours: %+v", six)
	}
	if d := cmp.Diff([]race.Wave{{ID: "A", Gun: at(9, 0), Early: 2000}}, p.Waves); d != "" {
		t.Error(d)
	}
}

// The copy in testdata is the plan that the outer surface prints, to the letter.
func TestThePlanWithEveryKeyIsTheOnePrinted(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(shared(t), "contract.md"))
	if err != nil {
		t.Skip("SKIPPED: ", err)
	}
	_, rest, _ := strings.Cut(string(b), "```toml\n")
	printed, _, _ := strings.Cut(rest, "```")
	if d := cmp.Diff(printed, every(t)); d != "" || printed == "" {
		t.Error(d)
	}
}
