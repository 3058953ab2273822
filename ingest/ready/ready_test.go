package ready

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile"
)

// The folder that the faults below are put into: two lines, two waves, and three test chips
// that were carried start, finish, start, finish, start before the first gun. Backup at the
// start runs 3.2 s ahead, at the finish an hour and 1.5 s behind.
const soundPlan = `format = 1
name = "Reed Mile"
date = 2026-05-17
timezone = "Europe/Lisbon"
[[line]]
id = "start"
[[line.log]]
system = "main"
path = "logs/start-main.csv"
[[line.log]]
system = "backup"
path = "logs/start-backup.csv"
[[line]]
id = "finish"
[[line.log]]
system = "main"
path = "logs/finish-main.csv"
[[line.log]]
system = "backup"
path = "logs/finish-backup.csv"
[[course]]
id = "mile"
sport = "run"
[[course.split]]
id = "start"
line = "start"
at = "0m"
[[course.split]]
id = "finish"
line = "finish"
at = "1609m"
[[wave]]
id = "A"
course = "mile"
gun = 09:00:00
[[wave]]
id = "B"
course = "mile"
gun = 09:05:00
`

var day = time.Date(2026, 5, 17, 6, 0, 0, 0, time.UTC) // 07:00 in Lisbon

// walks are when the test chips come to each line, in seconds after 07:00.
var walks = map[string][]int{"start": {600, 1200, 1800}, "finish": {900, 1500}}

// log writes a system's reads: each visit a burst of five, offset from the true time.
func log(visits []int, tags []string, offset time.Duration) string {
	var b strings.Builder
	b.WriteString("tag,time,antenna,rssi\n")
	for v, at := range visits {
		for i, tag := range tags {
			for k := range 5 {
				t := day.Add(time.Duration(at)*time.Second + time.Duration(2000*i+170*k+13*v)*time.Millisecond + offset)
				fmt.Fprintf(&b, "%s,%s,1,%d\n", tag, t.Format("2006-01-02T15:04:05.000Z07:00"), -60+4*k*(4-k))
			}
		}
	}
	return b.String()
}

var testChips = []string{"7E57000000000001", "7E57000000000002", "7E57000000000003"}

func sound() map[string]string {
	return map[string]string{
		"race.toml":              soundPlan,
		"athletes.csv":           "bib,name,wave\n1,Ada Fen,A\n2,Bo Wick,A\n3,Cy Lode,B\n",
		"chips.csv":              "tag,bib\n3A01,1\n3A02,2\n3A03,3\n",
		"logs/start-main.csv":    log(walks["start"], testChips, 0),
		"logs/start-backup.csv":  log(walks["start"], testChips, 3217*time.Millisecond),
		"logs/finish-main.csv":   log(walks["finish"], testChips, 0),
		"logs/finish-backup.csv": log(walks["finish"], testChips, -time.Hour-1500*time.Millisecond),
	}
}

// lookAt writes a folder and looks it over, by a laptop's clock at 07:40 unless told else.
func lookAt(t *testing.T, files map[string]string, now time.Time) *Findings {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, day, day.Add(40*time.Minute)); err != nil {
			t.Fatal(err)
		}
	}
	s, err := Read(dir, func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	if s.Race == nil {
		return Look(s, nil)
	}
	return Look(s, reconcile.Compute(s.Input()))
}

var hourLater = day.Add(100 * time.Minute)

func TestASoundFolderIsReady(t *testing.T) {
	f := lookAt(t, sound(), hourLater)
	if !f.Ready || f.Problems != 0 || f.Waiting != 0 || !strings.HasPrefix(f.Verdict, "ready: ") {
		t.Fatalf("%d problems, %d waiting\n%s", f.Problems, f.Waiting, strings.Join(f.Lines(), "\n"))
	}
}

// fault is a folder with one thing wrong in it, and the line that must tell it.
type fault struct {
	name   string
	spoil  func(f map[string]string)
	want   string // a finding, as a regular expression
	ready  string // how the verdict begins
	now    time.Time
	before bool // the sound folder has this finding too
}

func put(name, text string) func(map[string]string) {
	return func(f map[string]string) { f[name] = text }
}

