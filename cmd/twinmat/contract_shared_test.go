package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// 2, 5, 8 Clocks: a backup box that stands at two lines has one clock. Main never reads at
// the finish: backup's times there are filled by what the other line tells, and the log has
// a row in clocks.csv as every aligned one has, without pairs or a span of its own.
func TestContractSharedClock(t *testing.T) {
	c := &contract{t: t, dir: filepath.Join(t.TempDir(), "race"), at: t.Name()}
	var athletes, chips, mid, midB, finishB strings.Builder
	athletes.WriteString("bib,name,wave\n")
	chips.WriteString("tag,bib\n")
	for _, b := range []*strings.Builder{&mid, &midB, &finishB} {
		b.WriteString("tag,time\n")
	}
	for i := 1; i <= 40; i++ {
		fmt.Fprintf(&athletes, "%d,N%d,A\n", i, i)
		fmt.Fprintf(&chips, "C%d,%d\n", i, i)
		at, noise := 1200+10*float64(i)+0.013*float64(i*i%71), 0.04*float64(i*7%5-2)
		fmt.Fprintf(&mid, "C%d,%s\n", i, clockAt(at))
		fmt.Fprintf(&midB, "C%d,%s\n", i, clockAt(at+12.5+noise))
		fmt.Fprintf(&finishB, "C%d,%s\n", i, clockAt(2*at+12.5+noise))
	}
	c.unpack("-- race.toml --\n" + `format = 1
name = "One box, two lines"
date = 2026-05-17
timezone = "Europe/Lisbon"
[[line]]
id = "mid"
  [[line.log]]
  system = "main"
  path = "logs/mid.csv"
  [[line.log]]
  system = "backup"
  path = "logs/mid-b.csv"
  clock = "box"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "logs/finish.csv"
  [[line.log]]
  system = "backup"
  path = "logs/finish-b.csv"
  clock = "box"
[[course]]
id = "ten"
sport = "run"
prizes = 0
  [[course.split]]
  id = "mid"
  line = "mid"
  at = "5km"
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "10km"
[[wave]]
id = "A"
course = "ten"
gun = 09:00:00
` + "-- athletes.csv --\n" + athletes.String() + "-- chips.csv --\n" + chips.String() +
		"-- logs/mid.csv --\n" + mid.String() + "-- logs/mid-b.csv --\n" + midB.String() + "-- logs/finish-b.csv --\n" + finishB.String())
	c.script(`
		export
		keys clocks mid/backup finish/backup
		cell clocks mid/backup pairs 40
		cell clocks finish/backup pairs 0
		cell clocks finish/backup from ''
		cell clocks finish/backup to ''
		cell clocks finish/backup offset_s '~12\.[456]\d\d'
		cell clocks finish/backup source auto
		cell times 10 state clean
		cell times 10 finish_from backup
		cell times 10 finish_at '~2026-05-17T09:4(3:19\.[6789]|3:20\.[01234]).*'
		absent suspects clock-unsure:finish/backup`)
	if says := c.says("explain", c.dir, "10"); !strings.Contains(says, `its clock reads +12.`) || !strings.Contains(says, `of the clock "box"`) {
		t.Errorf("explain says\n%s", says)
	}
}
