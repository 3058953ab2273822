package logs

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"twinmat/reconcile/race"
)

func write(t testing.TB, dir, path, text string) {
	t.Helper()
	name := filepath.Join(dir, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

const oneLine = "tag,time,antenna,rssi\nA1,2026-05-17 10:00:00,1,-50\n"

func TestWhichFilesAreALog(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race [1] *")
	write(t, dir, "logs/main-2.csv", oneLine)
	write(t, dir, "logs/main-10.csv", strings.Replace(oneLine, "A1", "A2", 1))
	write(t, dir, "logs/other.csv", oneLine)
	write(t, dir, "logs/main-folder.csv/x.csv", oneLine)
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "logs/main-*.csv"}, race.Log{Path: "logs/other.csv"}, race.Log{Path: "logs/none.csv"}, race.Log{Path: "logs/none-*.csv"})
	r, err := newScratch().readFiles(dir, p, 0)
	if err != nil || len(r.Files) != 2 || r.Files[0].Path != "logs/main-10.csv" || r.Files[1].Path != "logs/main-2.csv" || r.Kept != 2 {
		t.Errorf("the glob: %+v, %v", r, err)
	}
	for _, none := range []int{2, 3} {
		if r, err := newScratch().readFiles(dir, p, none); err != nil || len(r.Files) != 0 || r.Lines != 0 || r.Source != none {
			t.Errorf("no file: %+v, %v", r, err)
		}
	}
	all, err := ReadAll(dir, p)
	if err != nil || len(all) != 4 {
		t.Fatal(err)
	}
	for i, r := range all {
		one, _ := newScratch().readFiles(dir, p, i)
		if told(one) != told(r) || r.Source != i {
			t.Errorf("log %d, read among all: %s", i, firstDifference(told(one), told(r)))
		}
	}
}

// endless is n bytes without a newline.
type endless struct{ n int }

func (e *endless) Read(p []byte) (int, error) {
	if e.n == 0 {
		return 0, io.EOF
	}
	n := min(e.n, len(p))
	for i := range p[:n] {
		p[i] = 'x'
	}
	e.n -= n
	return n, nil
}

// A line of any length is one bad line, and takes little memory.
func TestALineWithoutEndIsOneBadLine(t *testing.T) {
	var before, after runtime.MemStats
	for _, size := range []int{maxLine, maxLine + 1, 10 << 20, 256 << 20} {
		runtime.GC()
		runtime.ReadMemStats(&before)
		found, err := Inspect("a.csv", io.MultiReader(strings.NewReader(oneLine), &endless{size}, strings.NewReader("\n"+oneLine)), nil)
		runtime.ReadMemStats(&after)
		if err != nil || found.Lines != 3 || found.Bad != 1 || found.Reads != 1 || found.Repeated != 1 {
			t.Errorf("%d bytes: %+v, %v", size, found, err)
		}
		if used := after.TotalAlloc - before.TotalAlloc; used > 2<<20 {
			t.Errorf("%d bytes: %d bytes of memory", size, used)
		}
	}
}

// The longest line that is none too long is read, one byte more and it isn't, however the
// bytes come.
func TestTheLimitOfALineIsExact(t *testing.T) {
	for _, long := range []int{0, 1} {
		line := "A1,2026-05-17 10:00:00,1,-50,"
		line += strings.Repeat("x", maxLine-len(line)+long)
		text := "tag,time,antenna,rssi,more\n" + line + "\n" + line
		for _, piece := range []int{1, 1000, maxLine, 1 << 20} {
			l := newLog(race.Main)
			feed(l, l.File("a.csv"), []byte(text), piece)
			l.Finish()
			r := l.Reads()
			check(t, r)
			if r.BadLines != 2*long || r.Kept != 1-long {
				t.Errorf("%d past, in pieces of %d: %d bad, %d kept", long, piece, r.BadLines, r.Kept)
			}
		}
	}
}

// Rubbish without end is counted; its first lines are kept.
func TestManyBadLinesAreCountedAndSomeKept(t *testing.T) {
	l := newLog(race.Main)
	for _, path := range []string{"b.csv", "a.csv"} {
		feedText(l, path, "tag,time\n"+strings.Repeat("\x01\x02rubbish\x00\n", 5000)+"A1,2026-05-17 10:00:00\n")
	}
	r := l.Reads()
	check(t, r)
	if r.BadLines != 10_000 || len(r.Bad) != maxBad || r.Kept != 1 || r.Repeated != 1 {
		t.Errorf("%d bad, %d of them kept, %d reads", r.BadLines, len(r.Bad), r.Kept)
	}
	if first := r.Bad[0]; r.Files[first.File].Path != "a.csv" || first.Line != 2 {
		t.Errorf("the first is %+v of %s", first, r.Files[first.File].Path)
	}
}

