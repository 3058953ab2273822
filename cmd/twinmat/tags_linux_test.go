package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const strangersPlan = `format = 1
name = "Strangers"
date = 2026-05-17
timezone = "Europe/Lisbon"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "logs/main.csv"
  [[line.log]]
  system = "backup"
  path = "logs/backup.csv"
[[course]]
id = "c"
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "10km"
[[wave]]
id = "A"
course = "c"
gun = 09:00:00
`

// strangers are the lines of a log that reads so many tags of nobody.
func strangers(from, to int, late time.Duration) []byte {
	var b bytes.Buffer
	at := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC).Add(late)
	for i := from; i < to; i++ {
		fmt.Fprintf(&b, "E28011A%017d,%s\n", i*7919%100000007, at.Add(time.Duration(i)*10*time.Millisecond).Format("2006-01-02T15:04:05.000Z"))
	}
	return b.Bytes()
}

// A flood of tags that nobody owns in both logs, read once and under the console, where
// more of them come: what memory it takes, how long a key takes, and that every read is
// counted. TWINMAT_TAGS says how many; a million may take 500 MB.
func TestAFloodOfUnknownTags(t *testing.T) {
	tags, most := 50_000, 250
	if fmt.Sscan(os.Getenv("TWINMAT_TAGS"), &tags); tags > 50_000 {
		most = 500
	} else if testing.Short() {
		t.Skip("not in a short run")
	}
	dir := t.TempDir()
	write := func(name string, b []byte) {
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		f, err := os.OpenFile(name, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if _, err := f.Write(b); err != nil {
			t.Fatal(err)
		}
	}
	write("race.toml", []byte(strangersPlan))
	write("athletes.csv", []byte("bib,wave\n1,A\n"))
	write("chips.csv", []byte("tag,bib\nAA,1\n"))
	logs := []string{"logs/main.csv", "logs/backup.csv"}
	lines := tags * 99 / 100 // the rest comes while the console runs
	for k, name := range logs {
		write(name, []byte("tag,time\n"))
		write(name, strangers(0, lines, time.Duration(k)*137*time.Millisecond))
	}
	out := filepath.Join(dir, "once")
	c := asItself("export", dir, "--out", out)
	start := time.Now()
	said, peak := withPeak(t, c)
	took, once := time.Since(start), int(peak>>20)
	if want := fmt.Sprintf("%d more tags", lines-10_000); lines > 10_000 && !strings.Contains(string(said), want) {
		t.Errorf("the export doesn't tell of %s: %s", want, said)
	}
	x := startOnTerminal(t, 120, 40, "watch", dir, "--quiet")
	x.until("settle")
	followed, longest := 0, time.Duration(0)
	for ; lines < tags; lines = min(tags, lines+max(1, tags/1000)) {
		for k, name := range logs {
			write(name, strangers(lines, min(tags, lines+max(1, tags/1000)), time.Duration(k)*137*time.Millisecond))
		}
		longest = max(longest, x.answer("8", "held for", "nothing is held"), x.answer("1", "settle"))
		followed = max(followed, resident(t, x.cmd.Process.Pid))
		time.Sleep(500 * time.Millisecond)
	}
	got, want := "", exported(t, dir, out)
	for end := time.Now().Add(120 * time.Second); got != want && time.Now().Before(end); time.Sleep(time.Second) {
		x.press("E")
		if _, err := os.Stat(filepath.Join(dir, "out", "manifest.json")); err == nil {
			got = tables(t, filepath.Join(dir, "out"))
		}
		followed = max(followed, resident(t, x.cmd.Process.Pid))
	}
	if got != want {
		t.Errorf("the console's export: %s", firstDifference(want, got))
	}
	t.Logf("%d tags in each of two logs: exported in %v, %d MB at the most; under the console %d MB at the most, the longest key %v", tags, took.Round(10*time.Millisecond), once, followed, longest)
	if once > most || followed > most {
		t.Errorf("%d MB once and %d MB under the console, want %d at the most", once, followed, most)
	}
}
