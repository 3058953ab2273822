package plan

import (
	"strings"
	"testing"
)

// mark stands in a text before the place of an expected problem. Two bytes of UTF-8; it is
// taken out before the text is read.
const here = "§"

const goodPlan = `format = 1
name = "Reedbed Ten"
date = 2026-05-17
timezone = "Europe/Berlin"

[dedupe]
window = "5s"

[[line]]
id = "start"
  [[line.log]]
  system = "main"
  path = "logs/start.csv"

[[line]]
id = "finish"
tolerance = "1s"
  [[line.log]]
  system = "main"
  path = "logs/finish.csv"
  [[line.log]]
  system = "backup"
  path = "logs/finish-b.csv"
  offset = "auto"

[[course]]
id = "ten"
  [[course.split]]
  id = "start"
  line = "start"
  at = "0m"
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "10km"

[[wave]]
id = "A"
course = "ten"
gun = 10:00:00
`

const goodAthletes = "bib,name,sex,birth,category,team,wave,status,start\n1,Ann Reed,f,1990,W,,A,,\n2,Bo Fen,m,1985-03-04,M,,A,dns,10:05:00\n"

const goodChips = "tag,bib,from,to\nA1,1,,\nA2,2,,\n"

// expect is one problem: part of what, part of want.
type expect struct {
	what, want string
	warning    bool
}

// marked takes the marks out of a text and gives their places.
func marked(text string) (plain string, places [][2]int) {
	for i, line := range strings.Split(text, "\n") {
		for {
			j := strings.Index(line, here)
			if j < 0 {
				break
			}
			places = append(places, [2]int{i + 1, j + 1})
			line = line[:j] + line[j+len(here):]
		}
	}
	return strings.ReplaceAll(text, here, ""), places
}

// check compares what was found in one file with the marks in it, in order of place.
func check(t *testing.T, file, text string, found []Problem, wants []expect) {
	t.Helper()
	_, places := marked(text)
	if len(places) != len(wants) {
		t.Fatalf("the test has %d marks and %d expectations", len(places), len(wants))
	}
	var of []Problem
	for _, p := range found {
		if p.File == file {
			of = append(of, p)
		}
	}
	if len(of) != len(wants) {
		t.Fatalf("%d problems, want %d:\n%s", len(of), len(wants), show(found))
	}
	for i, p := range of {
		w := wants[i]
		if p.Line != places[i][0] || p.Column != places[i][1] || p.Warning != w.warning ||
			!strings.Contains(p.What, w.what) || !strings.Contains(p.Want, w.want) || w.what == "" {
			t.Errorf("got  %s\nwant %d:%d %q; want %q, warning %v", p, places[i][0], places[i][1], w.what, w.want, w.warning)
		}
	}
}

func TestTheGoodPlanIsGood(t *testing.T) {
	r, found := Parse([]byte(goodPlan), []byte(goodAthletes), []byte(goodChips))
	if r == nil || len(found) > 0 {
		t.Fatal(show(found))
	}
}

