package reconcile_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Who rules that somebody was seen, and is shown otherwise by logs that come later, has slipped, or
// the athlete walked back over the line: nothing is clean until a person has looked.
func TestAWitnessThatLaterReadsContradictIsAdrift(t *testing.T) {
	adrift := func(late time.Duration, shown bool) (*race.State, *race.Suspect) {
		in := witnessed(t, late)
		x := race.Ruling{Seq: 1, Rule: race.Witness, Bib: "5", Line: "finish", Time: "2026-06-14T12:39:40Z", Why: "by eye"}
		if shown {
			x.Evidence = reconcile.Shown(reconcile.Compute(in), &x)
		}
		in.Rulings = append(in.Rulings, x)
		st := reconcile.Compute(in)
		for i := range st.Suspects {
			if s := &st.Suspects[i]; s.Kind == race.RulingAdrift {
				return st, s
			}
		}
		return st, nil
	}
	st, s := adrift(0, false)
	if s == nil || s.ID != "ruling-adrift:1" || s.Weight != race.Hold || s.Proposes != "undo --seq 1" || !strings.Contains(s.Says, "main says 2026-06-14T12:40:40.000Z, backup says ") {
		t.Fatalf("%+v", s)
	}
	if r := st.Results[st.ByBib["5"]]; r.State != race.Held {
		t.Errorf("%s is %s", r.Bib, r.State)
	}
	// An accept holds as long as the reads are these, wherever the others' put backup's clock.
	if _, moved := adrift(70*time.Millisecond, false); moved == nil || moved.Says == s.Says || moved.Evidence != s.Evidence {
		t.Errorf("%+v\nof the same reads: %+v", moved, s)
	}
	if _, s := adrift(0, true); s != nil {
		t.Errorf("whoever ruled knew of the reads, and is told: %+v", s)
	}
}

// witnessed is a race of twenty whose fifth comes in at 12:40:40, after a fifth of a minute each;
// backup reads all others so much later.
func witnessed(t *testing.T, late time.Duration) reconcile.Input {
	gun := time.Date(2026, 6, 14, 12, 0, 0, 0, time.UTC)
	files := map[string]string{"athletes.csv": "bib,wave\n", "chips.csv": "tag,bib\n"}
	read := func(log string, bib int, at time.Time) {
		files[log] += fmt.Sprintf("T%03d,%s,1,-60\n", bib, at.Format("2006-01-02T15:04:05.000Z07:00"))
	}
	for bib := 1; bib <= 20; bib++ {
		files["athletes.csv"] += fmt.Sprintf("%d,A\n", bib)
		files["chips.csv"] += fmt.Sprintf("T%03d,%d\n", bib, bib)
		in := gun.Add(2380*time.Second + time.Duration(bib)*12*time.Second)
		if bib == 5 {
			in = gun.Add(2440 * time.Second)
		}
		read("start.csv", bib, gun.Add(time.Duration(bib)*time.Second))
		read("main.csv", bib, in)
		if in = in.Add(3500 * time.Millisecond); bib != 5 {
			in = in.Add(late)
		}
		read("backup.csv", bib, in)
	}
	files["race.toml"] = `format = 1
name = "Eye"
date = 2026-06-14
timezone = "UTC"
[[line]]
id = "start"
  [[line.log]]
  system = "main"
  path = "start.csv"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "main.csv"
  [[line.log]]
  system = "backup"
  path = "backup.csv"
[[course]]
id = "run"
sport = "run"
  [[course.split]]
  id = "start"
  line = "start"
  at = "0m"
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "8km"
[[wave]]
id = "A"
course = "run"
gun = 12:00:00
`
	dir := t.TempDir()
	for name, text := range files {
		if strings.HasSuffix(name, "t.csv") || name == "main.csv" || name == "backup.csv" {
			text = "tag,time,antenna,rssi\n" + text
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f.Input()
}
