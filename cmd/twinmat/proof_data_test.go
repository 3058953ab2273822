package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Open data sets as real input: published times make one read a passing in main and in a
// shifted backup. SOURCES.md beside them says where each is from and what stands out in it.

func dataRows(t *testing.T, name string) (rows [][]string, col map[string]int) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(shared(t), "data", name))
	if err != nil {
		t.Skipf("SKIPPED: %v", err)
	}
	all, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	col = map[string]int{}
	for i, h := range all[0] {
		col[h] = i
	}
	return all[1:], col
}

// dataRace is a race folder under way.
type dataRace struct {
	dir             string
	gun             time.Time
	athletes, chips bytes.Buffer
	logs            map[string]*bytes.Buffer
}

func newDataRace(t *testing.T, lines []string, course string) *dataRace {
	t.Helper()
	d := &dataRace{dir: t.TempDir(), gun: time.Date(2026, 5, 17, 8, 0, 0, 0, time.UTC), logs: map[string]*bytes.Buffer{}}
	plan := "format = 1\nname = \"Data\"\ndate = 2026-05-17\ntimezone = \"UTC\"\n"
	for _, l := range lines {
		plan += fmt.Sprintf("[[line]]\nid = %q\nkeep = \"first\"\n", l)
		for _, s := range []string{"main", "backup"} {
			plan += fmt.Sprintf("[[line.log]]\nsystem = %q\npath = \"logs/%s-%s.csv\"\n", s, l, s)
			d.logs[l+"-"+s] = bytes.NewBufferString("tag,time\n")
		}
	}
	plan += course + "[[wave]]\nid = \"all\"\ncourse = \"c\"\ngun = 08:00:00\n"
	fmt.Fprintln(&d.athletes, "bib,sex,wave,status")
	fmt.Fprintln(&d.chips, "tag,bib")
	d.write(t, "race.toml", []byte(plan))
	return d
}