func TestFaultsOfThePlanAreToldWithTheirPlace(t *testing.T) {
	one := func(what, want string) []expect { return []expect{{what: what, want: want}} }
	warning := func(what, want string) []expect { return []expect{{what, want, true}} }
	for _, c := range []struct {
		name     string
		old, new string
		wants    []expect
	}{
		// The form of the file.
		{"a text without quotes", `window = "5s"`, "window = §5s", one("not TOML", `window = "5s"`)},
		{"an hour of one digit", "gun = 10:00:00", "gun = §9:00:00", one("not TOML", "gun = 09:00:00")},
		{"a missing value", `window = "5s"`, "window = §", one("not TOML", "a value after the =")},
		{"an open text", `name = "Reedbed Ten"`, `name = "Reedbed Ten§`, one("not TOML", "quotes")},
		{"an open heading", "[dedupe]", "[dedupe§", one("not TOML", "[dedupe]")},
		{"half a heading", "[[wave]]", "[[wave§]", one("not TOML", "[[wave]]")},
		{"no key", `window = "5s"`, `window = "5s"` + "\n§= 3", one("not TOML", "key = value")},
		{"a key twice that clears the screen", `window = "5s"`, `§"\u001b[2J" = 1` + "\n" + `§"\u001b[2J" = 1`, []expect{{what: `unknown key "\x1b[2J"`}, {what: `key \x1b[2J is already defined`}}},
		{"a key twice", `window = "5s"`, `window = "5s"` + "\n" + `§window = "6s"`, one("not TOML", "each key and table once")},
		{"a table twice", "[[line]]\nid = \"start\"", "[§dedupe]\nwindow = \"6s\"\n[[line]]\nid = \"start\"", one("not TOML", "once")},
		{"a day that isn't", "date = 2026-05-17", "date = §2026-02-30", one("not TOML: date is 2026-02-30", "2026-05-17")},
		{"an hour that isn't", "gun = 10:00:00", "gun = §25:00:00", one("not TOML", "09:00:00")},
		{"an open list", `window = "5s"`, "window = [\n§keep = \"first\"", one("not TOML", "closed: it begins in line 7")},
		{"an open list, and a fault in the line that ends it", `window = "5s"`, "window = [\n§keep = §\"frist\"", []expect{{what: "not TOML"}, {what: `keep is "frist"`}}},
		{"a key twice, and without quotes", `window = "5s"`, "window = \"5s\"\n§window = §6s",
			[]expect{{what: "already"}, {what: "6s stands without quotes"}}},
		{"an open heading of a list", "[[wave]]", "[wave§", one("not TOML", "[[wave]]")},
		{"an open heading of a list's second", "[[line]]\nid = \"finish\"", "[line§\nid = \"finish\"", one("not TOML", "[[line]]")},
		{"an open heading that comes twice", "[[line]]\nid = \"start\"", "[dedupe§\n[[line]]\nid = \"start\"", one("not TOML", "[dedupe]")},
		{"three faults of form", "[dedupe]\nwindow = \"5s\"", "[dedupe§\nwindow = §5s\nkeep = §first",
			[]expect{{what: "not TOML"}, {what: "not TOML"}, {what: "not TOML"}}},
		{"a fault of form and faults of meaning after it", "[dedupe]\nwindow = \"5s\"", "[dedupe]\nwindow = §5s\nkeep = §\"frist\"\n§wimdow = 1",
			[]expect{{what: "not TOML"}, {what: `keep is "frist" (did you mean "first"?)`, want: "first, strongest, last or centre"}, {what: `unknown key "wimdow" (did you mean "window"?)`, want: "one of window, keep"}}},

		// Keys.
		{"an unknown key at the top", "format = 1", "format = 1\n§foo = 1", one(`unknown key "foo"`, "one of format, name")},
		{"an unknown table", "[dedupe]", "[§chip]\nresolution = \"1s\"\n[dedupe]", one(`unknown key "chip" (did you mean "chips"?)`, "chips")},
		{"unknown keys, all of them", "offset = \"auto\"", "offset = \"auto\"\n  §offest = \"1s\"\n  §behnd = \"2m\"",
			[]expect{{what: `"offest" (did you mean "offset"?)`}, {what: `"behnd" (did you mean "behind"?)`}}},
		{"an unknown dotted key", "format = 1", "format = 1\n§a.b.c = 1", one(`unknown key "a"`, "")},
		{"an unknown key in columns", "offset = \"auto\"", "columns = { §tags = \"epc\" }", one(`unknown key "tags" (did you mean "tag"?)`, "last_time")},

		// Wrong types.
		{"format as a text", "format = 1", `format = §"1"`, one(`format is the text "1"`, "a whole number")},
		{"another format", "format = 1", "format = §2", one("format is 2", "format = 1")},
		{"name as a number", `name = "Reedbed Ten"`, "name = §5", one("name is the number 5", "the race's name")},
		{"window as a number", `window = "5s"`, "window = §5", one("window is the number 5", `"5s"`)},
		{"a table where a text belongs", `window = "5s"`, `window = §{ s = 5 }`, one("window is a table", `"5s"`)},
		{"a list where a text belongs", `window = "5s"`, `window = §["5s"]`, one("window is a list", `"5s"`)},
		{"date as a number", "date = 2026-05-17", "date = §2026", one("date is the number 2026", "2026-05-17")},
		{"date with a time", "date = 2026-05-17", "date = §2026-05-17T00:00:00", one("date is the time", "2026-05-17")},
		{"gun as a number", "gun = 10:00:00", "gun = §10", one("gun is the number 10", "hh:mm:ss")},
		{"gun as a date", "gun = 10:00:00", "gun = §2026-05-17", one("gun is the date", "hh:mm:ss")},
		{"required as a text", `at = "10km"`, "at = \"10km\"\n  required = §\"yes\"", one(`required is the text "yes"`, "true or false")},
		{"one bracket where two belong", "[[wave]]", "§[wave]", one("wave stands in single brackets", "[[wave]]")},
		{"a text for a table", "[dedupe]\nwindow = \"5s\"", "dedupe = §\"5s\"", one("dedupe is the text", "[dedupe]")},

		// Values.
		{"a length without a unit", `window = "5s"`, `window = §"5"`, one("has no unit", "5s")},
		{"a length that is none", `window = "5s"`, `window = §"soon"`, one("is not a length of time", "5s")},
		{"no window at all", `window = "5s"`, `window = §"0s"`, one(`window is "0s"`, "from 0.001s to 1h")},
		{"a window of a day", `window = "5s"`, `window = §"25h"`, one(`window is "25h"`, "to 1h")},
		{"a way of keeping", `window = "5s"`, `keep = §"best"`, one(`keep is "best"`, "first, strongest, last or centre")},
		{"a rounding", "[dedupe]", "[official]\nrounding = §\"up-2s\"\n[dedupe]", one(`rounding is "up-2s" (did you mean "up-1s"?)`, "none, up-1s, up-0.1s")},
		{"ties and clock", "[dedupe]", "[official]\nties = §\"fair\"\nclock = §\"chip\"\n[dedupe]",
			[]expect{{what: `ties is "fair"`, want: "exact or official"}, {what: `clock is "chip"`, want: "gun or net"}}},
		{"a resolution", "[dedupe]", "[chips]\nresolution = §\"2m\"\n[dedupe]", one(`resolution is "2m"`, "to 1m")},
		{"a speed without its time", "[dedupe]", "[chips]\nmax_speed = §\"12 m\"\n[dedupe]", one(`"12 m" is not a speed`, "12 m/s")},
		{"a speed of light", "[dedupe]", "[chips]\nmax_speed = §\"299792458 m/s\"\n[dedupe]", one("the speed is", "500 m/s")},
		{"a zone that isn't", `timezone = "Europe/Berlin"`, `timezone = §"Europe/Bärlin"`, one("there is no time zone", "IANA")},
		{"a zone of the machine's", `timezone = "Europe/Berlin"`, `timezone = §"Local"`, one("the time zone is", "IANA")},
		{"a zone that climbs", `timezone = "Europe/Berlin"`, `timezone = §"../../etc/passwd"`, one("there is no time zone", "IANA")},
		{"a day before cars", "date = 2026-05-17", "date = §1812-05-17", one("date is the date 1812-05-17", "from 1900")},
		{"an empty name", `name = "Reedbed Ten"`, `name = §" "`, one("name is empty", "")},
		{"a sport", `id = "ten"`, "id = \"ten\"\nsport = §\"running\"", one(`sport is "running"`, "run, walk, bike, swim, ski, kart or change")},
		{"a split's sport", `at = "10km"`, "at = \"10km\"\n  sport = §\"bik\"", one(`sport is "bik" (did you mean "bike"?)`, "kart")},
		{"limit, time limit, lapped, prizes", `id = "ten"`, "id = \"ten\"\nlimit = §\"long\"\ntime_limit = §\"0s\"\nlapped = §\"out\"\nprizes = §-1",
			[]expect{{what: `"long"`, want: "3h30m"}, {what: `time_limit is "0s"`, want: "to 10000h"}, {what: `lapped is "out"`, want: "ride-on or flagged"}, {what: "prizes is -1", want: "a whole number from 0"}}},
		{"a distance without a unit", `at = "10km"`, `at = §"10"`, one(`"10" is not a distance`, "10km")},
		{"a distance behind the start", `at = "10km"`, `at = §"-10km"`, one(`at is "-10km"`, "0m or more")},
		{"a distance to the moon", `at = "10km"`, `at = §"384400km"`, one("is too far", "10km")},
		{"the fastest", `at = "10km"`, "at = \"10km\"\n  fastest = §\"27\"", one("has no unit", "")},
		{"the order of units", `window = "5s"`, `window = §"5s1m"`, one("out of order", "")},
		{"early", "gun = 10:00:00", "early = §\"-2s\"", one(`early is "-2s"`, "from 0s to 1h")},

		// Times.
		{"a gun of text", "gun = 10:00:00", `gun = §"ten"`, one(`gun: "ten" is not a time`, "hh:mm:ss")},
		{"a gun from last year", "gun = 10:00:00", "gun = §2025-05-17T10:00:00", warning("gun is -365 days from the race's date", "near it")},
		{"to at from", `path = "logs/start.csv"`, "path = \"logs/start.csv\"\n  from = 10:00:00\n  to = §10:00:00", one("to is not after from", "a time after from")},
		{"to before from", `path = "logs/start.csv"`, "path = \"logs/start.csv\"\n  from = 10:00:00\n  to = §09:00:00", one("to is not after from", "a time after from")},

		// Ids and what refers to them.
		{"an empty id", `id = "A"`, `id = §""`, one("id: it is empty", "a short name")},
		{"an id with a space", `id = "A"`, `id = §"wave A"`, one(`has the character ' '`, "without spaces")},
		{"an id with a comma", `id = "A"`, `id = §"A,B"`, one(`has the character ','`, "commas")},
		{"an id with a colon", `id = "A"`, `id = §"A:B"`, one(`has the character ':'`, "colons")},
		{"an id with a slash", `id = "A"`, `id = §"A/B"`, one(`has the character '/'`, "slashes")},
		{"an id with an escape", `id = "A"`, `id = §"A\u001b[2J"`, one(`has the character '\x1b'`, "")},
		{"an id that turns the text about", `id = "A"`, `id = §"A\u202eB"`, one(`has the character '\u202e'`, "")},
		{"an unknown line", `line = "finish"`, `line = §"finihs"`, one(`there is no line "finihs" (did you mean "finish"?)`, "start or finish")},
		{"a split's id twice", "id = \"finish\"\n  line", "id = §\"start\"\n  line", one(`the id "start" is taken by the split in line`, "another id")},
		{"a wave without a course", "[[wave]]\nid = \"A\"\ncourse = \"ten\"\n", "§[[wave]]\nid = \"A\"\n", one("this wave has no course", "ten")},
		{"a wave of an unknown course", `course = "ten"`, `course = §"five"`, one(`there is no course "five"`, "the id of a course: ten")},
		{"a wave twice", "gun = 10:00:00", "[[wave]]\nid = §\"A\"\ncourse = \"ten\"", one(`the id "A" is taken by the wave in line`, "another id")},

		// Distances and laps.
		{"a distance again", `at = "10km"`, `at = §"0km"`, one(`at is "0km", the split before it is at "0m"`, "beyond")},
		{"laps without end that are required", `at = "10km"`, "at = \"10km\"\n  repeat = 0\n  required = §true", one("required with repeat = 0", "left out")},
		{"laps without end, and then a split", `at = "0m"`, "at = \"1km\"\n  repeat = §0", one("repeat is 0, and another split follows", "last")},
		{"laps below none", `at = "10km"`, "at = \"10km\"\n  repeat = §-1", one("repeat is -1", "from 0 to 10000")},
		{"laps of no length", `at = "0m"`, "at = §\"0m\"\n  repeat = 3", one(`at is "0m"`, "the length of a lap")},
		{"laps around the world", `at = "10km"`, "at = \"10km\"\n  repeat = §10000", one("the laps end at 100000000 m", "fewer")},

		// Logs.
		{"a system", `system = "backup"`, `system = §"spare"`, one(`system is "spare"`, "main, backup or hand")},
		{"an absolute path", `path = "logs/start.csv"`, `path = §"/etc/passwd"`, one(`"/etc/passwd" is absolute`, "below the race folder")},
		{"a path with a drive", `path = "logs/start.csv"`, `path = §"C:/race/start.csv"`, one("is absolute", "below the race folder")},
		{"a path that climbs", `path = "logs/start.csv"`, `path = §"logs/../../other.csv"`, one("leads out of the race folder", "below the race folder")},
		{"a path with backslashes", `path = "logs/start.csv"`, `path = §'logs\start.csv'`, one("has a backslash", "logs/")},
		{"a path that isn't plain", `path = "logs/start.csv"`, `path = §"logs//start.csv"`, one("is not a plain path", "")},
		{"a path with an escape", `path = "logs/start.csv"`, `path = §"logs/\u001bstart.csv"`, one("has a control character", "")},
		{"an empty path", `path = "logs/start.csv"`, `path = §""`, one("is empty", "")},
		{"a broken pattern", `path = "logs/start.csv"`, `path = §"logs/[a-.csv"`, one("has an open [", "")},
		{"a pattern of stars", `path = "logs/start.csv"`, `path = §"logs/*a*a*a*a*a*a*a*a*a.csv"`, one("has more than 8 stars", "")},
		{"the program's own lists", `path = "logs/start.csv"`, `path = §"*.csv"`, one("takes in athletes.csv", "")},
		{"the program's own exports", `path = "logs/start.csv"`, `path = §"out/times.csv"`, one("takes in out/", "")},
		{"an offset", `offset = "auto"`, `offset = §"3.2"`, one(`offset is "3.2"`, "+3.217s")},
		{"a behind", `offset = "auto"`, `behind = §"two steps"`, one(`behind is "two steps"`, "2.0m")},
		{"a behind that is another line", `offset = "auto"`, `behind = §"2km"`, one(`behind is "2km"`, "1000 m")},
		{"main on auto", `path = "logs/start.csv"`, "path = \"logs/start.csv\"\n  offset = §\"auto\"", warning(`offset = "auto"`, `"0s"`)},
		{"main's behind on auto", `path = "logs/start.csv"`, "path = \"logs/start.csv\"\n  behind = §\"auto\"", warning(`behind = "auto"`, `"0m"`)},
		{"a clock without a name", `offset = "auto"`, `clock = §""`, one("clock: it is empty", "a short name")},
		{"a column of a yes", `offset = "auto"`, `columns = { tag = §true }`, one("tag is true", "header's name")},
		{"a log's zone", `offset = "auto"`, `timezone = §"MEZ"`, one(`there is no time zone "MEZ"`, "IANA")},
		{"a delimiter", `offset = "auto"`, `delimiter = §":"`, one(`delimiter is ":"`, "|")},
		{"a form of times", `offset = "auto"`, `time_format = §"unix"`, one(`time_format is "unix"`, "unix-us")},
		{"columns as a text", `offset = "auto"`, `columns = §"tag"`, one("columns is the text", "columns = {")},
		{"a column zero", `offset = "auto"`, `columns = { tag = §0 }`, one("tag is 0", "from 1")},
		{"a column without a name", `offset = "auto"`, `columns = { tag = §"" }`, one("tag is empty", "header")},
		{"a line that nobody crosses", "[[course]]", "§[[line]]\nid = \"x\"\n[[line.log]]\nsystem = \"main\"\npath = \"x.csv\"\n[[course]]", warning(`no split is at line "x"`, "")},
		{"a course that nobody runs", "[[wave]]", "§[[course]]\nid = \"x\"\n[[course.split]]\nid = \"f\"\nline = \"finish\"\nat = \"1km\"\n[[wave]]", warning(`no wave runs course "x"`, "")},
	} {
		t.Run(c.name, func(t *testing.T) { checkPlan(t, c.wants, c.old, c.new) })
	}
}

