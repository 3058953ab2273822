package plan

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"twinmat/reconcile/race"
)

// folder writes a race folder; a name that ends in / is a folder in it.
func folder(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, name)
		if strings.HasSuffix(name, "/") {
			if err := os.MkdirAll(path, 0o755); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func goodFolder() map[string]string {
	return map[string]string{TomlFile: goodPlan, AthletesFile: goodAthletes, ChipsFile: goodChips,
		"logs/start.csv": "", "logs/finish.csv": "", "logs/finish-b.csv": ""}
}

func TestARaceIsTheFolderOrItsToml(t *testing.T) {
	dir := folder(t, goodFolder())
	for _, path := range []string{dir, dir + "/", filepath.Join(dir, TomlFile)} {
		r, found := Load(path)
		if r == nil || len(found) > 0 {
			t.Fatal(show(found))
		}
		want := []string{filepath.Join(dir, TomlFile), filepath.Join(dir, AthletesFile), filepath.Join(dir, ChipsFile)}
		if d := cmp.Diff(want, r.Files); d != "" || filepath.Clean(r.Dir) != dir {
			t.Errorf("%s: dir %s, files %s", path, r.Dir, d)
		}
	}
}

func TestWhatIsMissingFromAFolder(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(map[string]string)
		want   string
		sound  bool
	}{
		{"no plan", func(f map[string]string) { delete(f, TomlFile) }, "race.toml: there is no ", false},
		{"no athletes", func(f map[string]string) { delete(f, AthletesFile) }, "athletes.csv: there is no ", false},
		{"no chips", func(f map[string]string) { delete(f, ChipsFile) }, "chips.csv: there is no ", false},
		{"athletes in a folder", func(f map[string]string) { delete(f, AthletesFile); f[AthletesFile+"/"] = "" }, "athletes.csv: ", false},
		{"no log yet", func(f map[string]string) { delete(f, "logs/start.csv") }, `race.toml:13:10: warning: no file matches "logs/start.csv"`, true},
		{"a folder for a log", func(f map[string]string) { delete(f, "logs/start.csv"); f["logs/start.csv/"] = "" }, `race.toml:13:10: warning: "logs/start.csv" is a folder`, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := goodFolder()
			c.change(files)
			r, found := Load(folder(t, files))
			if text := show(found); !strings.Contains(text, c.want) || len(found) != 1 {
				t.Errorf("got\n%swant %s", text, c.want)
			}
			if (r != nil) != c.sound {
				t.Errorf("race %v, want sound %v", r, c.sound)
			}
		})
	}
}

func TestAnotherFileIsNotARace(t *testing.T) {
	dir := folder(t, goodFolder())
	r, found := Load(filepath.Join(dir, ChipsFile))
	if want := "chips.csv: not a race; want a race folder or its race.toml\n"; r != nil || show(found) != want {
		t.Errorf("race %v\n%s", r, show(found))
	}
}

func TestAFileBeyondItsLimitIsNotTakenInPart(t *testing.T) {
	dir := folder(t, goodFolder())
	path := filepath.Join(dir, ChipsFile)
	for limit, want := range map[int64]string{int64(len(goodChips)): "", int64(len(goodChips)) - 1: "chips.csv: chips.csv is larger than 29 bytes; want a smaller file\n"} {
		var found problems
		r := Race{}
		b := r.read(&found, path, limit, "")
		if show(found.list) != want || (b == nil) != (want != "") {
			t.Errorf("limit %d: %d bytes\n%s", limit, len(b), show(found.list))
		}
	}
}

func TestADraftKeepsWhatIsSound(t *testing.T) {
	files := goodFolder()
	files[AthletesFile] += "3,Cy,m,,M,,nowhere,,\n"
	dir := folder(t, files)
	if r, _ := Load(dir); r != nil {
		t.Error("a race with a faulty list must not load")
	}
	r, found := Draft(dir)
	if r == nil || len(r.Athletes) != 2 || Sound(found) {
		t.Errorf("draft %+v\n%s", r, show(found))
	}
	files[TomlFile] += "x = 1\n"
	if r, found := Draft(folder(t, files)); r != nil {
		t.Errorf("a faulty plan must give no draft\n%s", show(found))
	}
}

