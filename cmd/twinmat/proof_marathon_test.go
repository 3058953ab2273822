package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// The open data set marathon_gun_net_2004.csv (its SOURCES.md says where from) as real
// input: each runner's start, 10K, half, 20 miles and gun time make one read a passing.
// Main lacks every 40th read, backup is a copy shifted by 7.25 s that lacks every 37th. Back
// must come every gun and net time that either system saw, to the millisecond; who was seen
// by neither is named as missing.
func TestTheMarathonOf2004ComesBack(t *testing.T) {
	src, err := os.ReadFile(filepath.Join(shared(t), "data", "marathon_gun_net_2004.csv"))
	if err != nil {
		t.Skipf("SKIPPED: %v", err)
	}
	rows, err := csv.NewReader(bytes.NewReader(src)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	m := writeMarathon(t, rows)
	f, err := ingest.Read(m.dir)
	if err != nil {
		t.Fatal(err)
	}
	st := reconcile.Compute(f.Input())
	sumsHold(t, "marathon 2004", st.Sums)
	m.check(t, st)
}

type marathon struct {
	dir    string
	rows   [][]string
	col    map[string]int
	gun    time.Time
	unseen map[string]bool // bib/line that neither system saw
}

var marathonLines = []string{"start", "s10k", "shalf", "s20m", "gun"}

func (m *marathon) seconds(row []string, col string) (int, bool) {
	v, err := strconv.Atoi(row[m.col[col]])
	return v, err == nil
}

func writeMarathon(t *testing.T, rows [][]string) *marathon {
	t.Helper()
	m := &marathon{dir: t.TempDir(), rows: rows[1:], col: map[string]int{}, gun: time.Date(2004, 11, 7, 15, 10, 0, 0, time.UTC), unseen: map[string]bool{}}
	for i, h := range rows[0] {
		m.col[h] = i
	}
	plan := "format = 1\nname = \"Five boroughs of data\"\ndate = 2004-11-07\ntimezone = \"UTC\"\n"
	for _, l := range marathonLines {
		plan += fmt.Sprintf("[[line]]\nid = %q\nkeep = \"first\"\n[[line.log]]\nsystem = \"main\"\npath = \"logs/%s-main.csv\"\n[[line.log]]\nsystem = \"backup\"\npath = \"logs/%s-backup.csv\"\nbehind = \"0m\"\n", l, l, l)
	}
	plan += "[[course]]\nid = \"marathon\"\nsport = \"run\"\n"
	for i, at := range []string{"0m", "10km", "21097.5m", "32186.88m", "42195m"} {
		plan += fmt.Sprintf("[[course.split]]\nid = %q\nline = %q\nat = %q\n", marathonLines[i], marathonLines[i], at)
	}
	plan += "[[wave]]\nid = \"all\"\ncourse = \"marathon\"\ngun = 15:10:00\n"
	var athletes, chips bytes.Buffer
	fmt.Fprintln(&athletes, "bib,sex,wave")
	fmt.Fprintln(&chips, "tag,bib")
	logs := map[string]*bytes.Buffer{}
	for _, l := range marathonLines {
		for _, s := range []string{"main", "backup"} {
			logs[l+"-"+s] = bytes.NewBufferString("tag,time\n")
		}
	}
	n := 0
	for _, r := range m.rows {
		bib := r[m.col["runner"]]
		fmt.Fprintf(&athletes, "%s,%s,all\n", bib, r[m.col["sex"]])
		fmt.Fprintf(&chips, "C%s,%s\n", bib, bib)
		for _, l := range marathonLines {
			s, ok := m.seconds(r, l)
			if !ok {
				continue
			}
			n++
			at := m.gun.Add(time.Duration(s) * time.Second)
			if n%40 != 0 {
				fmt.Fprintf(logs[l+"-main"], "C%s,%s\n", bib, at.Format("2006-01-02T15:04:05.000Z"))
			}
			if n%37 != 0 {
				fmt.Fprintf(logs[l+"-backup"], "C%s,%s\n", bib, at.Add(7250*time.Millisecond).Format("2006-01-02T15:04:05.000Z"))
			}
			if n%40 == 0 && n%37 == 0 {
				m.unseen[bib+"/"+l] = true
			}
		}
	}
	files := map[string][]byte{"race.toml": []byte(plan), "athletes.csv": athletes.Bytes(), "chips.csv": chips.Bytes()}
	for name, b := range logs {
		files["logs/"+name+".csv"] = b.Bytes()
	}
	for name, b := range files {
		path := filepath.Join(m.dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return m
}

func (m *marathon) check(t *testing.T, st *race.State) {
	t.Helper()
	wrong, guns, nets, fills := 0, 0, 0, 0
	named := map[string]bool{}
	for i := range st.Suspects {
		if s := &st.Suspects[i]; len(s.Bibs) == 1 && (s.Kind == race.MissingSplit || s.Kind == race.MissingStart || s.Kind == race.Overdue) {
			named[s.Bibs[0]+"/"+s.Kind] = true
		}
	}
	for _, r := range m.rows {
		bib := r[m.col["runner"]]
		x := st.Results[st.ByBib[bib]]
		gun, _ := m.seconds(r, "gun")
		start, started := m.seconds(r, "start")
		if m.unseen[bib+"/gun"] {
			if x.GunTime.Known() || !named[bib+"/"+race.Overdue] && x.State != "running" {
				t.Errorf("runner %s was seen by neither at the finish: %s, gun time %s", bib, x.State, x.GunTime)
			}
			continue
		}
		guns++
		if x.From == race.FromBackup {
			fills++
		}
		if x.GunTime != race.Millis(gun)*1000 {
			if wrong++; wrong <= 10 {
				t.Errorf("runner %s: gun time %s, published %d s (%s)", bib, x.GunTime, gun, x.From)
			}
		}
		switch {
		case !started:
		case m.unseen[bib+"/start"]:
			if x.NetTime.Known() || !named[bib+"/"+race.MissingStart] {
				t.Errorf("runner %s was seen by neither at the start and is not named", bib)
			}
		default:
			nets++
			if want := race.Millis(gun-start) * 1000; x.NetTime != want {
				if wrong++; wrong <= 10 {
					t.Errorf("runner %s: net time %s, published %d s", bib, x.NetTime, gun-start)
				}
			}
		}
	}
	t.Logf("%d gun times and %d net times as published, %d of the finishes filled from backup, %d passings seen by neither", guns, nets, fills, len(m.unseen))
	if wrong > 0 || guns < 36000 || fills < 500 {
		t.Errorf("%d wrong of %d gun and %d net times, %d fills", wrong, guns, nets, fills)
	}
}