func swap(name, old, with string) func(map[string]string) {
	return func(f map[string]string) {
		if !strings.Contains(f[name], old) {
			panic(name + " has no " + old)
		}
		f[name] = strings.ReplaceAll(f[name], old, with)
	}
}

func all(fs ...func(map[string]string)) func(map[string]string) {
	return func(m map[string]string) {
		for _, f := range fs {
			f(m)
		}
	}
}

func without(name string) func(map[string]string) {
	return func(f map[string]string) { delete(f, name) }
}

// again appends to a file.
func again(name, text string) func(map[string]string) {
	return func(f map[string]string) { f[name] += text }
}

// practice is a ruling left from a practice.
const practice = `{"seq":1,"at":"2026-05-16T10:00:00+01:00","by":"kim","rule":"ignore-chip","tag":"7E57000000000001","why":"test chip"}` + "\n"

const notReady, notYet, isReady = "not ready: ", "not ready yet: ", "ready: "

var faults = []fault{
	// plan and lists
	{name: "a key that no plan has", spoil: swap("race.toml", "id = \"finish\"\n[[line.log]]", "id = \"finish\"\ntolerence = \"2s\"\n[[line.log]]"),
		want: `^problem race\.toml:15:1: unknown key "tolerence" \(did you mean "tolerance"\?\); want `, ready: "not ready: the plan can't be used"},
	{name: "a split at a line that isn't there", spoil: swap("race.toml", `line = "finish"`, `line = "finnish"`),
		want: `^problem race\.toml:\d+:\d+: there is no line "finnish" \(did you mean "finish"\?\)`, ready: "not ready: the plan can't be used"},
	{name: "no plan at all", spoil: without("race.toml"), want: `^problem race\.toml: there is no .*race\.toml`, ready: "not ready: the plan can't be used"},
	{name: "a bib twice", spoil: again("athletes.csv", "2,Di Holm,B\n"), want: `^problem athletes\.csv:5:1: bib 2 stands in line 3 already; want each bib once`, ready: notReady},
	{name: "a wave that isn't there", spoil: swap("athletes.csv", "Lode,B", "Lode,C"), want: `^problem athletes\.csv:4:11: there is no wave "C"`, ready: notReady},
	{name: "no list of athletes", spoil: without("athletes.csv"), want: `^problem athletes\.csv: there is no`, ready: notReady},
	{name: "a birth that is none", spoil: put("athletes.csv", "bib,name,wave,birth\n1,A,A,long ago\n2,B,A,1980\n3,C,B,\n"), want: `^look    athletes\.csv:2:7: the birth is "long ago"`, ready: isReady},
	{name: "somebody who doesn't start", spoil: put("athletes.csv", "bib,name,wave,status\n1,A,A,dns\n2,B,A,\n3,C,B,\n"), want: `^ok      3 athletes listed, 1 of them dns$`, ready: isReady},
	{name: "a line that no split names", spoil: swap("race.toml", "[[course]]", "[[line]]\nid = \"bank\"\n[[line.log]]\nsystem = \"main\"\npath = \"logs/start-main2.csv\"\n[[course]]"),
		want: `^look    race\.toml:\d+:\d+: no split is at line "bank"`, ready: notYet},
	// chips
	{name: "an athlete without a chip", spoil: swap("chips.csv", "3A03,3\n", ""), want: `^problem athletes\.csv:4:1: bib 3 has no chip; want a row in chips\.csv`, ready: notReady},
	{name: "a chip on two bibs", spoil: again("chips.csv", "3a-02,3\n"), want: `^problem chips\.csv:5:1: chip "3a-02" is on bib 3 and, in line 3, on bib 2 at the same time`, ready: notReady},
	{name: "a chip of a bib that isn't listed", spoil: again("chips.csv", "3A09,9\n"), want: `^problem chips\.csv:5:6: bib 9 of chip "3A09" is not listed`, ready: notReady},
	{name: "a spare chip", spoil: again("chips.csv", "3A09,\n"), want: `^look    chips\.csv:5:6: chip "3A09" has no bib: nobody's`, ready: isReady},
	{name: "a test chip", want: `^look    logs/start-main\.csv:2: chips\.csv gives tag 7E57000000000001 to no one; it was read 50 times at start, finish from 07:10:00 to .*ignore-chip --tag 7E57000000000001`, ready: isReady, before: true},
	{name: "a chip after the gun that nobody owns", spoil: again("logs/start-main.csv", "FFFF01,2026-05-17T09:00:04.100+01:00,1,-60\n"),
		want: `^problem logs/start-main\.csv:47: chips\.csv gives tag FFFF01 to no one; it was read once at start from 09:00:04`, ready: notReady},
	{name: "a chip whose code a shell would run", spoil: again("logs/start-main.csv", "$(reboot);,2026-05-17T09:00:04.100+01:00,1,-60\n"), want: `assign-chip --tag '\$\(REBOOT\);' --bib`, ready: notReady},
	{name: "many chips after the gun that nobody owns", spoil: again("logs/start-main.csv", strangers(14)), want: `^problem and 7 more tags that chips\.csv gives to no one`, ready: notReady},
	{name: "a bib keyed by hand that isn't listed", spoil: all(swap("race.toml", "[[course]]", "[[line.log]]\nsystem = \"hand\"\npath = \"logs/hand.csv\"\n[[course]]"), put("logs/hand.csv", "bib,time\n1,09:06:01\n77,09:06:12\n")),
		want: `^problem logs/hand\.csv:3: bib 77 was read, and athletes\.csv doesn't list it`, ready: notReady},
	{name: "chips in another form than the logs write", spoil: put("chips.csv", "tag,bib\n57000000000001,1\n57000000000002,2\n3A03,3\n"),
		want: `^problem logs/start-main\.csv:2: the logs write a chip as "7E57000000000001" and chips\.csv as "57000000000001": 3 tags that nobody owns`, ready: notReady},
	{name: "two chips on a bib", spoil: again("chips.csv", "3A04,3\n"), want: `^ok      4 chips on 3 bibs, 1 with more than one`, ready: isReady},
	// waves
	{name: "a wave without a gun", spoil: swap("race.toml", "gun = 09:05:00\n", ""), want: `^look    race\.toml:36:1: wave B on mile has no gun yet, and 1 athlete`, ready: isReady},
	{name: "a wave that nobody is in", spoil: swap("athletes.csv", "Lode,B", "Lode,A"), want: `^look    race\.toml:36:1: nobody is in wave B`, ready: isReady},
	{name: "a gun another day", spoil: swap("race.toml", "gun = 09:05:00", "gun = 2026-05-18T00:10:00"), want: `^ok      wave B on mile: gun 2026-05-18 00:10:00, 1 athlete$`, ready: isReady},
	{name: "starts of their own", spoil: put("athletes.csv", "bib,wave,start\n1,A,\n2,A,\n3,B,09:05:30\n"), want: `^ok      wave B on mile: gun 09:05:00, 1 athlete, 1 start of their own$`, ready: isReady},
	{name: "a gun that the field contradicts", spoil: all(put("athletes.csv", field("athletes")), put("chips.csv", field("chips")), again("logs/start-main.csv", field("reads"))),
		want: `^problem Wave A began to cross .*; settle it on the desk, or: twinmat rule \S+ set-gun --wave A --at \S+ --why …$`, ready: notReady},
	// logs
	{name: "a log that isn't there", spoil: without("logs/finish-backup.csv"), want: `^wait    race\.toml:20:8: no file matches "logs/finish-backup\.csv"; want a log by the time of the race`, ready: notYet},
	{name: "a log without a read", spoil: put("logs/finish-backup.csv", "tag,time\n"), want: `^wait    logs/finish-backup\.csv: finish backup: no read yet; walk a test chip`, ready: notYet},
	{name: "a line without a main", spoil: swap("race.toml", "system = \"main\"\npath = \"logs/finish-main.csv\"", "system = \"backup\"\npath = \"logs/finish-main.csv\""), want: `^look    line finish has no main: its first log`, ready: notYet},
	{name: "many bibs keyed by hand that aren't listed", spoil: all(swap("race.toml", "[[course]]", "[[line.log]]\nsystem = \"hand\"\npath = \"logs/hand.csv\"\n[[course]]"), put("logs/hand.csv", "bib,time\n"+keyed(20))),
		want: `^problem and \d+ more bibs that athletes\.csv doesn't list`, ready: notReady},
	{name: "a reader somewhat ahead while it writes", spoil: put("logs/finish-main.csv", log([]int{900 + 700, 1500 + 700, 2390 + 700}, testChips, 0)), now: day.Add(40*time.Minute + 5*time.Second),
		want: `^look    finish main: its newest read is 0:11:\d+\.\d+ ahead of this laptop's clock`, ready: isReady},
	{name: "a clock that can't be measured yet", spoil: put("logs/finish-backup.csv", "tag,time\n"), want: `^wait .*finish backup: not measured yet, for not both logs have reads`, ready: notYet},
	{name: "a log that is a folder", spoil: all(without("logs/finish-backup.csv"), put("logs/finish-backup.csv/x", "")), want: `^problem race\.toml:20:8: "logs/finish-backup\.csv" is a folder`, ready: notReady},
	{name: "a log that is something else", spoil: put("logs/finish-backup.csv", "Dear timer,\nthe battery is in the van.\n"),
		want: `^problem logs/finish-backup\.csv:1(:\d+)?: finish backup: not one of its 2 lines can be read`, ready: notReady},
	{name: "a bad line", spoil: again("logs/finish-main.csv", "7E57000000000001,25:61:00,1,-60\n"), want: `^look    logs/finish-main\.csv:32:18: finish main: time "25:61:00" .*, in "7E57000000000001,25:61:00,1,-60"`, ready: isReady},
	{name: "many bad lines", spoil: again("logs/finish-main.csv", strings.Repeat("7E57000000000001,soon,1,-60\n", 12)), want: `^problem finish main: and 2 more bad lines of 42`, ready: notReady},
	{name: "lines twice", spoil: again("logs/finish-main.csv", strings.TrimPrefix(log(walks["finish"], testChips, 0), "tag,time,antenna,rssi\n")), want: `^look    finish main: 30 lines stand in it more than once and count once`, ready: isReady},
	{name: "no strengths where keep needs them", spoil: all(swap("race.toml", `id = "finish"`+"\n[[line.log]]", `id = "finish"`+"\nkeep = \"strongest\"\n[[line.log]]"), put("logs/finish-main.csv", bare(log(walks["finish"], testChips, 0)))),
		want: `^problem race\.toml:18:8: finish main: keep is "strongest" and the log gives no strengths: the first read is kept`, ready: notReady},
	{name: "main and backup one log", spoil: put("logs/start-backup.csv", log(walks["start"], testChips, 0)), want: `^problem race\.toml:12:8: start main and start backup hold the same reads: one log`, ready: notReady},
	{name: "one line's log saved as another's", spoil: put("logs/finish-main.csv", log(walks["start"], testChips, 0)), want: `^problem race\.toml:17:8: start main and finish main hold the same reads`, ready: notReady},
	{name: "last year's log", spoil: put("logs/finish-main.csv", strings.ReplaceAll(log(walks["finish"], testChips, 0), "2026-05-17", "2025-05-18")), want: `^problem race\.toml:17:8: finish main: its reads are of 2025-05-18, the race is on 2026-05-17`, ready: notReady},
	{name: "a growing log", spoil: func(map[string]string) {}, now: day.Add(40*time.Minute + 5*time.Second), want: `^ok      start main: 45 reads of 3 tags, 07:10:00 to 07:30:04; growing: last written 5 s ago$`, ready: isReady},
	{name: "a log that stands still", want: `^ok      start main: 45 reads of 3 tags, 07:10:00 to 07:30:04; last written 60 minutes ago$`, ready: isReady, before: true},
	{name: "a reader an hour off while it writes", spoil: put("logs/finish-main.csv", log([]int{900 + 3600, 1500 + 3600, 2390 + 3600}, testChips, 0)), now: day.Add(40*time.Minute + 5*time.Second),
		want: `^problem race\.toml:17:8: finish main: its newest read is 1 hour ahead of this laptop's clock`, ready: notReady},
	{name: "lines that are gone from a log", spoil: all(put("kept/logs/finish-main.csv.g1", log([]int{900, 1500, 1700}, testChips, 0)), put("kept/logs/finish-main.csv.g2", log(walks["finish"], testChips, 0))),
		want: `^look    logs/finish-main\.csv: 15 lines that once were in it are gone`, ready: isReady},
	{name: "a log that is gone and was kept", spoil: all(without("logs/finish-main.csv"), put("kept/logs/finish-main.csv.g1", log(walks["finish"], testChips, 0))),
		want: `^ok      finish main: 30 reads of 3 tags, .*; its files are gone, the kept copy is read$`, ready: notYet},
	{name: "a log of this laptop's future", spoil: func(map[string]string) {}, now: day.Add(35 * time.Minute), want: `^ok      start main: .*; written in this laptop's future: one of the clocks is wrong$`, ready: isReady},
	// clocks
	{name: "a course of many splits", spoil: swap("race.toml", "at = \"1609m\"", "at = \"1609m\"\nrepeat = 12"), want: `^ok      course mile, run: start at 0 m, finish-1 at 1\.609 km, finish-2 at 3\.218 km, …, finish-12 at 19\.308 km; the finish ends it$`, ready: isReady},
	{name: "laps for an hour", spoil: all(swap("race.toml", "sport = \"run\"", "sport = \"run\"\ntime_limit = \"1h\""), swap("race.toml", "at = \"1609m\"", "at = \"1609m\"\nrepeat = 0")),
		want: `^ok      course mile, run: .*; as many laps as come in 1:00:00\.000$`, ready: isReady},
	{name: "a backup that one crossing tells of", spoil: put("logs/start-backup.csv", log([]int{600}, testChips[:1], 3217*time.Millisecond)), want: `^look    start backup .* from 1 crossing; its times come .* \(median of 1\); walk more test chips`, ready: isReady},
	{name: "a backup's offset", want: `^look    start backup runs 2\.\d+ s ahead; .* from 9 crossings; its times come 3\.217 s after main.s \(median of 9\); walk more test chips`, ready: isReady, before: true},
	{name: "a whole hour", want: `^look    finish backup runs 1:00:01\.\d+ behind; .* \(1 hour behind.*\); it is reckoned with`, ready: isReady, before: true},
	{name: "no crossing of both", spoil: put("logs/start-backup.csv", log(walks["start"], []string{"7E57000000000009"}, 0)), want: `^problem race\.toml:12:8: start backup shares no tag with start main`, ready: notReady},
	{name: "a fixed offset that is wrong", spoil: swap("race.toml", `path = "logs/start-backup.csv"`, "path = \"logs/start-backup.csv\"\noffset = \"-3.200s\""),
		want: `^problem race\.toml:12:8: start backup: the plan has its offset at -3\.200 s, and by that nothing fits; 9 crossings speak for \+3\.217 s; offset = "auto", or "\+3\.217s"`, ready: notReady},
	{name: "a fixed offset an hour wrong", spoil: swap("race.toml", `path = "logs/finish-backup.csv"`, "path = \"logs/finish-backup.csv\"\noffset = \"-1.500s\""),
		want: `^problem race\.toml:20:8: finish backup: the plan has its offset at -1\.500 s, and by that nothing fits; 6 crossings speak for -3601\.500 s \(1 hour behind`, ready: notReady},
	{name: "a fixed offset that the starters contradict", spoil: all(put("athletes.csv", stepped("athletes")), put("chips.csv", stepped("chips")), again("logs/start-main.csv", stepped("main")), again("logs/start-backup.csv", stepped("steady")),
		swap("race.toml", `path = "logs/start-backup.csv"`, "path = \"logs/start-backup.csv\"\noffset = \"+6.000s\"\nbehind = \"0m\"")), want: `^problem race\.toml:12:8: start backup .*yet the crossings say that this is -2\.\d+ s off`, ready: notReady},
	{name: "antennas too far apart to be so", spoil: all(put("athletes.csv", stepped("athletes")), put("chips.csv", stepped("chips")), again("logs/start-main.csv", stepped("main")), again("logs/start-backup.csv", stepped("steady")),
		swap("race.toml", `path = "logs/start-backup.csv"`, "path = \"logs/start-backup.csv\"\noffset = \"+6.000s\"")), want: `^look    race\.toml:12:8: start backup .*stands 4\.\d m in front.*; is it so far\?`, ready: isReady},
	{name: "a fixed offset that may be wrong", spoil: swap("race.toml", `path = "logs/start-backup.csv"`, "path = \"logs/start-backup.csv\"\noffset = \"+1.000s\""),
		want: `^look    race\.toml:12:8: start backup runs 1\.000 s ahead, as was set.* the crossings say that this is \+1\.\d+ s off, which may be distance`, ready: isReady},
	{name: "mains of a shared box", spoil: all(swap("race.toml", `system = "backup"`, "system = \"backup\"\nclock = \"van\""), put("logs/finish-backup.csv", log(walks["finish"], testChips, 3217*time.Millisecond))),
		want: `^ok      finish main is [+-]0\.\d+ s to start main by test chips, through clock van; .* as the plan has it$`, ready: isReady},
	{name: "a main off the race clock", spoil: all(swap("race.toml", `system = "backup"`, "system = \"backup\"\nclock = \"van\""), put("logs/finish-main.csv", log(walks["finish"], testChips, 5*time.Second)), put("logs/finish-backup.csv", log(walks["finish"], testChips, 3217*time.Millisecond))),
		want: `^problem race\.toml:18:8: finish main is \+5\.\d+ s to start main by test chips, .* the plan has it at \+0\.000 s; set its clock, or say so: offset = "\+5\.`, ready: notReady},
	{name: "a clock named once", spoil: swap("race.toml", `path = "logs/start-backup.csv"`, "path = \"logs/start-backup.csv\"\nclock = \"vann\""), want: `^look    race\.toml:12:8: clock vann is named by start backup alone`, ready: isReady},
	{name: "chips carried there and back", want: `^ok      finish main fits start main: of 3 test chips carried there and back, 3 passed in between, the closest \(7E57000000000001\) within 0:10:00`, ready: isReady, before: true},
	{name: "a main hours off, by chips carried there and back", spoil: put("logs/finish-main.csv", log(walks["finish"], testChips, -2*time.Hour)),
		want: `^look    race\.toml:17:8: finish main doesn't fit start main: of 3 test chips`, ready: isReady},
	{name: "an offset of main's by the plan", spoil: all(swap("race.toml", `path = "logs/finish-main.csv"`, "path = \"logs/finish-main.csv\"\noffset = \"-2s\""), put("logs/finish-main.csv", log(walks["finish"], testChips, -2*time.Second))),
		want: `^ok      finish main is 2\.000 s behind the race clock, as the plan says$`, ready: isReady},
	{name: "a clock that was set while they started", spoil: all(put("athletes.csv", stepped("athletes")), put("chips.csv", stepped("chips")), again("logs/start-main.csv", stepped("main")), again("logs/start-backup.csv", stepped("backup"))),
		want: `^problem .*clock.* at start .*settle it on the desk, or: twinmat rule \S+ set-clock --line start --stepped backup --why …$`, ready: notReady},
	// rulings
	{name: "rulings of a practice", spoil: put("rulings.jsonl", practice), want: `^look    rulings\.jsonl: 1 ruling on disk already`, ready: isReady},
	{name: "a ruling that was cut off", spoil: put("rulings.jsonl", practice+"{\"seq\":2"), want: `^look    the last line of rulings\.jsonl is not whole \(8 bytes\) and is left out$`, ready: isReady},
	{name: "rulings that are a folder", spoil: put("rulings.jsonl/x", ""), want: `^problem rulings\.jsonl: `, ready: notReady},
	{name: "rulings that can't be read", spoil: put("rulings.jsonl", practice+"{\"seq\":2\n"+strings.Replace(practice, `"seq":1`, `"seq":3`, 1)), want: `^problem rulings\.jsonl:2:1: .*: that ruling is left out, and nothing can be ruled; mend the line, or take it out by hand$`, ready: notReady},
	{name: "a ruling on a line that the plan has no more", spoil: put("rulings.jsonl", strings.Replace(practice, `"rule":"ignore-chip","tag":"7E57000000000001"`, `"rule":"witness","bib":"1","line":"goal","time":"2026-05-17T10:00:00+01:00"`, 1)),
		want: `^look    rulings\.jsonl: ruling 1 changes nothing: the plan has no line "goal"; take it back, or rule anew what it meant$`, ready: isReady},
	{name: "rulings that are missing", spoil: put("rulings.jsonl", practice+"{\"seq\":2\n"+strings.Replace(practice, `"seq":1`, `"seq":3`, 1)), want: `^problem rulings\.jsonl: it lacks the rulings numbered 2$`, ready: notReady},
	{name: "rulings most of which can't be read", spoil: put("rulings.jsonl", practice+strings.Repeat("{\"seq\":2\n", 5)+strings.Replace(practice, `"seq":1`, `"seq":3`, 1)), want: `^problem rulings\.jsonl: 2 more lines can't be read$`, ready: notReady},
}