// Everything wrong in all three files comes at once, in order of file and place.
func TestAllThreeFilesAreToldInOnePass(t *testing.T) {
	_, found := Parse([]byte(strings.Replace(goodPlan, `window = "5s"`, `window = "5"`, 1)),
		[]byte("bib,wave\n1,B\n1,A\n"), []byte("tag,bib\n,1\nA1,9\n"))
	want := `race.toml:7:10: window: "5" has no unit h, m, s or ms; want a length of time such as "5s", "1m30s", "3h30m" or "0.2s"
athletes.csv:2:3: there is no wave "B"; want one of the waves of race.toml: A
athletes.csv:3:1: bib 1 stands in line 2 already; want each bib once
chips.csv:2:1: the tag is empty; want the tag's code as the reader prints it
chips.csv:3:4: warning: bib 9 of chip "A1" is not listed; want a bib of athletes.csv
`
	if d := cmp.Diff(want, show(found)); d != "" {
		t.Error(d)
	}
}

func TestKeepIsTheLinesElseTheRacesElseLastAtAStart(t *testing.T) {
	for _, c := range []struct {
		name, old, new string
		start, finish  race.Keep
	}{
		{"nothing said", "", "", race.KeepLast, race.KeepFirst},
		{"the race says", "[dedupe]", "[dedupe]\nkeep = \"strongest\"", race.KeepStrongest, race.KeepStrongest},
		{"the race says the default", "[dedupe]", "[dedupe]\nkeep = \"first\"", race.KeepFirst, race.KeepFirst},
		{"a line says", `tolerance = "1s"`, "keep = \"centre\"", race.KeepLast, race.KeepCentre},
		{"start and finish on one line", `line = "finish"`, `line = "start"`, race.KeepFirst, race.KeepFirst},
	} {
		r, found := Parse([]byte(strings.Replace(goodPlan, c.old, c.new, 1)), nil, nil)
		if r == nil {
			t.Fatal(show(found))
		}
		if got := r.Plan.Lines; got[0].Keep != c.start || got[1].Keep != c.finish {
			t.Errorf("%s: start %s, finish %s; want %s, %s", c.name, got[0].Keep, got[1].Keep, c.start, c.finish)
		}
	}
}

func TestOffsetsAndBehindsUnsaid(t *testing.T) {
	auto, fixed := race.Offset{Auto: true}, race.Offset{}
	for _, c := range []struct {
		systems []string
		offsets []race.Offset
		behind  []bool
	}{
		{[]string{"main", "backup", "hand"}, []race.Offset{fixed, auto, auto}, []bool{false, true, false}},
		{[]string{"main", "main"}, []race.Offset{fixed, fixed}, []bool{false, false}},
		{[]string{"backup", "main"}, []race.Offset{auto, fixed}, []bool{true, false}},
		{[]string{"backup", "backup", "hand"}, []race.Offset{fixed, auto, auto}, []bool{false, true, false}},
		{[]string{"hand"}, []race.Offset{fixed}, []bool{false}},
	} {
		logs := ""
		for i, s := range c.systems {
			logs += "  [[line.log]]\n  system = \"" + s + "\"\n  path = \"logs/" + string(rune('a'+i)) + ".csv\"\n"
		}
		r, found := Parse([]byte(strings.Replace(goodPlan, "  [[line.log]]\n  system = \"main\"\n  path = \"logs/start.csv\"\n", logs, 1)), nil, nil)
		if r == nil {
			t.Fatal(show(found))
		}
		for i, n := range r.Plan.Lines[0].Logs {
			if log := r.Plan.Logs[n]; log.Offset != c.offsets[i] || log.Behind.Auto != c.behind[i] || log.Behind.Fixed != 0 {
				t.Errorf("%v: log %d: %+v", c.systems, i, log)
			}
		}
	}
}

func TestLapsAreWrittenOutBetweenOtherSplits(t *testing.T) {
	r, found := Parse([]byte(strings.Replace(goodPlan, `at = "10km"`, "at = \"10km\"\n  repeat = 3\n  required = true\n  keep = \"last\"\n"+
		"  [[course.split]]\n  id = \"home\"\n  line = \"finish\"\n  at = \"30.5km\"", 1)), nil, nil)
	if r == nil {
		t.Fatal(show(found))
	}
	lap := func(id string, at float64, n int) race.Split {
		return race.Split{ID: id, Line: 1, At: at, Required: true, Sport: "run", Keep: race.KeepLast, Lap: n}
	}
	want := []race.Split{{ID: "start", Sport: "run"}, lap("finish-1", 10_000, 1), lap("finish-2", 20_000, 2), lap("finish-3", 30_000, 3),
		{ID: "home", Line: 1, At: 30_500, Sport: "run"}}
	if d := cmp.Diff(want, r.Plan.Courses[0].Splits); d != "" || r.Plan.Courses[0].LapLength != 10_000 {
		t.Error(d)
	}
}

