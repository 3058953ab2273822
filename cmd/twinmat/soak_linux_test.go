package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"twinmat/cmd/internal/invent"
)

// resident is what a process holds in memory, in MB.
func resident(t *testing.T, pid int) int {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(b), "\n") {
		if s, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			kb, _ := strconv.Atoi(strings.Fields(s)[0])
			return kb >> 10
		}
	}
	t.Fatal("no VmRSS")
	return 0
}

// answer presses a key and tells how long one of the texts took to come back to the terminal.
func (x *onTerminal) answer(key string, texts ...string) time.Duration {
	x.t.Helper()
	from := x.mark()
	start := time.Now()
	x.press(key)
	for time.Since(start) < 60*time.Second {
		told := ansi.Strip(string(x.since(from)))
		if slices.ContainsFunc(texts, func(s string) bool { return strings.Contains(told, s) }) {
			return time.Since(start)
		}
		time.Sleep(time.Millisecond)
	}
	x.t.Fatalf("%q never answered with one of %q", key, texts)
	return 0
}

// A whole race is replayed into a folder on which the console is open: its memory, how long
// a key takes, and at the end its export against the folder read once. It takes minutes:
// TWINMAT_SOAK is how many athletes (18750 give 3.6 million reads), TWINMAT_SOAK_SPEED how
// much faster than the day.
func TestSoak(t *testing.T) {
	athletes, speed := 0, "60"
	fmt.Sscan(os.Getenv("TWINMAT_SOAK"), &athletes)
	fmt.Sscan(os.Getenv("TWINMAT_SOAK_SPEED"), &speed)
	if athletes == 0 {
		t.Skip("only when TWINMAT_SOAK says how many athletes")
	}
	dir := t.TempDir()
	m, err := invent.Make(invent.Options{Kind: "big", Seed: 1, Athletes: athletes})
	if err != nil {
		t.Fatal(err)
	}
	from, into := filepath.Join(dir, "race"), filepath.Join(dir, "into")
	if err := m.Write(from); err != nil {
		t.Fatal(err)
	}
	feed := asItself("replay", from, "--into", into, "--speed", speed)
	var said bytes.Buffer
	feed.Stdout, feed.Stderr = &said, &said
	start := time.Now()
	if err := feed.Start(); err != nil {
		t.Fatal(err)
	}
	fed := make(chan error, 1)
	go func() { fed <- feed.Wait() }()
	for end := time.Now().Add(60 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(into, "race.toml")); err == nil {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("replay never began: %s", said.String())
		}
	}
	x := startOnTerminal(t, 120, 40, "watch", into, "--quiet")
	x.until("settle")
	var keys []time.Duration
	var memory []int
	for done := false; !done; {
		select {
		case err := <-fed:
			if err != nil {
				t.Fatalf("%v %s", err, said.String())
			}
			done = true
		case <-time.After(5 * time.Second):
		}
		keys = append(keys, x.answer("8", "held for", "nothing is held"), x.answer("1", "settle"))
		memory = append(memory, resident(t, x.cmd.Process.Pid))
	}
	took := time.Since(start)
	once := exported(t, into, filepath.Join(dir, "once"))
	got := ""
	for end := time.Now().Add(120 * time.Second); got != once && time.Now().Before(end); time.Sleep(2 * time.Second) {
		x.press("E")
		if _, err := os.Stat(filepath.Join(into, "out", "manifest.json")); err == nil {
			got = tables(t, filepath.Join(into, "out"))
		}
	}
	if got != once {
		t.Errorf("the console's export: %s", firstDifference(once, got))
	}
	slices.Sort(keys)
	lines := 0
	logs, _ := filepath.Glob(filepath.Join(into, "logs", "*.csv"))
	for _, p := range logs {
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		lines += bytes.Count(b, []byte("\n"))
	}
	t.Logf("%d athletes, %d lines in %v, %.0f a second; memory MB by tenths of the time: %v; %d keys: median %v, 99 %% %v, longest %v",
		athletes, lines, took.Round(time.Second), float64(lines)/took.Seconds(), tenths(memory), len(keys), keys[len(keys)/2], keys[len(keys)*99/100], keys[len(keys)-1])
}

func tenths(v []int) []int {
	var out []int
	for k := 1; k <= 10; k++ {
		out = append(out, v[max(0, len(v)*k/10-1)])
	}
	return out
}
