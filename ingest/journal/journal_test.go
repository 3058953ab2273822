package journal

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// filled is a race folder with n rulings, closed again.
func filled(t testing.TB, n int) (string, []race.Ruling) {
	t.Helper()
	dir := t.TempDir()
	j := mustOpen(t, dir)
	for i := range n {
		mustAppend(t, j, i+1)
	}
	rs := j.Rulings()
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return dir, rs
}

func mustOpen(t testing.TB, dir string) *Journal {
	t.Helper()
	j, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	return j
}

func mustAppend(t testing.TB, j *Journal, n int) race.Ruling {
	t.Helper()
	r := made(n)
	if err := j.Append(&r); err != nil {
		t.Fatal(err)
	}
	return r
}

func write(t testing.TB, dir, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, File), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func content(t testing.TB, dir string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, File))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestWhatIsAppendedIsReadBack(t *testing.T) {
	dir, want := filled(t, 20)
	got, report, err := Read(dir)
	if err != nil || report.String() != "" || !reflect.DeepEqual(got, want) {
		t.Fatalf("%v %v %v", got, report, err)
	}
	if !reflect.DeepEqual(mustOpen(t, dir).Rulings(), want) {
		t.Fatal("another set after opening again")
	}
	for _, name := range []string{File, lockFile} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Fatalf("%s: mode %v, %v", name, info.Mode(), err)
		}
	}
}

func TestARaceWithoutRulingsHasNoFileUntilTheFirst(t *testing.T) {
	dir := t.TempDir()
	rs, report, err := Read(dir)
	if len(rs) != 0 || report.String() != "" || err != nil {
		t.Fatal(rs, report, err)
	}
	j := mustOpen(t, dir)
	if _, err := os.Stat(filepath.Join(dir, File)); !errors.Is(err, os.ErrNotExist) {
		t.Fatal("made before anything was ruled")
	}
	if r := mustAppend(t, j, 1); r.Seq != 1 {
		t.Fatalf("the first ruling is %d", r.Seq)
	}
}

// The line of the outer surface, as a person would write it.
func TestHandWrittenLines(t *testing.T) {
	const one = `{"seq":1,"at":"2026-05-17T10:00:00Z","by":"me","rule":"assign-chip","tag":"3A 08","bib":"214","why":"spare"}`
	const two = `{"seq":2,"at":"2026-05-17T10:00:01Z","by":"me","rule":"undo","undoes":1,"why":"no"}`
	for name, text := range map[string]string{
		"as written":           one + "\n" + two + "\n",
		"without last newline": one + "\n" + two,
		"CRLF":                 one + "\r\n" + two + "\r\n",
		"byte order mark":      "\ufeff" + one + "\n" + two + "\n",
		"blank lines":          "\n" + one + "\n\n  \n" + two + "\n\n",
		"spaces inside":        strings.ReplaceAll(one, `":`, `" : `) + "  \n" + two + "\n",
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			write(t, dir, text)
			rs, report, err := Read(dir)
			if err != nil || report.String() != "" || len(rs) != 2 || rs[0].Tag != "3A 08" || rs[1].UndoneSeq != 1 {
				t.Fatalf("%+v, %s, %v", rs, report, err)
			}
			if r := mustAppend(t, mustOpen(t, dir), 1); r.Seq != 3 {
				t.Fatalf("the next is %d", r.Seq)
			}
			if rs, report, _ := Read(dir); len(rs) != 3 || report.String() != "" {
				t.Fatalf("then %d rulings, %s", len(rs), report)
			}
		})
	}
}

