package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
)

// clocked writes a race of 60 whose finish is 25 s after one another, on three clocks:
// backup 3.2 s before main by tenths of a second, hand 61 s before it by halves. From
// 09:52:30 on main is jump ahead. Main misses the bibs that miss names, and so main's own
// and the true times are known.
func clocked(t *testing.T, jump float64, miss ...int) *contract {
	t.Helper()
	c := &contract{t: t, dir: filepath.Join(t.TempDir(), "race"), at: t.Name()}
	var athletes, chips, start, mains, backup, hand strings.Builder
	athletes.WriteString("bib,name,wave\n")
	chips.WriteString("tag,bib\n")
	for _, b := range []*strings.Builder{&start, &mains, &backup} {
		b.WriteString("tag,time\n")
	}
	hand.WriteString("bib,time\n")
	for i := 1; i <= 60; i++ {
		fmt.Fprintf(&athletes, "%d,N%d,A\n", i, i)
		fmt.Fprintf(&chips, "C%d,%d\n", i, i)
		fmt.Fprintf(&start, "C%d,%s\n", i, clockAt(5))
		at := 2400 + 25*float64(i)
		step := 0.0
		if at > 3150 {
			step = jump
		}
		missed := false
		for _, m := range miss {
			missed = missed || m == i
		}
		if !missed {
			fmt.Fprintf(&mains, "C%d,%s\n", i, clockAt(at+step))
		}
		fmt.Fprintf(&backup, "C%d,%s\n", i, clockAt(at+3.2+0.04*float64(i*7%5-2)))
		if i%2 == 1 {
			fmt.Fprintf(&hand, "%d,%s\n", i, clockAt(at+61+0.2*float64(i*3%5)))
		}
	}
	c.unpack("-- race.toml --\n" + `format = 1
name = "Clocks"
date = 2026-05-17
timezone = "Europe/Lisbon"
[[line]]
id = "start"
  [[line.log]]
  system = "main"
  path = "logs/start.csv"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "logs/finish.csv"
  offset = "+10s"
  [[line.log]]
  system = "backup"
  path = "logs/finish-b.csv"
  [[line.log]]
  system = "hand"
  path = "logs/finish-h.csv"
[[course]]
id = "ten"
sport = "run"
prizes = 0
  [[course.split]]
  id = "start"
  line = "start"
  at = "0m"
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "10km"
[[wave]]
id = "A"
course = "ten"
gun = 09:00:00
` + "-- athletes.csv --\n" + athletes.String() + "-- chips.csv --\n" + chips.String() + "-- logs/start.csv --\n" + start.String() +
		"-- logs/finish.csv --\n" + mains.String() + "-- logs/finish-b.csv --\n" + backup.String() + "-- logs/finish-h.csv --\n" + hand.String())
	return c
}

func clockAt(s float64) string {
	return time.Date(2026, 5, 17, 8, 0, 0, 0, time.UTC).Add(time.Duration(s*1000+0.5) * time.Millisecond).Format("2006-01-02T15:04:05.000Z")
}

func (c *contract) script(s string) {
	c.t.Helper()
	for _, line := range strings.Split(strings.TrimSpace(s), "\n") {
		if c.at = strings.TrimSpace(line); c.at != "" && !strings.HasPrefix(c.at, "#") {
			c.do(split(c.at))
		}
	}
}

// 5 and 8, Clocks: a row for every aligned log, hand too, from the outermost pair to the
// outermost; the offset is that clock minus main's, whose own is 10 s off the race clock.
func TestContractClockRows(t *testing.T) {
	c := clocked(t, 0, 10, 60)
	c.script(`
		export
		keys clocks finish/backup finish/hand
		cell clocks finish/backup source auto
		cell clocks finish/backup from 2026-05-17T09:40:15.000+01:00
		cell clocks finish/backup to 2026-05-17T10:04:25.000+01:00
		cell clocks finish/backup pairs 58
		cell clocks finish/backup offset_s '~3\.[12]\d\d'
		cell clocks finish/hand offset_s '~61\.[345]\d\d'
		cell clocks finish/hand pairs 30
		cell times 10 finish_from backup
		cell times 10 finish_at '~2026-05-17T09:43:(59\.[89]|00\.[012]).*'
		cell times 10 plus_minus_s '~0\.\d\d\d'
		cell times 11 finish_from main
		cell times 11 finish_at 2026-05-17T09:44:25.000+01:00
		export --strict`)
}

