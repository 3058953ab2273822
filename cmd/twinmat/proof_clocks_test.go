package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

const twoClocksPlan = `format = 1
name = "Two clocks"
date = 2026-05-17
timezone = "UTC"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "logs/main.csv"
  [[line.log]]
  system = "backup"
  path = "logs/backup.csv"
  behind = "0m"
[[course]]
id = "c"
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "10km"
[[wave]]
id = "A"
course = "c"
gun = 09:00:00
`

// twoLogs is a race of so many, of whom main and backup saw what seen says; at is when
// somebody crosses, after the gun, and wrong what backup's clock shows beyond it.
func twoLogs(t *testing.T, athletes int, seen func(i int) (main, backup bool), at func(i int) time.Duration, wrong func(i int) time.Duration) *race.State {
	t.Helper()
	gun := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
	var list, chips, main, backup strings.Builder
	list.WriteString("bib,wave\n")
	chips.WriteString("tag,bib\n")
	main.WriteString("tag,time\n")
	backup.WriteString("tag,time\n")
	for i := range athletes {
		fmt.Fprintf(&list, "%d,A\n", i+1)
		fmt.Fprintf(&chips, "C%d,%d\n", i+1, i+1)
		m, b := seen(i)
		if m {
			fmt.Fprintf(&main, "C%d,%s\n", i+1, gun.Add(at(i)).Format(time.RFC3339Nano))
		}
		if b {
			fmt.Fprintf(&backup, "C%d,%s\n", i+1, gun.Add(at(i)+wrong(i)).Format(time.RFC3339Nano))
		}
	}
	return stateOf(t, map[string]string{"race.toml": twoClocksPlan, "athletes.csv": list.String(), "chips.csv": chips.String(), "logs/main.csv": main.String(), "logs/backup.csv": backup.String()})
}

// How far a clock goes wrong, as published: 20 ppm is 1.728 s a day (best-microcontroller-projects.com;
// xtalong.com's note on 32.768 kHz crystals, with 10 ppm 0.864 s and 30 ppm 2.592 s), 100 ppm is
// 8.64 s a day, 5.8 ppm half a second (osgeo.cn); NTP takes 15 ppm for the worst of a clock (RFC 5905,
// section 7.2), two of them part by 0.108 s an hour. A backup that goes wrong by so many seconds
// a day must be told with so many ppm over a day of six hours and with its offset at their middle, and whom main missed gets the time
// that main would have kept. The offset's sign is the contract's, that clock minus main's. Reads
// scatter by some 50 ms, seed 1.
func TestPublishedDriftsOfClocks(t *testing.T) {
	gun := race.Of(time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC))
	for _, c := range []struct{ aDay, ppm float64 }{{1.728, 20}, {-1.728, -20}, {0.864, 10}, {2.592, 30}, {8.64, 100}, {0.5, 5.787}, {24 * 0.108, 30}} {
		g := rand.New(rand.NewPCG(1, 1))
		const athletes = 600
		at := func(i int) time.Duration { return time.Hour + time.Duration(i)*36*time.Second }
		scatter := make([]time.Duration, athletes)
		for i := range scatter {
			scatter[i] = time.Duration(g.NormFloat64() * 50 * float64(time.Millisecond))
		}
		missed := func(i int) bool { return i%20 == 10 }
		st := twoLogs(t, athletes, func(i int) (bool, bool) { return !missed(i), true }, at, func(i int) time.Duration {
			return 3217*time.Millisecond + time.Duration(c.aDay*float64(at(i)-4*time.Hour)/86400) + scatter[i]
		})
		if len(st.Clocks) != 1 {
			t.Errorf("%.3f s a day: %d stretches, want one", c.aDay, len(st.Clocks))
			continue
		}
		k := st.Clocks[0]
		middle := k.From.Sub(gun).Seconds() + k.To.Sub(k.From).Seconds()/2 - 4*3600
		made := 3.217 + c.aDay*middle/86400
		if math.Abs(k.DriftPPM-c.ppm) > 1.5 || math.Abs(k.Offset-made) > 0.02 {
			t.Errorf("%.3f s a day: told %+.1f ppm, published %+.1f; offset %+.3f s, made %+.3f", c.aDay, k.DriftPPM, c.ppm, k.Offset, made)
		}
		for i := range athletes {
			x := st.Results[st.ByBib[fmt.Sprint(i+1)]]
			if !missed(i) {
				continue
			}
			if off := x.GunTime.Seconds() - (at(i) + scatter[i]).Seconds(); x.From != race.FromBackup || math.Abs(off) > 0.03 {
				t.Errorf("%.3f s a day: bib %d, from %s, is %.3f s off", c.aDay, i+1, x.From, off)
			}
		}
	}
}

// The books' examples of two captures through the whole program: main is the first catch, backup
// the second, both the marked ones of it, and the passings that nobody saw are Chapman's estimate
// less those seen. Krebs 1989 box 2.1, Ricker 1975, Pine et al. 2013 box 11.2, Seber 2002 tables
// 3.7 and 3.8, as R's FSA package validates its mrClosed.
func TestPublishedCapturesOfTwo(t *testing.T) {
	for _, c := range []struct {
		main, backup, both int
		published          float64
	}{{948, 421, 167, 2383}, {109, 177, 57, 337}, {421, 332, 88, 1578}, {1000, 243, 21, 11101}} {
		all := c.main + c.backup - c.both
		st := twoLogs(t, all, func(i int) (bool, bool) {
			// Those of both lie evenly among main's, as chance would have it.
			marked := i < c.main && i*c.both/c.main != (i+1)*c.both/c.main
			return i < c.main, i >= c.main || marked
		}, func(i int) time.Duration { return time.Hour + time.Duration(i*7919%all)*5*time.Second }, func(int) time.Duration { return 3217 * time.Millisecond })
		for _, s := range st.Systems {
			if got := s.MissedByAll + float64(all); math.Abs(got-c.published) > 0.5 {
				t.Errorf("%d, %d, %d in both: %s's row tells %.1f in all, published %.0f (%s)", c.main, c.backup, c.both, s.System, got, c.published, s.MissedSays)
			}
		}
		if len(st.Systems) != 2 {
			t.Errorf("%d systems", len(st.Systems))
		}
	}
}