// checkPlan looks for problems in the good plan after edits, pairs of old and new.
func checkPlan(t *testing.T, wants []expect, edits ...string) {
	t.Helper()
	text := goodPlan
	for i := 0; i < len(edits); i += 2 {
		if !strings.Contains(text, edits[i]) {
			t.Fatalf("the plan has no %q to replace", edits[i])
		}
		text = strings.Replace(text, edits[i], edits[i+1], 1)
	}
	plain, _ := marked(text)
	r, found := Parse([]byte(plain), nil, nil)
	check(t, TomlFile, text, found, wants)
	if (r == nil) != !wants[0].warning {
		t.Errorf("race %v with:\n%s", r, show(found))
	}
}

func TestFaultsThatShowElsewhereThanTheyWereMade(t *testing.T) {
	for _, c := range []struct {
		name  string
		wants []expect
		edits []string
	}{
		{"nothing but a name", []expect{{what: "race.toml has no format", want: "format = 1"}}, []string{"format = 1\n", here}},
		{"no name, date and zone", []expect{{what: "no name"}, {what: "no timezone", want: "IANA"}, {what: "no date"}},
			[]string{"format = 1", "§§§format = 1", "name = \"Reedbed Ten\"\ndate = 2026-05-17\ntimezone = \"Europe/Berlin\"", ""}},
		{"a course without an id", []expect{{what: "this course has no id", want: "a short name"}, {what: `there is no course "ten"`}},
			[]string{"[[course]]\nid = \"ten\"", "§[[course]]", `course = "ten"`, `course = §"ten"`}},
		{"a split without anything", []expect{{what: "this split has no id"}, {what: "this split has no line"}, {what: "this split has no at", want: "10km"}},
			[]string{"  [[course.split]]\n  id = \"finish\"\n  line = \"finish\"\n  at = \"10km\"", "  §§§[[course.split]]"}},
		{"a log without anything", []expect{{what: "this log has no system"}, {what: "this log has no path"}},
			[]string{"  [[line.log]]\n  system = \"main\"\n  path = \"logs/start.csv\"", "  §§[[line.log]]"}},
		{"a course without splits", []expect{{what: "this course has no split"}},
			[]string{"[[wave]]", "§[[course]]\nid = \"x\"\n[[wave]]"}},
		{"distances that fall", []expect{{what: `at is "10km", the split before it is at "12km"`}},
			[]string{`at = "0m"`, `at = "12km"`, `at = "10km"`, `at = §"10km"`}},
		{"a split within the laps before it", []expect{{what: `at is "10km", the split before it is at 12000m after its laps`}},
			[]string{`at = "0m"`, "at = \"1km\"\n  repeat = 12", `at = "10km"`, `at = §"10km"`}},
		{"a lap's name that was taken", []expect{{what: `lap 1 would be called "start-1"`}},
			[]string{`id = "start"` + "\n  line", "id = \"start-1\"\n  line", "id = \"finish\"\n  line", "id = \"start\"\n  repeat = §2\n  line"}},
		{"a lap's name that is taken later", []expect{{what: `the id "start-1" is taken`}},
			[]string{`at = "0m"`, "at = \"1km\"\n  repeat = 2", "id = \"finish\"\n  line", "id = §\"start-1\"\n  line"}},
		{"a line's id twice", []expect{{what: `the id "start" is taken by the line in line 10`}, {what: `there is no line "finish"`, want: "start"}},
			[]string{"[[line]]\nid = \"finish\"", "[[line]]\nid = §\"start\"", `line = "finish"`, `line = §"finish"`}},
		{"a gun in the hour that summer time leaves out", []expect{{what: "gun: 2026-03-29 02:30:00 is left out in Europe/Berlin"}},
			[]string{"2026-05-17", "2026-03-29", "gun = 10:00:00", "gun = §02:30:00"}},
		{"no waves", []expect{{what: "race.toml has no wave", want: "[[wave]]"}},
			[]string{"format = 1", "§format = 1", "[[wave]]\nid = \"A\"\ncourse = \"ten\"\ngun = 10:00:00\n", ""}},
		{"texts for waves", []expect{{what: `wave holds the text "A"`, want: "[[wave]]"}},
			[]string{"format = 1", "format = 1\nwave = [§\"A\"]", "[[wave]]\nid = \"A\"\ncourse = \"ten\"\ngun = 10:00:00\n", ""}},
		{"a line without a log", []expect{{"has no log", "[[line.log]]", true}},
			[]string{"[[line]]\nid = \"start\"", "§[[line]]\nid = \"start\"", "  [[line.log]]\n  system = \"main\"\n  path = \"logs/start.csv\"", ""}},
		{"one file at two lines", []expect{{`"logs/start.csv" is a log already, in line 13`, "from and to", true}},
			[]string{`path = "logs/finish.csv"`, `path = §"logs/start.csv"`}},
		{"one clock with two offsets", []expect{{`the clock "box-3" has another offset here than for the log in line 13`, "one offset", true}},
			[]string{`path = "logs/start.csv"`, "path = \"logs/start.csv\"\n  clock = \"box-3\"", `path = "logs/finish.csv"`, "path = §\"logs/finish.csv\"\n  clock = \"box-3\"\n  offset = \"2s\""}},
	} {
		t.Run(c.name, func(t *testing.T) { checkPlan(t, c.wants, c.edits...) })
	}
}