// Whatever is odd is told with its line, and nothing is written over it.
func TestOddRecordsMakeTheRaceReadOnly(t *testing.T) {
	const good = `{"seq":%d,"at":"","by":"me","rule":"set-status","bib":"3","status":"dnf","why":"x"}` + "\n"
	line := func(n int) string { return fmt.Sprintf(good, n) }
	for name, c := range map[string]struct {
		text  string
		line  int
		rules int
		says  string
	}{
		"a kind of a later version at the end": {line(1) + strings.Replace(line(2), "set-status", "neutralise", 1), 2, 2, "neutralise"},
		"a field of a later version":           {line(1) + strings.Replace(line(2), `"by"`, `"colour":"red","by"`, 1), 2, 2, "colour"},
		"rubbish with good ones behind":        {line(1) + "rubbish\n" + line(2), 2, 2, "not a ruling"},
		"two records on one line":              {line(1) + strings.TrimSuffix(line(2), "\n") + line(3) + line(4), 2, 2, "behind it"},
		"a number twice":                       {line(1) + line(1), 2, 1, "comes after"},
		"a changed word at the end":            {sealed(t, 1) + strings.Replace(sealed(t, 2), "dnf", "dns", 1), 2, 1, "checksum"},
		"a changed word, then a torn tail":     {sealed(t, 1) + strings.Replace(sealed(t, 2), "dnf", "dns", 1) + sealed(t, 3)[:30], 2, 1, "checksum"},
		"a changed word, then zeros":           {sealed(t, 1) + strings.Replace(sealed(t, 2), "dnf", "dns", 1) + strings.Repeat("\x00", 400) + "\n", 2, 1, "checksum"},
		"rubbish at the end":                   {line(1) + "rubbish\n", 2, 1, "not a ruling"},
		"no number":                            {line(1) + strings.Replace(line(2), `"seq":2,`, "", 1) + line(3), 2, 2, "seq"},
		"a changed reason":                     {strings.Replace(sealed(t, 1), `"x"`, `"y"`, 1) + sealed(t, 2), 1, 1, "checksum"},
		"a checksum that isn't last":           {`{"sum":"00000000",` + line(1)[1:] + line(2), 1, 1, "checksum"},
		"not UTF-8":                            {strings.Replace(line(1), `"x"`, "\"\xff\"", 1) + line(2), 1, 1, "UTF-8"},
		"a line without end":                   {line(1) + `{"why":"` + strings.Repeat("x", maxRecord) + "\"}\n" + line(2), 2, 2, "bytes"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			write(t, dir, c.text)
			var d *Damaged
			if _, err := Open(dir); !errors.As(err, &d) || d.Line != c.line || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), fmt.Sprintf("%s:%d: ", File, c.line)) {
				t.Fatalf("opened for writing: %v", err)
			}
			rs, report, err := Read(dir)
			if err != nil || len(rs) != c.rules || !report.Damaged() || report.Damage[0].Line != c.line || !strings.Contains(report.String(), c.says) || !strings.Contains(report.String(), "until that line is mended or taken out by hand") {
				t.Fatalf("%d rulings, %s, %v", len(rs), report, err)
			}
			if content(t, dir) != c.text {
				t.Fatal("the file was touched")
			}
			if _, err := Open(dir); errors.Is(err, ErrLocked) {
				t.Fatal("the lock was kept")
			}
		})
	}
}

// sealed is a record with its checksum.
func sealed(t testing.TB, seq int) string {
	t.Helper()
	b, _, err := encode(&race.Ruling{Seq: seq, Rule: race.SetStatus, Bib: "3", Status: "dnf", Why: "x"})
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestMissingNumbersAreToldAndNeverUsedAgain(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, sealed(t, 2)+sealed(t, 7))
	j := mustOpen(t, dir)
	if got := j.Report().String(); got != File+" lacks the rulings numbered 1, 3 to 6" {
		t.Fatalf("told %q", got)
	}
	if r := mustAppend(t, j, 1); r.Seq != 8 {
		t.Fatalf("the next is %d", r.Seq)
	}
}

func TestOnlyOneWrites(t *testing.T) {
	dir := t.TempDir()
	j, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(dir)
	if !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), fmt.Sprintf("process %d", os.Getpid())) {
		t.Fatalf("a second writer got %v", err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, lockFile)); err != nil {
		t.Fatal("the lock file was deleted: a third might lock another one")
	}
	mustOpen(t, dir)
}