func TestLapsAreCountedFromTheSplitBeforeThem(t *testing.T) {
	text := strings.Replace(goodPlan, `at = "0m"`, `at = "1km"`, 1)
	r, found := Parse([]byte(strings.Replace(text, `at = "10km"`, "at = \"3.5km\"\n  repeat = 3", 1)), nil, nil)
	if r == nil {
		t.Fatal(show(found))
	}
	var at []float64
	for _, s := range r.Plan.Courses[0].Splits {
		at = append(at, s.At)
	}
	if d := cmp.Diff([]float64{1000, 3500, 6000, 8500}, at); d != "" || r.Plan.Courses[0].LapLength != 2500 {
		t.Error(d)
	}
}

func TestACourseOverridesOfficial(t *testing.T) {
	text := strings.Replace(goodPlan, "[[line]]", "[official]\nclock = \"net\"\nrounding = \"up-1s\"\nties = \"official\"\n[[line]]", 1)
	text = strings.Replace(text, "id = \"ten\"", "id = \"ten\"\nclock = \"gun\"\nrounding = \"down-0.1s\"", 1)
	r, found := Parse([]byte(text), nil, nil)
	if r == nil {
		t.Fatal(show(found))
	}
	want := race.Official{Rounding: race.Rounding{Name: "down-0.1s", Unit: 100}, TiesOfficial: true}
	if d := cmp.Diff(want, r.Plan.Courses[0].Official); d != "" {
		t.Error(d)
	}
}

// A plan may come from anyone. None may take long, take much, or bring the program down.
func TestHostilePlans(t *testing.T) {
	laps := goodPlan[:strings.Index(goodPlan, "[[wave]]")]
	for i := range 1000 {
		laps += "[[course]]\nid = \"c" + strings.Repeat("x", i%7) + "\"\n[[course.split]]\nid = \"l\"\nline = \"start\"\nat = \"1m\"\nrepeat = 10000\n"
	}
	const firstLog = "  [[line.log]]\n  system = \"main\"\n  path = \"logs/start.csv\"\n"
	if !strings.Contains(goodPlan, firstLog) {
		t.Fatal("the plan begins another way")
	}
	for name, text := range map[string]string{
		"brackets":         "a = " + strings.Repeat("[", 200_000),
		"braces":           "a = " + strings.Repeat("{a=", 100_000),
		"a key of parts":   strings.Repeat("a.", 100_000) + "a = 1",
		"a table of parts": "[" + strings.Repeat("a.", 100_000) + "a]",
		"an open text":     "a = \"\"\"" + strings.Repeat("x\n", 100_000),
		"faulty lines":     strings.Repeat("= 1\n", 15_000),
		"keys twice":       strings.Repeat("a = 1\n", 15_000),
		"too many keys":    manyKeys(30_000),
		"unknown keys":     manyKeys(10_000),
		"many lines":       manyLines(10_000),
		"many patterns":    strings.Replace(goodPlan, firstLog, firstLog+strings.Repeat("  [[line.log]]\n  system = \"main\"\n  path = \"logs/*a*b*.csv\"\n", 10_000), 1),
		"one long pattern": strings.Replace(goodPlan, "logs/start.csv", "logs/"+strings.Repeat("*a", 200_000), 1),
		"laps of laps":     laps,
		"zero bytes":       strings.Repeat("\x00", 1<<20),
		"too long":         strings.Repeat("#\n", 1<<20),
		"high bytes":       strings.Repeat("\xff\n", 1<<19),
	} {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			begun := time.Now()
			r, found := Parse([]byte(text), nil, nil)
			runtime.ReadMemStats(&after)
			t.Logf("%v, %d MB, %d problems", time.Since(begun).Round(time.Millisecond), (after.TotalAlloc-before.TotalAlloc)>>20, len(found))
			if r != nil || Sound(found) {
				t.Error("it passed for a plan")
			}
			if len(found) > 2*maxProblems+1 {
				t.Errorf("%d problems", len(found))
			}
		})
	}
}

func manyKeys(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString("key" + strings.Repeat("i", i%5) + string(rune('a'+i%26)) + string(rune('a'+i/26%26)) + string(rune('a'+i/676%26)) + string(rune('a'+i/17576%26)) + " = 1\n")
	}
	return b.String()
}

