package logs

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
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

// logTruths reads a race's truth: its logs, the files of one log together.
func logTruths(t *testing.T, name string) (all []*logTruth) {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	byLog := map[string]*logTruth{}
	for _, row := range rows[1:] {
		key := row[0] + "-" + row[1]
		w := byLog[key]
		if w == nil {
			w = &logTruth{path: strings.Replace(row[2], "-1.csv", "*.csv", 1)}
			byLog[key] = w
			all = append(all, w)
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
	return all
}

// Every log of the races with known truth gives its true counts. The truth counts lines
// with headers and blank ones.
func TestTheRacesWithKnownTruthGiveTheirCounts(t *testing.T) {
	dir := sharedRaces(t)
	logs := 0
	for race1, p := range map[string]*race.Plan{
		"dirty": planFor("Europe/London", 2026, 4, 12), "laps": planFor("Europe/Brussels", 2026, 6, 20), "marathon": planFor("Europe/Lisbon", 2026, 5, 17),
		"out-and-back": planFor("Europe/Dublin", 2026, 3, 22), "triathlon": planFor("Europe/Vienna", 2026, 7, 5),
	} {
		for _, w := range logTruths(t, filepath.Join(dir, race1, "truth", "logs.csv")) {
			p.Logs = []race.Log{{Path: w.path}}
			r, err := newScratch().readFiles(filepath.Join(dir, race1, "race"), p, 0)
			if err != nil {
				t.Fatal(err)
			}
			check(t, r)
			lines := 0
			for _, f := range r.Files {
				lines += f.Lines
			}
			if len(r.Files) != w.files || lines != w.lines || r.Kept != w.reads || r.BadLines < w.badMin || r.BadLines > w.badMax || r.Repeated < w.repMin || r.Repeated > w.rep {
				t.Errorf("%s: %d files, %d lines, %d reads, %d bad, %d repeated; want %+v", race1, len(r.Files), lines, r.Kept, r.BadLines, r.Repeated, *w)
				for _, b := range r.Bad {
					t.Logf("  %d:%d:%d %s: %.60q", b.File, b.Line, b.Column, b.Why, b.Text)
				}
			}
			for tag := range r.Tags.All() {
				first, last := tag.Reads[0].At.Time(p.Zone), tag.Reads[len(tag.Reads)-1].At.Time(p.Zone)
				if first.YearDay() != p.Date.YearDay() || last.YearDay() != p.Date.YearDay() {
					t.Errorf("%s: %s: %s is read on another day: %v to %v", race1, w.path, tag.Tag, first, last)
				}
			}
			logs++
		}
	}
	if logs < 25 {
		t.Errorf("only %d logs", logs)
	}
}

// check is what holds of every snapshot.
func check(t testing.TB, r *race.Reads) {
	t.Helper()
	kept, twice := 0, 0
	for tag := range r.Tags.All() {
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