// bare takes the strengths out of a log.
func bare(s string) string {
	var b strings.Builder
	for l := range strings.Lines(s) {
		i := strings.LastIndexByte(l, ',')
		b.WriteString(l[:i] + "\n")
	}
	return b.String()
}

// keyed are bibs that no list has, keyed by hand.
func keyed(n int) string {
	out := ""
	for i := range n {
		out += fmt.Sprintf("%d,09:06:%02d\n", 70+i, i)
	}
	return out
}

// strangers are chips of nobody's that start with wave A.
func strangers(n int) string {
	out := ""
	for i := range n {
		out += fmt.Sprintf("FFFF%02d,2026-05-17T09:00:%02d.100+01:00,1,-60\n", i, i)
	}
	return out
}

// stepped is eighty starters, five seconds apart; backup's clock is set 20 s on after half of
// them.
func stepped(what string) string {
	out := map[string]string{"athletes": "bib,wave\n", "chips": "tag,bib\n"}
	gun := time.Date(2026, 5, 17, 8, 0, 0, 0, time.UTC)
	for i := range 80 {
		out["athletes"] += fmt.Sprintf("%d,%s\n", i+1, map[bool]string{true: "A", false: "B"}[i < 79])
		out["chips"] += fmt.Sprintf("3A%02d,%d\n", i, i+1)
		at, by := gun.Add(time.Duration(5000*i+1500+97*(i%7))*time.Millisecond), 3217*time.Millisecond
		out["steady"] += fmt.Sprintf("3A%02d,%s,1,-60\n", i, at.Add(by+time.Duration(i*i%11)*10*time.Millisecond).Format("2006-01-02T15:04:05.000Z07:00"))
		if i >= 40 {
			by += 20 * time.Second
		}
		out["main"] += fmt.Sprintf("3A%02d,%s,1,-60\n", i, at.Format("2006-01-02T15:04:05.000Z07:00"))
		out["backup"] += fmt.Sprintf("3A%02d,%s,1,-60\n", i, at.Add(by+time.Duration(i*i%11)*10*time.Millisecond).Format("2006-01-02T15:04:05.000Z07:00"))
	}
	return out[what]
}