func (d *dataRace) write(t *testing.T, name string, b []byte) {
	t.Helper()
	path := filepath.Join(d.dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}

func (d *dataRace) athlete(bib, sex, status string) {
	fmt.Fprintf(&d.athletes, "%s,%s,all,%s\n", bib, sex, status)
	fmt.Fprintf(&d.chips, "C%s,%s\n", bib, bib)
}

func (d *dataRace) read(bib, line string, seconds int) {
	at := d.gun.Add(time.Duration(seconds) * time.Second)
	fmt.Fprintf(d.logs[line+"-main"], "C%s,%s\n", bib, at.Format("2006-01-02T15:04:05.000Z"))
	fmt.Fprintf(d.logs[line+"-backup"], "C%s,%s\n", bib, at.Add(-3500*time.Millisecond).Format("2006-01-02T15:04:05.000Z"))
}

func (d *dataRace) state(t *testing.T) *race.State {
	t.Helper()
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
	sumsHold(t, "data", st.Sums)
	return st
}

func open(st *race.State, kind string) map[string]int {
	n := map[string]int{}
	for i := range st.Suspects {
		if s := &st.Suspects[i]; s.Kind == kind && len(s.Bibs) > 0 {
			n[s.Bibs[0]]++
		}
	}
	return n
}

// mtb_marathon_2014.csv: 3,065 riders over 89 km. SOURCES.md: runners 1407 and 1858 have an
// impossible first split (over 3 h) with the next three empty, which gives 39.4 and
// 42.5 m/s; without them the fastest stretch is 10.836 m/s. Those two reads must be found, as an
// impossible pace or as a passing that fits no split, and nobody else's.
func TestTheMountainBikersWhoFlew(t *testing.T) {
	rows, col := dataRows(t, "mtb_marathon_2014.csv")
	marks := []struct{ id, at string }{{"k12_3", "12.3km"}, {"k22_9", "22.9km"}, {"k36_5", "36.5km"}, {"k50_6", "50.6km"}, {"k66_3", "66.3km"}, {"k77_2", "77.2km"}, {"finish", "89km"}}
	course := "[[course]]\nid = \"c\"\nsport = \"bike\"\n"
	var lines []string
	for _, m := range marks {
		lines = append(lines, m.id)
		course += fmt.Sprintf("[[course.split]]\nid = %q\nline = %q\nat = %q\n", m.id, m.id, m.at)
	}
	d := newDataRace(t, lines, course)
	for _, r := range rows {
		d.athlete(r[col["runner"]], r[col["sex"]], "")
		for _, m := range marks {
			if s, err := strconv.Atoi(r[col[m.id]]); err == nil {
				d.read(r[col["runner"]], m.id, s)
			}
		}
	}
	st := d.state(t)
	found := open(st, race.ImpossiblePace)
	for bib, n := range open(st, race.ExtraPassing) { // a read that no human pace explains fits no split
		found[bib] += n
	}
	t.Logf("impossible: %v; missing splits: %d athletes; unlikely: %d athletes of %d", found, len(open(st, race.MissingSplit)), len(open(st, race.UnlikelyPace)), len(rows))
	if len(found) != 2 || found["1407"] == 0 || found["1858"] == 0 {
		t.Errorf("impossible pace of %v, want of 1407 and 1858", found)
	}
	wrong := 0
	for _, r := range rows {
		want, _ := strconv.Atoi(r[col["finish"]])
		if x := st.Results[st.ByBib[r[col["runner"]]]]; x.GunTime != race.Millis(want)*1000 {
			wrong++
		}
	}
	if wrong > 0 {
		t.Errorf("%d of %d finish times are not as published", wrong, len(rows))
	}
}

// marathon_5k_2014.csv: 31,984 finishers with eight splits; 335 rows miss a split. Every
// published finish comes back, and every empty cell before a filled one is named.
func TestFiveKilometreSplits(t *testing.T) {
	rows, col := dataRows(t, "marathon_5k_2014.csv")
	marks := []struct{ id, at string }{{"s5k", "5km"}, {"s10k", "10km"}, {"s20k", "20km"}, {"shalf", "21097.5m"}, {"s25k", "25km"}, {"s30k", "30km"}, {"s35k", "35km"}, {"s40k", "40km"}, {"finish", "42195m"}}
	course := "[[course]]\nid = \"c\"\nsport = \"run\"\n"
	var lines []string
	for _, m := range marks {
		lines = append(lines, m.id)
		course += fmt.Sprintf("[[course.split]]\nid = %q\nline = %q\nat = %q\n", m.id, m.id, m.at)
	}
	d := newDataRace(t, lines, course)
	empty := map[string]bool{}
	chairs := map[string]bool{}
	for _, r := range rows {
		bib := r[col["runner"]]
		d.athlete(bib, r[col["sex"]], "")
		chairs[bib] = r[col["category"]] == "wheelchair"
		for _, m := range marks {
			if s, err := strconv.Atoi(r[col[m.id]]); err == nil {
				d.read(bib, m.id, s)
			} else {
				empty[race.MissingSplit+":"+bib+":"+m.id] = true
			}
		}
	}
	st := d.state(t)
	wrong, named := 0, 0
	for _, r := range rows {
		want, _ := strconv.Atoi(r[col["finish"]])
		if x := st.Results[st.ByBib[r[col["runner"]]]]; x.GunTime != race.Millis(want)*1000 {
			wrong++
		}
	}
	for i := range st.Suspects {
		if s := &st.Suspects[i]; s.Kind == race.MissingSplit {
			if !empty[s.ID] {
				t.Errorf("%s is named, and the source has its time", s.ID)
			}
			named++
		}
	}
	runners := 0
	for bib := range open(st, race.ImpossiblePace) {
		if !chairs[bib] {
			runners++
		}
	}
	t.Logf("%d of %d finishes wrong; %d of %d empty cells named; %d runners impossibly fast (chairs apart)", wrong, len(rows), named, len(empty), runners)
	if wrong > 0 || named != len(empty) || runners > 0 {
		t.Errorf("%d finishes wrong, %d of %d empty cells named, %d runners impossible", wrong, named, len(empty), runners)
	}
}

// backyard_laps_2018.csv: a lap an hour, the last one standing; 69 runners, 68 laps at the
// most, four days. Every runner's laps come back.
func TestTheBackyardsLaps(t *testing.T) {
	rows, col := dataRows(t, "backyard_laps_2018.csv")
	course := "[[course]]\nid = \"c\"\nsport = \"run\"\ntime_limit = \"100h\"\n[[course.split]]\nid = \"lap\"\nline = \"corral\"\nat = \"6706m\"\nrepeat = 0\n"
	d := newDataRace(t, []string{"corral"}, course)
	laps := map[string]int{}
	const start = 24082 // the first lap's start on the source's clock
	for _, r := range rows {
		bib := r[col["runner"]]
		if laps[bib] == 0 {
			d.athlete(bib, "", "")
		}
		s, err := strconv.Atoi(r[col["clock"]])
		if err != nil {
			continue // two laps have a number but no times
		}
		laps[bib] = max(laps[bib], atoi(r[col["lap"]]))
		d.read(bib, "corral", s-start)
	}
	st := d.state(t)
	right := 0
	var off []string
	for bib, n := range laps {
		if x := st.Results[st.ByBib[bib]]; x.Laps == n {
			right++
		} else {
			off = append(off, fmt.Sprintf("%s: %d, published %d", bib, x.Laps, n))
		}
	}
	t.Logf("laps right for %d of %d runners", right, len(laps))
	if right < len(laps) {
		t.Errorf("laps: %s", strings.Join(off, "; "))
	}
}

func atoi(s string) int {
	n, _ := strconv.Atoi(s)
	return n
}
