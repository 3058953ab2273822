package logs

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// sharedRaces is the folder of invented races with known truth.
func sharedRaces(t testing.TB) string {
	dir := os.Getenv("TWINMAT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	dir = filepath.Join(dir, "races")
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("SKIPPED: the races with known truth aren't here (%v); set TWINMAT_SHARED", err)
	}
	return dir
}

func planFor(zone string, y int, m time.Month, d int, logs ...race.Log) *race.Plan {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		panic(err)
	}
	p := &race.Plan{Zone: loc, Date: time.Date(y, m, d, 0, 0, 0, 0, loc), Logs: logs}
	for i := range p.Logs {
		if p.Logs[i].From == 0 {
			p.Logs[i].From, p.Logs[i].To = race.NoInstant, race.NoInstant
		}
	}
	return p
}

type logTruth struct {
	path                                      string
	files                                     int
	lines, reads, badMin, badMax, repMin, rep int
}

// The truth of the race with every fault counts lines with their headers.
func TestTheDirtyRaceGivesTheTrueCounts(t *testing.T) {
	dir := sharedRaces(t)
	f, err := os.Open(filepath.Join(dir, "dirty", "truth", "logs.csv"))
	if err != nil {
		t.Skipf("SKIPPED: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	glob := map[string]string{"logs/finish-main-1.csv": "logs/finish-main*.csv", "logs/finish-main-2.csv": "logs/finish-main*.csv"}
	headers := map[string]int{"start-main": 1, "start-backup": 1, "5k-main": 1, "finish-main": 2, "finish-backup": 2}
	truth := map[string]*logTruth{}
	var order []string
	for _, row := range rows[1:] {
		key := row[0] + "-" + row[1]
		w := truth[key]
		if w == nil {
			w = &logTruth{path: row[2]}
			if g, ok := glob[row[2]]; ok {
				w.path = g
			}
			truth[key] = w
			order = append(order, key)
		}
		w.files++
		for i, p := range []*int{&w.lines, &w.reads, &w.badMin, &w.badMax, &w.repMin, &w.rep} {
			n, err := strconv.Atoi(row[4+i])
			if err != nil {
				t.Fatal(err)
			}
			*p += n
		}
	}
	for _, key := range order {
		w := truth[key]
		p := planFor("Europe/London", 2026, 4, 12, race.Log{Path: w.path})
		r, err := ReadFiles(filepath.Join(dir, "dirty", "race"), p, 0)
		if err != nil {
			t.Fatal(err)
		}
		check(t, r)
		if len(r.Files) != w.files || r.Lines != w.lines-headers[key] || r.Kept != w.reads ||
			r.BadLines < w.badMin || r.BadLines > w.badMax || r.Repeated < w.repMin || r.Repeated > w.rep {
			t.Errorf("%s: %d files, %d lines, %d reads, %d bad, %d repeated; want %+v", key, len(r.Files), r.Lines, r.Kept, r.BadLines, r.Repeated, *w)
			for _, b := range r.Bad {
				t.Logf("  %d:%d:%d %s: %.60q", b.File, b.Line, b.Column, b.Why, b.Text)
			}
		}
	}
}

// check is what holds of every snapshot.
func check(t testing.TB, r *race.Reads) {
	t.Helper()
	kept, twice := 0, 0
	for _, tag := range r.Tags {
		kept += len(tag.Reads)
		twice += tag.Twice
		if len(tag.Reads) == 0 {
			t.Errorf("tag %s has no reads", tag.Tag)
		}
		for i := 1; i < len(tag.Reads); i++ {
			if a, b := tag.Reads[i-1], tag.Reads[i]; same(a, b) || race.CompareReads(a, b) >= 0 {
				t.Errorf("tag %s: read %d and the next are out of order or one: %v %v", tag.Tag, i, a, b)
			}
		}
		for _, x := range tag.Reads {
			if int(x.File) >= len(r.Files) || int(x.Antenna) >= len(r.Antennas) {
				t.Fatalf("tag %s: read %v points past %d files or %d antennas", tag.Tag, x, len(r.Files), len(r.Antennas))
			}
		}
	}
	if kept != r.Kept || twice != r.Repeated || r.Lines != r.Kept+r.Repeated+r.BadLines+r.Waiting {
		t.Errorf("sums: %d lines = %d kept (%d in tags) + %d repeated (%d in tags) + %d bad + %d waiting", r.Lines, r.Kept, kept, r.Repeated, twice, r.BadLines, r.Waiting)
	}
}
