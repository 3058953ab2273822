package main

import (
	"fmt"
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
