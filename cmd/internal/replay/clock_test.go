package replay

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

const offsetPlan = `format = 1
name = "Fen Five"
date = 2026-05-17
timezone = "Europe/Dublin"
[[line]]
id = "start"
  [[line.log]]
  system = "main"
  path = "logs/start.csv"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "logs/finish-main.csv"
  offset = "+1h"
  [[line.log]]
  system = "backup"
  path = "logs/finish-backup.csv"
  offset = "auto"
  behind = "0m"
[[course]]
id = "five"
sport = "run"
  [[course.split]]
  id = "start"
  line = "start"
  at = "0m"
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "5km"
[[wave]]
id = "A"
course = "five"
gun = 09:00:00
`

// A line comes when somebody crossed by the race clock, whatever the log's own clock showed: where the
// plan says how far main's is off, and where backup's was set in mid-race.
func TestLinesComeAsTheRaceClockHasThem(t *testing.T) {
	dir := t.TempDir()
	var athletes, chips, start, main, backup strings.Builder
	write := func(b *strings.Builder, tag string, seconds int) {
		fmt.Fprintf(b, "%s,%02d:%02d:%02d.000\n", tag, seconds/3600, seconds/60%60, seconds%60)
	}
	athletes.WriteString("bib,name,wave\n")
	chips.WriteString("tag,bib\n")
	for _, b := range []*strings.Builder{&start, &main, &backup} {
		b.WriteString("tag,time\n")
	}
	const gun, hour = 9 * 3600, 3600
	for i := 1; i <= 60; i++ {
		tag := fmt.Sprintf("AA%04d", i)
		fmt.Fprintf(&athletes, "%d,Runner %d,A\n", i, i)
		fmt.Fprintf(&chips, "%s,%d\n", tag, i)
		in := gun + 1000 + 37*i + i*i%11
		write(&start, tag, gun+2+i%9)
		write(&main, tag, in+hour)
		if i <= 30 {
			write(&backup, tag, in+20)
		} else {
			write(&backup, tag, in+2*hour) // somebody set it
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "logs"), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"race.toml": offsetPlan, "athletes.csv": athletes.String(), "chips.csv": chips.String(),
		"logs/start.csv": start.String(), "logs/finish-main.csv": main.String(), "logs/finish-backup.csv": backup.String()} {
		if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, in := range []int{15, 45} { // one on either side of the step
		into := t.TempDir()
		at := f.Plan.Waves[0].Gun.Add(race.Millis(1000 * (1000 + 37*in + 18)))
		if err := Into(context.Background(), dir, into, Options{From: race.NoInstant, To: at}); err != nil {
			t.Fatal(err)
		}
		for _, log := range []string{"finish-main.csv", "finish-backup.csv"} {
			b, err := os.ReadFile(filepath.Join(into, "logs", log))
			if n := strings.Count(string(b), "\n") - 1; err != nil || n < in-1 || n > in+1 {
				t.Errorf("%s has %d lines when %d have crossed (%v)", log, n, in, err)
			}
		}
	}
	if st := reconcile.Compute(f.Input()); len(st.Clocks) < 2 {
		t.Fatalf("the step was not found: %+v", st.Clocks)
	}
}
