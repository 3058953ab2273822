package outbox

import (
	"os"
	"path/filepath"
	"testing"

	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

func TestAReportInALine(t *testing.T) {
	r := Report{Dir: "out", States: map[string]int{"clean": 230, "held": 4}, Open: 2, First: true}
	for _, c := range []struct {
		change func()
		want   string
	}{
		{func() {}, "written to out: 230 clean, 4 held; 2 open suspects hold something; no export stood there before"},
		{func() { r.First = false }, "written to out: 230 clean, 4 held; 2 open suspects hold something; nothing differs from the export before"},
		{func() { r.Changes, r.Open = make([]export.Change, 1), 1 }, "written to out: 230 clean, 4 held; 1 open suspect holds something; 1 cell differs from the export before"},
		{func() { r.Changes, r.Other = make([]export.Change, 3), map[string]string{"times.csv": "times (1).csv"} },
			"written to out: 230 clean, 4 held; 1 open suspect holds something; times.csv is held open by another program and still the old one: the new one is times (1).csv; 3 cells differ from the export before"},
	} {
		if c.change(); r.Short() != c.want {
			t.Errorf("%s\nwant %s", r.Short(), c.want)
		}
	}
}

// Nothing goes in place of what a race rests on, nor where a pattern reads it as a log, by whichever
// way it is named.
func TestNothingIsWrittenOverTheRace(t *testing.T) {
	dir := t.TempDir()
	plan := &race.Plan{Logs: []race.Log{{Path: "reads/*/main.csv"}, {Path: "logs/backup*.csv"}, {Path: "hand.csv"}, {Path: filepath.Join(dir, "..", "stick", "start.csv")}}}
	logs, link := filepath.Join(dir, "logs"), filepath.Join(t.TempDir(), "link")
	if err := os.WriteFile(filepath.Join(dir, "rulings.jsonl"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(logs, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(logs, link); err != nil {
		t.Skip(err) // not every system lets everybody make one
	}
	for path, free := range map[string]bool{
		filepath.Join(dir, "out"): true, dir: true, filepath.Join(dir, "report.html"): true, filepath.Join(dir, "logs-old"): true,
		logs: false, filepath.Join(logs, "deep", "er"): false, filepath.Join(dir, "reads", "turn"): false, filepath.Join(dir, "..", "stick"): true, filepath.Join(link, "r.html"): false,
		filepath.Join(dir, "kept"): false, filepath.Join(dir, "out", "..", "rulings.jsonl"): false,
	} {
		if err := MayWrite(dir, plan, path); (err == nil) != free {
			t.Errorf("%s: %v", path, err)
		}
	}
	if _, err := Write(dir, logs, &race.State{Plan: plan}, "", export.Options{}); err == nil {
		t.Error("exports went among the logs")
	}
}
