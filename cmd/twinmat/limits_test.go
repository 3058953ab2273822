package main

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

const limitsPlan = `format = 1
name = "Limits"
date = 2026-05-17
timezone = "Europe/Lisbon"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "logs/main.csv"
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

// More unknown tags than anybody can look at: those read most are listed, all are counted,
// and the latest of them still tell how late it is.
func TestUnknownTagsBeyondAllMeasure(t *testing.T) {
	var log strings.Builder
	log.WriteString("tag,time\n")
	at := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC) // 10:00 in Lisbon
	const tags, twice = 10_700, 100
	for i := range tags + twice {
		fmt.Fprintf(&log, "F%05d,%s\n", i%tags, at.Add(time.Duration(i)*100*time.Millisecond).Format(time.RFC3339Nano))
	}
	st := stateOf(t, map[string]string{"race.toml": limitsPlan, "athletes.csv": "bib,wave\n1,A\n", "chips.csv": "tag,bib\nAA,1\n", "logs/main.csv": log.String()})
	sumsHold(t, "limits", st.Sums)
	if len(st.Strays) != 10_000 || st.MoreStrays != tags-10_000 || st.Sums.Unassigned != tags+twice {
		t.Errorf("%d tags listed, %d more, %d reads unassigned", len(st.Strays), st.MoreStrays, st.Sums.Unassigned)
	}
	listed := map[string]bool{}
	for i := range st.Strays {
		listed[st.Strays[i].Tag] = true
	}
	for i := range twice {
		if tag := fmt.Sprintf("F%05d", i); !listed[tag] {
			t.Errorf("%s, read twice, is not listed", tag)
		}
	}
	last := at.Add((tags + twice - 1) * 100 * time.Millisecond)
	if got := st.Systems[0].Last.Time(time.UTC); !got.Equal(last) {
		t.Errorf("the last read is at %v, want %v", got, last)
	}
	if got := st.Now.Time(time.UTC); last.Sub(got) > time.Minute || got.After(last) {
		t.Errorf("now is %v, the last read at %v", got, last)
	}
}

// Input that no clock tells: one tag at both systems all day, one at one moment for ever,
// years past counting, numbers that are none. It is counted and told, and no time, no clock
// and no residual is other than a number.
func TestClockInputBeyondAllSense(t *testing.T) {
	plan := strings.Replace(limitsPlan, "[[course]]", "  [[line.log]]\n  system = \"backup\"\n  path = \"logs/backup.csv\"\n[[course]]", 1)
	files := map[string]string{"race.toml": plan, "athletes.csv": "bib,wave\n", "chips.csv": "tag,bib\n"}
	for i := range 20 {
		files["athletes.csv"] += fmt.Sprintf("%d,A\n", i+1)
		files["chips.csv"] += fmt.Sprintf("T%d,%d\n", i+1, i+1)
	}
	for _, system := range []string{"main", "backup"} {
		var log strings.Builder
		log.WriteString("tag,time\n")
		late := 0
		if system == "backup" {
			late = 700
		}
		at := time.Date(2026, 5, 17, 8, 30, 0, late*1e6, time.UTC)
		for i := range 20_000 {
			fmt.Fprintf(&log, "T1,%s\nT2,2026-05-17T09:40:00.%03dZ\n", at.Add(time.Duration(i)*6*time.Second).Format(time.RFC3339Nano), late)
		}
		for k, when := range []string{"9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z", "NaN", "inf", "99999999999999999999", "-1", "1e300", "2026-02-30T10:00:00Z", "1970-01-01T00:00:00Z"} {
			for i := range 50 {
				fmt.Fprintf(&log, "T%d,%s\n", 4+(i+k)%10, when)
			}
		}
		for i := 4; i <= 20; i++ {
			fmt.Fprintf(&log, "T%d,2026-05-17T09:%d:00.%03dZ\n", i, i+20, late)
		}
		files["logs/"+system+".csv"] = log.String()
	}
	st := stateOf(t, files)
	sumsHold(t, "beyond sense", st.Sums)
	if st.Sums.Bad != 2*6*50 {
		t.Errorf("%d bad lines, want 600", st.Sums.Bad)
	}
	number := func(what string, x float64) {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%s is %v", what, x)
		}
	}
	for _, c := range st.Clocks {
		for _, x := range []float64{c.Offset, c.DriftPPM, c.Behind, c.PlusMinus, c.Spread} {
			number("a clock", x)
		}
	}
	for _, points := range st.Points {
		for _, p := range points {
			number("a residual", p.Residual)
			number("a weight", p.Weight)
		}
	}
	for i := 4; i <= 20; i++ {
		x := st.Results[st.ByBib[fmt.Sprint(i)]]
		if got := x.FinishAt.Time(time.UTC).Format("15:04:05.000"); got != fmt.Sprintf("09:%d:00.000", i+20) {
			t.Errorf("%d finished at %s", i, got)
		}
	}
}