func manyLines(n int) string {
	return goodPlan + strings.Repeat("[[line]]\nid = \"start\"\n", n)
}

func TestHostileLists(t *testing.T) {
	for name, text := range map[string]string{
		"one long line":    "bib,wave\n" + strings.Repeat("x", 1<<20),
		"one open quote":   "bib,wave\n\"" + strings.Repeat("1,A\n", 1<<18),
		"all open quotes":  "bib,wave\n" + strings.Repeat("\"1,A\n", 1<<16),
		"quotes":           "bib,wave\n" + strings.Repeat("\"", 1<<20),
		"commas":           "bib,wave\n" + strings.Repeat(",", 1<<20) + "x",
		"one bib":          "bib,wave\n" + strings.Repeat("1,A\n", 1<<16),
		"a header of many": strings.Repeat("bib,", 1<<16) + "wave\n1,A\n",
		"zero bytes":       strings.Repeat("\x00", 1<<20),
	} {
		t.Run(name, func(t *testing.T) {
			begun := time.Now()
			r, found := Parse([]byte(goodPlan), []byte(text), []byte("tag,bib\n"))
			t.Logf("%v, %d problems", time.Since(begun).Round(time.Millisecond), len(found))
			if r != nil {
				t.Error("it passed for a list")
			}
		})
	}
	_, found := Parse([]byte(goodPlan), []byte(goodAthletes), bytes.Repeat([]byte("A1,1,10:00:00,10:00:01\n"), 1<<16))
	if Sound(found) {
		t.Error("one chip in 65536 rows passed")
	}
}

func FuzzParse(f *testing.F) {
	every, err := os.ReadFile("testdata/every-key.toml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(every, []byte(goodAthletes), []byte(goodChips))
	f.Add([]byte(goodPlan), []byte(goodAthletes), []byte(goodChips))
	f.Add([]byte("[a\nb = 5s\n[[a]]\nc = \"\"\"\n"), []byte("sep=;\nbib;wave\n\"1\";A\n"), []byte("\xff\xfet\x00a\x00g\x00,\x00b\x00i\x00b\x00"))
	f.Fuzz(func(t *testing.T, toml, athletes, chips []byte) {
		r, found := Parse(toml, athletes, chips)
		if (r != nil) != Sound(found) {
			t.Fatalf("race %v with:\n%s", r, show(found))
		}
		for i, p := range found {
			if p.File == "" || p.What == "" || p.Line < 0 || p.Line > 0 && p.Column < 1 {
				t.Fatalf("a problem without a place: %+v", p)
			}
			if i > 0 && order(p.File) < order(found[i-1].File) {
				t.Fatal("problems out of order")
			}
		}
		if r != nil {
			checkPromises(t, r)
		}
	})
}

// checkPromises holds a race to what the rest of the program takes for granted.
func checkPromises(t *testing.T, r *Race) {
	t.Helper()
	p := r.Plan
	for i, l := range p.Logs {
		if l.Line >= len(p.Lines) || !filepath.IsLocal(l.Path) || l.Zone == nil {
			t.Fatalf("log %d: %+v", i, l)
		}
	}
	for _, l := range p.Lines {
		if l.Window <= 0 || l.Tolerance <= 0 || l.Keep == race.KeepUnset || checkID(l.ID) != nil {
			t.Fatalf("line %+v", l)
		}
	}
	for _, c := range p.Courses {
		if len(c.Splits) == 0 {
			t.Fatalf("course %s has no split", c.ID)
		}
		for i, s := range c.Splits {
			if s.Line >= len(p.Lines) || i > 0 && s.At <= c.Splits[i-1].At || s.At < 0 || s.Sport == "" {
				t.Fatalf("split %+v", s)
			}
		}
	}
	for _, w := range p.Waves {
		if w.Course >= len(p.Courses) {
			t.Fatalf("wave %+v", w)
		}
	}
	bibs := map[string]bool{}
	for _, a := range r.Athletes {
		if bibs[a.Bib] || a.Bib == "" || a.Wave >= len(p.Waves) {
			t.Fatalf("athlete %+v", a)
		}
		bibs[a.Bib] = true
	}
	for _, c := range r.Chips {
		if c.Tag == "" || c.Tag != race.CanonicalTag(c.Tag) || c.Bib == "" {
			t.Fatalf("chip %+v", c)
		}
	}
}
