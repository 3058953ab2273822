package main

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"twinmat/cmd/internal/live"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// One read appended to a log of a race that is under way and at rest, again and again, each of
// somebody who is due at their next line: how long from the write to the new state, and to their
// bib among the latest crossings on the terminal. TWINMAT_ONEMORE is a race folder with plain
// logs, which is copied (a great race half come: replay RACE --into DIR --speed 0 --to TIME).
// Nothing is asserted of time.
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

	r, err := live.Open(dir, "test", live.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	go r.Run(ctx, func(x any, _ []byte) { t.Error(x) })
	<-r.Updates()
	passed := func(st *race.State, bib string) int { return len(st.Results[st.ByBib[bib]].Passings) }
	tellLive(t, "to the new state", next, func(bib string) bool {
		select {
		case u := <-r.Updates():
			return passed(u.State, bib) > passed(st, bib)
		case <-time.After(5 * time.Second):
			return false
		}
	})
	stop() // the console has the processors to itself

	x := startOnTerminal(t, 120, 40, "watch", dir, "--read-only", "--quiet")
	x.until("race clock " + st.Now.Clock(st.Plan.Zone)[:3])
	x.press("2")
	x.until("latest passings")
	tellLive(t, "to the screen", next, func(bib string) bool {
		mark, there := x.mark(), regexp.MustCompile(` `+bib+` `)
		for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
			if there.MatchString(ansi.Strip(string(x.since(max(0, mark-1<<14))))) {
				return true
			}
		}
		return false
	})
	t.Logf("of %d athletes", len(st.Results))
}

// comers appends a read of whoever is next due at a line to its first log, and names them.
func comers(t *testing.T, dir string) (next func() string, st *race.State) {
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	st = reconcile.Compute(f.Input())
	var due []int
	for i, r := range st.Results {
		if at := st.Expected[i]; at.Known() && at > st.Now && len(r.Chips) > 0 {
			due = append(due, i)
		}
	}
	slices.SortFunc(due, func(a, b int) int { return cmp.Compare(st.Expected[a], st.Expected[b]) })
	return func() string {
		r, at := st.Results[due[0]], st.Expected[due[0]]
		due = due[1:]
		k, _ := r.Reached()
		path := filepath.Join(dir, f.Plan.Logs[f.Plan.Lines[r.Splits[k+1].Line].Logs[0]].Path)
		log, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer log.Close()
		if _, err := fmt.Fprintf(log, "%s,%s,6,-61\n", r.Chips[0], at.Format(f.Plan.Zone)); err != nil {
			t.Fatal(err)
		}
		return r.Bib
	}, st
}

// tellLive appends reads, waits until each is there, and tells how long that took.
func tellLive(t *testing.T, what string, next func() string, there func(bib string) bool) {
	const reads = 100
	time.Sleep(5 * time.Second) // the first computation is over, and the rest after it
	var took []time.Duration
	for range reads {
		time.Sleep(300 * time.Millisecond)
		from := time.Now()
		bib := next()
		for end := from.Add(10 * time.Second); !there(bib); {
			if time.Now().After(end) {
				t.Fatalf("%s: the read of %s never came", what, bib)
			}
		}
		took = append(took, time.Since(from))
	}
	slices.Sort(took)
	t.Logf("%s: %d reads: p50 %v, p90 %v, p99 %v, longest %v", what, reads, took[reads/2], took[reads*9/10], took[reads*99/100], took[reads-1])
}