// A log has at most 255 files. The lines of more are counted, never lost in silence.
func TestTooManyFilesAreSaidToBe(t *testing.T) {
	l := newLog(race.Main)
	for i := range 300 {
		feedText(l, fmt.Sprintf("%03d.csv", i), fmt.Sprintf("tag,time\nA%d,2026-05-17 10:00:00\n", i))
	}
	l.Finish()
	r := l.Reads()
	check(t, r)
	if len(r.Files) != maxFiles+1 || r.Kept != 255 || r.BadLines != 90 || !strings.Contains(r.Bad[0].Why, "past the 255") {
		t.Errorf("%d files, %d reads, %d bad: %v", len(r.Files), r.Kept, r.BadLines, r.Bad[:min(1, len(r.Bad))])
	}
}

func TestInspectTellsWhatALogIs(t *testing.T) {
	p := planFor("Europe/Lisbon", 2026, 5, 17)
	found, err := Inspect("logs/b.csv", iotest.OneByteReader(bytes.NewReader(utf16Bytes("2;10:41:07,32;300833B2DDD9014000000214;-54\r\n2;10:41:08,32;300833B2DDD9014000000215;-54\r\n", false, true))), p)
	if err != nil {
		t.Fatal(err)
	}
	if found.Encoding != "UTF-16 LE" || found.Delimiter != ";" || found.Header || found.TimeForm != "clock" || !found.DecimalComma ||
		found.Columns["tag"] != 3 || found.Columns["time"] != 2 || found.Columns["antenna"] != 1 || found.Columns["rssi"] != 4 ||
		found.Reads != 2 || found.Tags != 2 || found.Last.Sub(found.First) != 1000 || found.First.Format(p.Zone) != "2026-05-17T10:41:07.320+01:00" {
		t.Errorf("%+v", found)
	}
	want := "  [[line.log]]\n  system = \"main\"\n  path   = \"logs/b.csv\"\n" +
		"  columns = { tag = 3, time = 2, antenna = 1, rssi = 4 }\n  delimiter = \";\"\n  time_format = \"clock\"\n"
	if got := found.Paste("logs/b.csv"); got != want {
		t.Errorf("to paste:\n%s", got)
	}
	if got := (Found{Columns: map[string]int{"bib": 1}, Header: true}).Paste("a\"\x1b.csv"); !strings.Contains(got, `system = "hand"`) || !strings.Contains(got, `"a\"\u001B.csv"`) {
		t.Errorf("to paste: %s", got)
	}
	broken, err := Inspect("x", iotest.ErrReader(io.ErrUnexpectedEOF), nil)
	if err == nil || broken.Lines != 0 {
		t.Errorf("a reader that fails: %+v, %v", broken, err)
	}
	nothing, err := Inspect("x", strings.NewReader("nothing\nhere\n"), nil)
	if err != nil || nothing.Reads != 0 || nothing.Bad != 2 || nothing.Delimiter != "" || len(nothing.Why) == 0 || nothing.First.Known() {
		t.Errorf("a text: %+v, %v", nothing, err)
	}
}

// What inspect finds of every log with known truth is what its race reads from it.
func TestInspectAgreesOnTheRacesWithKnownTruth(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedRaces(t), "*", "race", "logs", "*"))
	if err != nil || len(files) < 20 {
		t.Fatalf("%d logs, %v", len(files), err)
	}
	var forms []string
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		found, err := Inspect(name, f, nil)
		f.Close()
		if err != nil || found.Reads < 500 || found.Bad > 7 || found.Delimiter == "" || found.TimeForm == "" || found.Columns["tag"] == 0 || found.Columns["rssi"] == 0 || found.Columns["antenna"] == 0 {
			t.Errorf("%s: %+v, %v", name, found, err)
		}
		if !slices.Contains(forms, found.TimeForm) {
			forms = append(forms, found.TimeForm)
		}
	}
	if slices.Sort(forms); !slices.Equal(forms, []string{"clock", "datetime", "rfc3339", "unix-s", "unix-us"}) {
		t.Errorf("forms of time: %v", forms)
	}
}
