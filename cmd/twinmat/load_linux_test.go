package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"
)

const loadPlan = `format = 1
name = "Load"
date = "2026-05-17"
timezone = "UTC"
[[line]]
id = "start"
[[line.log]]
system = "main"
path = "logs/start-main.csv"
[[line]]
id = "finish"
[[line.log]]
system = "main"
path = "logs/finish-main.csv"
[[line.log]]
system = "backup"
path = "logs/finish-backup.csv"
[[course]]
id = "ten"
sport = "run"
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
gun = "09:00:00"
`

// A key while a thousand reads a second come in: TWINMAT_LOAD is how many athletes are in the
// race (50000), TWINMAT_LOAD_SECONDS how long it goes on. All have started; they finish in
// order, two reads at each of two systems. The answer to a key is the time from the key to
// what it asked for standing on the terminal; what the turns of the console's loop took comes
// from inside (TWINMAT_METER). Nothing is asserted of time.
func TestLoad(t *testing.T) {
	athletes, seconds := 0, 60
	fmt.Sscan(os.Getenv("TWINMAT_LOAD"), &athletes)
	fmt.Sscan(os.Getenv("TWINMAT_LOAD_SECONDS"), &seconds)
	if athletes == 0 {
		t.Skip("only when TWINMAT_LOAD says how many athletes")
	}
	dir, meter := loadRace(t, athletes), filepath.Join(t.TempDir(), "meter")
	t.Setenv("TWINMAT_METER", meter)
	x := startOnTerminal(t, 120, 40, "watch", dir, "--quiet")
	x.until(fmt.Sprintf("%d still out", athletes)) // the first computation is over
	ctx, stop := context.WithTimeout(t.Context(), time.Duration(seconds)*time.Second)
	defer stop()
	fed := make(chan int, 1)
	go func() { fed <- finishers(t, ctx, dir, athletes) }()
	screens := []struct{ key, shows string }{{"2", "latest passings"}, {"3", "athletes by"}, {"5", "the sum is right"}, {"8", "clean"}, {"3", "athletes by"}, {"1", "settle"}}
	var keys []time.Duration
	var slowest struct {
		took time.Duration
		key  string
		n    int
	}
	for i := 0; ctx.Err() == nil; i++ {
		s := screens[i%len(screens)]
		took := x.answer(s.key, s.shows)
		if took > slowest.took {
			slowest.took, slowest.key, slowest.n = took, s.key, i
		}
		keys = append(keys, took)
		time.Sleep(100 * time.Millisecond)
	}
	reads, memory := <-fed, resident(t, x.cmd.Process.Pid)
	slices.Sort(keys)
	within := 0
	for within < len(keys) && keys[within] <= 16*time.Millisecond {
		within++
	}
	t.Logf("%d athletes, %d reads in %d s (%d a second) on %d processors; %d keys: p50 %v, p90 %v, p99 %v, longest %v (key %d, %s); %d %% within 16 ms; memory %d MB",
		athletes, reads, seconds, reads/seconds, runtime.NumCPU(), len(keys), keys[len(keys)/2], keys[len(keys)*9/10], keys[len(keys)*99/100], slowest.took, slowest.n, slowest.key,
		100*within/len(keys), memory)
	if told := regexp.MustCompile(`(\d+) still out +\d+ unseen`).FindAllStringSubmatch(ansi.Strip(string(x.written())), -1); told[len(told)-1][1] == fmt.Sprint(athletes) {
		t.Error("nobody came in on the screen: what was measured is a screen that stood still")
	}
	x.press("q")
	<-x.ended
	told, err := os.ReadFile(meter)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("turns of the console's loop, and keys as seen from inside:\n%s", told)
}

// loadRace is a race in which everybody has started.
func loadRace(t *testing.T, athletes int) string {
	t.Helper()
	dir := t.TempDir()
	var list, chips, start bytes.Buffer
	list.WriteString("bib,name,sex,wave\n")
	chips.WriteString("tag,bib\n")
	start.WriteString("tag,time\n")
	gun := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
	for i := 1; i <= athletes; i++ {
		fmt.Fprintf(&list, "%d,Ena %d,%s,A\n", i, i, []string{"f", "m"}[i%2])
		fmt.Fprintf(&chips, "AB%06d,%d\n", i, i)
		fmt.Fprintf(&start, "AB%06d,%s\n", i, gun.Add(time.Duration(i)*10*time.Millisecond).Format(time.RFC3339Nano))
	}
	put := func(name string, b []byte) {
		p := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("race.toml", []byte(loadPlan))
	put("athletes.csv", list.Bytes())
	put("chips.csv", chips.Bytes())
	put("logs/start-main.csv", start.Bytes())
	put("logs/finish-main.csv", []byte("tag,time\n"))
	put("logs/finish-backup.csv", []byte("tag,time\n"))
	return dir
}

// finishers writes a hundred reads ten times a second until ctx ends: 25 athletes a turn.
func finishers(t *testing.T, ctx context.Context, dir string, athletes int) int {
	var logs [2]*os.File
	for i, name := range []string{"finish-main.csv", "finish-backup.csv"} {
		f, err := os.OpenFile(filepath.Join(dir, "logs", name), os.O_APPEND|os.O_WRONLY, 0o644)
		if err != nil {
			t.Error(err)
			return 0
		}
		defer f.Close()
		logs[i] = f
	}
	first := time.Date(2026, 5, 17, 9, 32, 0, 0, time.UTC)
	every := time.NewTicker(100 * time.Millisecond)
	defer every.Stop()
	reads := 0
	for next := 1; ; {
		select {
		case <-ctx.Done():
			return reads
		case <-every.C:
		}
		for s := range logs {
			var b bytes.Buffer
			for i := next; i < next+25 && i <= athletes; i++ {
				at := first.Add(time.Duration(i)*40*time.Millisecond + time.Duration(s)*1500*time.Millisecond)
				for k := range 2 {
					fmt.Fprintf(&b, "AB%06d,%s\n", i, at.Add(time.Duration(k)*300*time.Millisecond).Format(time.RFC3339Nano))
					reads++
				}
			}
			if _, err := logs[s].Write(b.Bytes()); err != nil {
				t.Error(err)
				return reads
			}
		}
		next += 25
	}
}
