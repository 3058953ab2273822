package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// rfid_antenna_detections.csv: 10,077 detections at three antennas, a real reader's bursts.
// SOURCES.md: A 460, B 8,590, C 1,027; 13 tags; one tag has 6,408 of them; 102 times the
// arrival goes back in stored order. Each detection must be a read or an identical line, in
// any order, and the passings those that the session windows' definition (gaps under five
// seconds are one) gives.
func TestRealAntennasDetections(t *testing.T) {
	rows, col := dataRows(t, "rfid_antenna_detections.csv")
	d := newDataRace(t, []string{"A", "B", "C"}, `[[course]]
id = "c"
limit = "8760h"
[[course.split]]
id = "a"
line = "A"
at = "1km"
[[course.split]]
id = "b"
line = "B"
at = "2km"
[[course.split]]
id = "c"
line = "C"
at = "3km"
`)
	type place struct{ site, tag string }
	arrivals, lines, back := map[place][]time.Time{}, map[string]int{}, 0
	identical := map[string]bool{}
	repeated := map[string]int{}
	last := map[string]time.Time{}
	tags := map[string]bool{}
	for _, r := range rows {
		site, tag := r[col["site"]], r[col["tag"]]
		at, err := time.Parse("2006-01-02T15:04:05.999", r[col["arrival"]])
		if err != nil {
			t.Fatal(err)
		}
		if at.Before(last[site]) {
			back++
		}
		last[site] = at
		if !tags[tag] {
			tags[tag] = true
			fmt.Fprintf(&d.athletes, "%d,m,all,\n", len(tags))
			fmt.Fprintf(&d.chips, "%s,%d\n", tag, len(tags))
		}
		line := fmt.Sprintf("%s,%s\n", tag, r[col["arrival"]])
		d.logs[site+"-main"].WriteString(line)
		lines[site]++
		if identical[site+line] {
			repeated[site]++
			continue
		}
		identical[site+line] = true
		arrivals[place{site, tag}] = append(arrivals[place{site, tag}], at)
	}
	if back != 102 || len(tags) != 13 {
		t.Fatalf("%d tags, %d times back: not the file that SOURCES.md tells of", len(tags), back)
	}
	passings := map[string]int{}
	for p, ats := range arrivals {
		slices.SortFunc(ats, time.Time.Compare)
		for i, at := range ats {
			if i == 0 || at.Sub(ats[i-1]) >= 5*time.Second {
				passings[p.site]++
			}
		}
	}
	plan, err := os.ReadFile(filepath.Join(d.dir, "race.toml"))
	if err != nil {
		t.Fatal(err)
	}
	d.write(t, "race.toml", bytes.ReplaceAll(plan, []byte("2026-05-17"), []byte("2019-05-01")))
	d.write(t, "athletes.csv", d.athletes.Bytes())
	d.write(t, "chips.csv", d.chips.Bytes())
	for n, b := range d.logs {
		d.write(t, "logs/"+n+".csv", b.Bytes())
	}
	f, err := ingest.Read(d.dir)
	if err != nil {
		t.Fatal(err)
	}
	st := reconcile.Compute(f.Input())
	sumsHold(t, "antennas", st.Sums)
	for i := range st.Systems {
		x := &st.Systems[i]
		if x.System != race.Main {
			continue
		}
		site := st.Plan.Lines[x.Line].ID
		if x.Reads+x.Repeated != lines[site] || x.Repeated != repeated[site] || x.BadLines != 0 || x.Passings != passings[site] {
			t.Errorf("%s: %d reads, %d repeated, %d bad, %d passings; want %d lines, %d repeated, %d passings", site, x.Reads, x.Repeated, x.BadLines, x.Passings, lines[site], repeated[site], passings[site])
		}
	}
	if lines["A"] != 460 || lines["B"] != 8_590 || lines["C"] != 1_027 {
		t.Errorf("lines %v", lines)
	}
	t.Logf("lines %v, repeated %v, passings %v", lines, repeated, passings)
}