func TestADeletedLockLetsNobodyIn(t *testing.T) {
	dir := t.TempDir()
	lock := filepath.Join(dir, lockFile)
	first := mustOpen(t, dir)
	mustAppend(t, first, 1)
	if err := os.Remove(lock); err != nil {
		t.Skip("an open file can't be deleted here: ", err)
	}
	mustAppend(t, first, 2) // locks anew
	if _, err := Open(dir); !errors.Is(err, ErrLocked) {
		t.Fatalf("a second writer got %v", err)
	}
	if err := os.Remove(lock); err != nil {
		t.Fatal(err)
	}
	second := mustOpen(t, dir)
	r := made(3)
	if err := first.Append(&r); !errors.Is(err, ErrLocked) || !errors.As(err, new(*NotSaved)) {
		t.Fatalf("the first one, without its lock, got %v", err)
	}
	mustAppend(t, second, 3)
	if rs, report, err := Read(dir); len(rs) != 3 || report.String() != "" || err != nil {
		t.Fatal(rs, report, err)
	}
}

// Whoever changes the file behind the journal's back is never written over.
func TestWhatCanNotBeWrittenIsRefused(t *testing.T) {
	j := mustOpen(t, t.TempDir())
	for name, r := range map[string]race.Ruling{
		"no kind":        {Rule: "neutralise", Why: "x"},
		"an endless why": {Rule: race.Undo, UndoneSeq: 1, Why: strings.Repeat("x", maxRecord)},
	} {
		if err := j.Append(&r); !errors.As(err, new(*NotSaved)) || r.Seq != 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	r := race.Ruling{Rule: race.AddAthlete, Bib: "1", Name: "<b>\u2028 \x00 \" & \\ 名前 \xff", Why: "\n"}
	if err := j.Append(&r); err != nil || !reflect.DeepEqual(j.Rulings(), []race.Ruling{r}) {
		t.Fatalf("%v; memory holds %+v, told %+v", err, j.Rulings(), r)
	}
	rs, report, err := Read(filepath.Dir(j.path))
	if err != nil || report.String() != "" || !reflect.DeepEqual(rs, []race.Ruling{r}) {
		t.Fatalf("%+v, %s, %v; want %+v", rs, report, err, r)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if err := j.Append(&r); !errors.As(err, new(*NotSaved)) {
		t.Fatalf("a closed journal took a ruling: %v", err)
	}
}

func TestWhatIsNoFileIsSaid(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, File), 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "no ordinary file") {
		t.Fatalf("opened: %v", err)
	}
	if _, _, err := Read(dir); err == nil {
		t.Fatal("read")
	}
}

func FuzzScan(f *testing.F) {
	f.Add([]byte(sealed(f, 1) + sealed(f, 2)))
	f.Add([]byte(sealed(f, 1) + "rubbish\n" + sealed(f, 2)[:40]))
	f.Add([]byte(`{"seq":1,"rule":"accept","suspect":"clash:1:a","why":"ok"}` + "\r\n\n" + `{"seq":`))
	f.Add([]byte("\ufeff{}\n\x00\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		s := scan(b)
		if s.good < 0 || s.good > len(b) || s.report.Torn != len(b)-s.good {
			t.Fatalf("%d good bytes and %d torn of %d", s.good, s.report.Torn, len(b))
		}
		again := scan(b[:s.good])
		if again.report.Torn != 0 || !reflect.DeepEqual(again.rulings, s.rulings) || len(again.report.Damage) != len(s.report.Damage) {
			t.Fatalf("the good beginning by itself: %+v, the whole: %+v", again, s)
		}
		for i, r := range s.rulings {
			if i > 0 && r.Seq <= s.rulings[i-1].Seq || r.Seq < 1 {
				t.Fatalf("ruling %d after another", r.Seq)
			}
		}
		if s.report.Damaged() {
			return
		}
		for _, r := range s.rulings { // what was read can be written, and reads the same
			line, back, err := encode(&r)
			if err != nil {
				continue // too long with its checksum
			}
			if got, err := decode(bytes.TrimSuffix(line, []byte("\n"))); err != nil || !reflect.DeepEqual(got, back) || back.Seq != r.Seq || back.Why != r.Why {
				t.Fatalf("%+v reads back as %+v, %v", r, got, err)
			}
		}
	})
}
