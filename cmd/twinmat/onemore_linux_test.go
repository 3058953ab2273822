package main

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"twinmat/cmd/internal/live"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// One read appended to a log of a race that is under way and at rest, again and again, each of
// somebody who comes in: how long from the write to the new state, and to the count on the
// terminal. TWINMAT_ONEMORE is a race folder with plain logs, which is copied (a great race half
// come: replay RACE --into DIR --speed 0 --to TIME). Nothing is asserted of time.
func TestOneMoreReadLive(t *testing.T) {
	from := os.Getenv("TWINMAT_ONEMORE")
	if from == "" {
		t.Skip("only when TWINMAT_ONEMORE says of which race")
	}
	dir := filepath.Join(t.TempDir(), "race")
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	next, st := comers(t, dir)
	const reads = 100

	r, err := live.Open(dir, "test", live.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	go r.Run(ctx, func(x any, _ []byte) { t.Error(x) })
	in := func(st *race.State) (n int) {
		for _, x := range st.Results {
			if x.Finish >= 0 {
				n++
			}
		}
		return n
	}
	was := in((<-r.Updates()).State)
	tellLive(t, "to the new state", reads, next, func() bool {
		select {
		case u := <-r.Updates():
			is := in(u.State)
			more := is > was
			was = is
			return more
		case <-time.After(5 * time.Second):
			return false
		}
	})

	stop() // the console has the processors to itself
	x := startOnTerminal(t, 120, 40, "watch", dir, "--read-only", "--quiet")
	count := regexp.MustCompile(`(\d+) in +\d+ still out`)
	x.until(fmt.Sprintf("%d in ", was))
	mark := x.mark()
	tellLive(t, "to the screen", reads, next, func() bool {
		for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
			for _, told := range count.FindAllStringSubmatch(ansi.Strip(string(x.since(mark))), -1) {
				if n, _ := strconv.Atoi(told[1]); n > was {
					was, mark = n, x.mark()
					return true
				}
			}
		}
		return false
	})
	t.Logf("of %d athletes", len(st.Results))
}

// comers is a log at the finish, and what appends a read of one more who is under way to it.
func comers(t *testing.T, dir string) (next func(), st *race.State) {
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	st = reconcile.Compute(f.Input())
	path := filepath.Join(dir, f.Plan.Logs[f.Plan.Lines[len(f.Plan.Lines)-1].Logs[0]].Path)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	last := strings.Split(lines[len(lines)-1], ",")
	var out []*race.Result
	for _, r := range st.Results {
		if r.State == race.Running && r.Finish < 0 && len(r.Chips) > 0 {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(a, b *race.Result) int { // who is furthest, and was there first
		n, at := a.Reached()
		m, by := b.Reached()
		return cmp.Or(cmp.Compare(m, n), cmp.Compare(at, by))
	})
	log, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { log.Close() })
	at := st.Now
	return func() {
		at = at.Add(400)
		last[0], last[1] = out[0].Chips[0], at.Format(f.Plan.Zone)
		out = out[1:]
		if _, err := log.Write(append(bytes.Clone([]byte(strings.Join(last, ","))), '\n')); err != nil {
			t.Fatal(err)
		}
	}, st
}

// tellLive appends so many reads, waits until each is there, and tells how long that took.
func tellLive(t *testing.T, what string, reads int, next func(), there func() bool) {
	var took []time.Duration
	for range reads {
		time.Sleep(300 * time.Millisecond) // at rest
		from := time.Now()
		next()
		for end := time.Now().Add(10 * time.Second); !there(); {
			if time.Now().After(end) {
				t.Fatalf("%s: a read never came", what)
			}
		}
		took = append(took, time.Since(from))
	}
	slices.Sort(took)
	t.Logf("%s: %d reads: p50 %v, p90 %v, p99 %v, longest %v", what, reads, took[reads/2], took[reads*9/10], took[reads*99/100], took[reads-1])
}
