package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// nightRace is a race of laps over the night in which the clocks change, with logs in a form
// of time: one an hour by the sun, less a second, for identical lines count once, and a lap
// later at the same minute of a repeated hour would be one. Two run, ten minutes apart.
func nightRace(t *testing.T, zone string, gun time.Time, hours int, form string) *race.State {
	t.Helper()
	var log strings.Builder
	log.WriteString("tag,time\n")
	for h := range hours {
		for k, tag := range []string{"AA", "BB"} {
			fmt.Fprintf(&log, "%s,%s\n", tag, gun.Add(time.Duration(lapMillis(h+1, k, hours))*time.Millisecond).Format(form))
		}
	}
	plan := fmt.Sprintf(`format = 1
name = "Night"
date = %s
timezone = %q
[[line]]
id = "lap"
  [[line.log]]
  system = "main"
  path = "logs/main.csv"
[[course]]
id = "c"
sport = "run"
time_limit = "%dh"
  [[course.split]]
  id = "lap"
  line = "lap"
  at = "8km"
  repeat = 0
[[wave]]
id = "A"
course = "c"
gun = %s
`, gun.Format("2006-01-02"), zone, hours+1, gun.Format("15:04:05"))
	return stateOf(t, map[string]string{"race.toml": plan, "athletes.csv": "bib,wave\n1,A\n2,A\n", "chips.csv": "tag,bib\nAA,1\nBB,2\n", "logs/main.csv": log.String()})
}

// lapMillis is when a lap ends: the last one is the whole hours after the gun.
func lapMillis(lap, k, hours int) int {
	return lap*3600_000 + (hours-lap)*1000 + k*600_000
}

// Elapsed time over the nights in which summer time begins and ends, in Berlin and New York
// (tz database): from 22:00 to 06:00 by the wall 9:00:00 pass when it ends and 7:00:00 when it
// begins (1792872000 to 1792904400, 1774731600 to 1774756800, 1793498400 to 1793530800,
// 1772938800 to 1772964000 in Unix seconds), and 24 hours from noon on are 24 laps, in every
// form of time, times of day alone too.
func TestElapsedTimeWhenTheClocksChange(t *testing.T) {
	forms := map[string]string{"rfc3339": "2006-01-02T15:04:05.000Z07:00", "datetime": "2006-01-02 15:04:05.000", "clock": "15:04:05.000"}
	for _, c := range []struct {
		zone, gun string
		unix      int64
		hours     int // from 22:00 to 06:00 by the wall
	}{
		{"Europe/Berlin", "2026-10-24 22:00", 1792872000, 9},
		{"Europe/Berlin", "2026-03-28 22:00", 1774731600, 7},
		{"America/New_York", "2026-10-31 22:00", 1793498400, 9},
		{"America/New_York", "2026-03-07 22:00", 1772938800, 7},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		night, err := time.ParseInLocation("2006-01-02 15:04", c.gun, zone)
		if err != nil || night.Unix() != c.unix {
			t.Fatalf("%s is %d, %v", c.gun, night.Unix(), err)
		}
		for name, form := range forms {
			for _, race24 := range []bool{false, true} {
				gun, hours := night, c.hours
				if race24 {
					gun, hours = night.Add(-10*time.Hour), 24
				}
				st := nightRace(t, c.zone, gun, hours, form)
				what := fmt.Sprintf("%s %s, %s, %d hours", c.zone, c.gun, name, hours)
				sumsHold(t, what, st.Sums)
				for k := range 2 {
					x := st.Results[k]
					if x.Laps != hours {
						t.Errorf("%s: bib %s has %d laps", what, x.Bib, x.Laps)
						continue
					}
					last := race.NoInstant
					for s, n := range x.Filled {
						if n < 0 {
							t.Errorf("%s: bib %s has no %s of %d splits; laps %d", what, x.Bib, x.Splits[s].ID, len(x.Splits), x.Laps)
							continue
						}
						at := x.Passings[n].At
						if want := race.Millis(lapMillis(s+1, k, hours)); at.Sub(x.Gun) != want {
							t.Errorf("%s: bib %s passes lap %d after %s, want %s", what, x.Bib, s+1, at.Sub(x.Gun), want)
						}
						last = at
					}
					if !race24 && k == 0 {
						if wall := last.Time(zone).Format("15:04:05"); wall != "06:00:00" || last.Sub(x.Gun) != race.Millis(c.hours)*3600_000 {
							t.Errorf("%s: %s on the wall after %s", what, wall, last.Sub(x.Gun))
						}
					}
				}
			}
		}
	}
}
