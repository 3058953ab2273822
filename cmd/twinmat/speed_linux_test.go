package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest/logs"
	"twinmat/ingest/plan"
)

// How long an export takes and how much memory, beside reading the same files with
// encoding/csv and with the program's own parser, in one run and in turn: TWINMAT_SPEED lists
// how many athletes ("5000 50000"). Each figure is the best of three. Nothing is asserted.
func TestSpeed(t *testing.T) {
	sizes := strings.Fields(os.Getenv("TWINMAT_SPEED"))
	if len(sizes) == 0 {
		t.Skip("only when TWINMAT_SPEED says how many athletes")
	}
	t.Logf("%8s %9s %6s | %22s | %15s %15s | %s", "athletes", "reads", "MB", "export: s, processor s, MB", "own parser: s", "encoding/csv: s", "export is so many parsers; csv so many exports")
	for _, size := range sizes {
		n := 0
		if _, err := fmt.Sscan(size, &n); err != nil {
			t.Fatal(err)
		}
		r, err := invent.Make(invent.Options{Kind: "big", Seed: 1, Athletes: n})
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		if err := r.Write(dir); err != nil {
			t.Fatal(err)
		}
		var export, own, std cost
		reads, bytes := 0, int64(0)
		for range 3 {
			std = std.best(spend(func() { reads, bytes = readWithCSV(t, filepath.Join(dir, "logs")) }))
			own = own.best(spend(func() {
				p, problems := plan.Load(dir)
				if p == nil {
					t.Fatal(problems)
				}
				if _, err := logs.ReadAll(dir, p.Plan); err != nil {
					t.Fatal(err)
				}
			}))
			export = export.best(exportOf(t, dir))
		}
		t.Logf("%8d %9d %6d | %6.2f %6.2f %8d | %15.2f %15.2f | %6.1f %6.1f", n, reads, bytes>>20, export.wall.Seconds(), export.processor.Seconds(), export.peak>>20,
			own.wall.Seconds(), std.wall.Seconds(), export.wall.Seconds()/own.wall.Seconds(), std.wall.Seconds()/export.wall.Seconds())
	}
}

// cost is what a piece of work took; peak is in bytes, of a process of its own.
type cost struct {
	wall, processor time.Duration
	peak            int64
}

func (c cost) best(x cost) cost {
	if c.wall == 0 || x.wall < c.wall {
		return x
	}
	return c
}

func spend(work func()) cost {
	runtime.GC()
	begun := time.Now()
	work()
	return cost{wall: time.Since(begun)}
}

// exportOf runs the program's export of a folder.
func exportOf(t *testing.T, dir string) cost {
	c := asItself("export", dir)
	begun := time.Now()
	_, peak := withPeak(t, c)
	return cost{wall: time.Since(begun), processor: c.ProcessState.UserTime() + c.ProcessState.SystemTime(), peak: peak}
}

// readWithCSV reads every log with the standard library, each tag's times in a list, as many
// logs at once as there are processors.
func readWithCSV(t *testing.T, dir string) (reads int, bytes int64) {
	paths, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(paths) == 0 {
		t.Fatal(err, "no logs")
	}
	counts, errs := make([]int, len(paths)), make([]error, len(paths))
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for i, path := range paths {
		if info, err := os.Stat(path); err == nil {
			bytes += info.Size()
		}
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			counts[i], errs[i] = csvReads(path)
		})
	}
	wg.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
	for _, n := range counts {
		reads += n
	}
	return reads, bytes
}

func csvReads(path string) (n int, err error) {
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.ReuseRecord = true
	if _, err := r.Read(); err != nil {
		return 0, err
	}
	byTag := map[string][]time.Time{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return n, nil
		}
		if err != nil {
			return n, err
		}
		at, err := time.Parse(time.RFC3339Nano, row[1])
		if err != nil {
			return n, err
		}
		n++
		byTag[row[0]] = append(byTag[row[0]], at)
	}
}