// field is forty starters of wave A that cross the start four minutes before its gun.
func field(what string) string {
	var athletes, chips, reads strings.Builder
	athletes.WriteString("bib,wave\n")
	chips.WriteString("tag,bib\n")
	for i := 1; i <= 40; i++ {
		wave := "A"
		if i > 38 {
			wave = "B"
		}
		fmt.Fprintf(&athletes, "%d,%s\n", i, wave)
		fmt.Fprintf(&chips, "3A%02d,%d\n", i, i)
		if wave == "A" {
			fmt.Fprintf(&reads, "3A%02d,2026-05-17T08:56:%02d.%03d+01:00,1,-60\n", i, 1+i/4, 17*i)
		}
	}
	return map[string]string{"athletes": athletes.String(), "chips": chips.String(), "reads": reads.String()}[what]
}

func TestEachFaultIsTold(t *testing.T) {
	has := func(f *Findings, want string) bool {
		re := regexp.MustCompile(want)
		for _, x := range f.List {
			if re.MatchString(x.String()) {
				return true
			}
		}
		return false
	}
	base := lookAt(t, sound(), hourLater)
	for _, c := range faults {
		t.Run(c.name, func(t *testing.T) {
			files := sound()
			if c.spoil != nil {
				c.spoil(files)
			}
			now := c.now
			if now.IsZero() {
				now = hourLater
			}
			f := lookAt(t, files, now)
			if !has(f, c.want) || !strings.HasPrefix(f.Verdict, c.ready) {
				t.Errorf("want %s\nand %s\ngot\n%s", c.want, c.ready, strings.Join(f.Lines(), "\n"))
			}
			if has(base, c.want) != c.before {
				t.Errorf("the sound folder tells it: %v", !c.before)
			}
		})
	}
}