// 6 and 8: main jumps by 20 s; backup and hand both tell, so that it was main is proposed;
// fills between the last pair before and the first after are held until it is ruled, and
// moved times stay from main.
func TestContractClockStep(t *testing.T) {
	c := clocked(t, 20, 10, 30, 31)
	c.script(`
		export
		cell suspects clock-step:finish/backup@09:52 weight hold
		cell suspects clock-step:finish/backup@09:52 bib ''
		cell suspects clock-step:finish/backup@09:52 proposes 'set-clock --line finish --stepped main'
		keys clocks finish/backup finish/backup#2 finish/hand finish/hand#2
		cell times 30 state held
		cell times 30 held_for clock-step:finish/backup@09:52
		cell times 10 state clean
		cell times 45 finish_from main
		cell times 45 finish_at 2026-05-17T09:58:55.000+01:00
		export! 3 --strict
		rule set-clock --line finish --stepped main
		export
		cell suspects clock-step:finish/backup@09:52 status settled
		cell times 45 finish_from main
		cell times 45 finish_at '~2026-05-17T09:58:(34\.9|35\.0).*'
		cell times 30 state clean
		cell times 30 finish_at '~2026-05-17T09:52:(19\.[89]|20\.[012]).*'
		cell times 20 finish_at 2026-05-17T09:48:10.000+01:00
		export --strict
		rule undo --seq 1
		rule set-clock --line finish --stepped main --right after
		export
		cell times 45 finish_at 2026-05-17T09:58:55.000+01:00
		cell times 20 finish_at '~2026-05-17T09:48:(29\.9|30\.0).*'
		rule! 1 set-clock --line start --stepped main`)
}

// 6: an offset that is set so far off that no crossing of both comes together holds whose times come
// to rest on it, and what both read is proposed.
func TestContractClockSetWrongly(t *testing.T) {
	c := clocked(t, 0, 10)
	c.script(`
		rule set-clock --line finish --system backup --offset +13.1s
		export
		cell suspects clock-unsure:finish/backup weight hold
		cell suspects clock-unsure:finish/backup status open
		cell suspects clock-unsure:finish/backup proposes '~set-clock --line finish --system backup --offset \+3\.\d+'
		cell times 11 state held
		cell times 11 held_for '~.*clock-unsure:finish/backup.*'
		export! 3 --strict
		rule set-clock --line finish --system backup --offset +3.1s
		export
		absent suspects clock-unsure:finish/backup
		cell times 11 finish_from main
		cell times 11 held_for ''`)
}

// 6: so does one that is set wrongly by less, which where antennas stand would take up: what the pairs
// speak for is proposed, and an accept stands as long as it is set so.
func TestContractClockSetNearlyRight(t *testing.T) {
	c := clocked(t, 0, 10, 11, 12)
	c.script(`
		rule set-clock --line finish --system backup --offset +5.1s
		export
		cell suspects clock-unsure:finish/backup status open
		cell suspects clock-unsure:finish/backup proposes '~set-clock --line finish --system backup --offset \+3\.\d+'
		cell times 11 held_for '~.*clock-unsure:finish/backup.*'
		rule accept --suspect clock-unsure:finish/backup
		export
		cell suspects clock-unsure:finish/backup status settled
		cell times 11 held_for ''
		rule set-clock --line finish --system backup --offset +1.1s
		export
		cell suspects clock-unsure:finish/backup status open
		rule set-clock --line finish --system backup --offset +3.1s
		export
		absent suspects clock-unsure:finish/backup`)
}

// 5: the same bytes for the same input, and changes.csv empty then.
func TestContractSameBytes(t *testing.T) {
	c := clocked(t, 20, 10, 30, 31)
	c.script("export")
	read := func() string {
		var b strings.Builder
		for _, n := range []string{"times", "splits", "suspects", "clocks", "systems"} {
			x, err := os.ReadFile(filepath.Join(c.dir, "out", n+".csv"))
			if err != nil {
				t.Fatal(err)
			}
			b.Write(x)
		}
		x, err := os.ReadFile(filepath.Join(c.dir, "out", "manifest.json"))
		if err != nil {
			t.Fatal(err)
		}
		b.Write(x)
		return b.String()
	}
	first := read()
	c.script("export\nkeys changes")
	if second := read(); second != first {
		t.Errorf("the second export differs: %s", firstDifference(first, second))
	}
}

// 7 and 8, Counts: nothing vanishes when reads of owned, unowned and ignored tags are voided.
func TestContractVoidedSums(t *testing.T) {
	c := clocked(t, 0, 10)
	c.script(`
		append logs/finish.csv XX,2026-05-17T08:50:00Z
		append logs/finish.csv XX,2026-05-17T08:50:30Z
		append logs/finish.csv YY,2026-05-17T08:50:00Z
		rule ignore-chip --tag YY
		rule void-reads --line finish --from 09:40:00 --to 09:50:05
		rule swap-bibs --bib 3 --with 5
		export
		manifest reads 212`)
	f, err := ingest.Read(c.dir)
	if err != nil {
		t.Fatal(err)
	}
	st := reconcile.Compute(f.Input())
	sumsHold(t, "voided", st.Sums)
	if st.Sums.Voided == 0 || st.Sums.Unassigned != 1 || st.Sums.Ignored != 0 {
		t.Errorf("%+v", st.Sums)
	}
}
