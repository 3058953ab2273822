package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"twinmat/cmd/internal/live"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
	"twinmat/reconcile/story"
)

// Every story of every example adds up: each read that it names stands in that line of that
// file with that chip, each correction is the difference of the times beside it, one read is
// the kept one, and all stories together hold the reads of all passings.
func TestEveryStoryAddsUp(t *testing.T) {
	for _, x := range examples {
		t.Run(x.kind, func(t *testing.T) {
			dir := filepath.Join(examplesDir, x.kind)
			f, err := ingest.Read(dir)
			if err != nil {
				t.Fatal(err)
			}
			st := reconcile.Compute(f.Input())
			files, told := map[string][]string{}, 0
			for i := range st.Results {
				s := story.Of(st, st.Results[i].Bib, ruling.Words)
				if a, b, c := instant(t, s.FinishAt), instant(t, s.Gun), s.GunTime; c != "" && a.Sub(b).String() != c {
					t.Errorf("bib %s: gun time %s is not finish %s less gun %s", s.Bib, c, s.FinishAt, s.Gun)
				}
				for _, q := range append(slices.Clone(s.Splits), s.Other...) {
					for _, y := range q.Systems {
						told += addsUp(t, dir, files, s.Bib, &q, &y)
					}
				}
			}
			if told != st.Sums.InPassings {
				t.Errorf("the stories tell of %d reads, the passings hold %d", told, st.Sums.InPassings)
			}
		})
	}
}

// addsUp checks one system's share in a passing and returns its reads.
func addsUp(t *testing.T, dir string, files map[string][]string, bib string, q *story.Split, y *story.System) int {
	t.Helper()
	if d := instant(t, y.OnRace).Sub(instant(t, y.OwnClock)).Decimal(); len(y.Reads) > 0 && d != y.Correction {
		t.Errorf("bib %s, %s, %s: %s is %s by its own clock, %s apart, not %s", bib, q.Split, y.System, y.OnRace, y.OwnClock, d, y.Correction)
	}
	kept := 0
	for _, r := range y.Reads {
		if files[r.File] == nil {
			b, err := os.ReadFile(filepath.Join(dir, r.File))
			if err != nil {
				t.Fatal(err)
			}
			files[r.File] = strings.Split(string(b), "\n")
		}
		chip := r.Tag
		if y.System == "hand" {
			chip = bib
		}
		line := files[r.File][r.Line-1]
		if chip == "" || !strings.Contains(strings.ToUpper(strings.NewReplacer("\x00", "", " ", "", "-", "", ":", "").Replace(line)), chip) {
			t.Errorf("bib %s: chip %q is not in %s:%d: %s", bib, chip, r.File, r.Line, line)
		}
		if r.Kept {
			kept++
			if r.At != y.OwnClock {
				t.Errorf("bib %s, %s: the kept read is of %s, the time of %s", bib, q.Split, r.At, y.OwnClock)
			}
		}
	}
	if len(y.Reads) > 0 && kept != 1 && y.Kept != "centre" { // a centre lies between reads
		t.Errorf("bib %s, %s, %s: %d reads are the kept one", bib, q.Split, y.System, kept)
	}
	return len(y.Reads)
}

func instant(t *testing.T, s string) race.Instant {
	t.Helper()
	if s == "" {
		return race.NoInstant
	}
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return race.Of(at)
}

// A protest of the day after: "I finished before her, and why two minutes?" The page answers
// with the times and where they come from, the case, the ruling and its reason, and a line of
// a log for each system; the console tells the same, word for word.
func TestAProtestOnOnePage(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	if err := os.CopyFS(dir, os.DirFS(filepath.Join(examplesDir, "demo"))); err != nil {
		t.Fatal(err)
	}
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	bib := "" // whose finish main missed
	for _, x := range reconcile.Compute(f.Input()).Results {
		if x.From == race.FromBackup && bib == "" {
			bib = x.Bib
		}
	}
	if bib == "" {
		t.Fatal("nobody's finish is backup's in this race: another example, please")
	}
	const reason = "rode on the van to 15k, two marshals say"
	if b, err := asItself("rule", dir, "adjust-time", "--bib", bib, "--by", "+2m", "--why", reason).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	c := asItself("explain", dir, bib)
	var said bytes.Buffer
	c.Stderr = &said
	text, err := c.Output()
	if err != nil {
		t.Fatal(err, said.String())
	}
	page, reads, found := strings.Cut(string(text), "\nevery read, ")
	if n := strings.Count(page, "\n"); n > 66 || !found {
		t.Errorf("the page has %d lines; a sheet takes 66", n)
	}
	for _, want := range []string{"gun time ", "= finish ", "official ", "+ 120.000 s as ruled, rounding up-1s", reason, "from backup ±", "main has no read here: backup's time, laid on main's clock",
		"on its own clock", "s to main's then (fitted to ", "logs/finish-backup.csv:", "chips "} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q\n%s", want, page)
		}
	}
	if !strings.Contains(reads, "  * logs/finish-backup.csv:") {
		t.Errorf("the reads behind the page lack the one whose time is kept\n%s", reads)
	}

	r, err := live.Open(dir, version, live.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	go r.Run(ctx, func(x any, stack []byte) { t.Errorf("%v\n%s", x, stack) })
	if f, err = ingest.Read(dir); err != nil {
		t.Fatal(err)
	}
	for whole := reconcile.Compute(f.Input()).Sums; ; {
		select {
		case u := <-r.Updates():
			if u.State != nil && u.State.Sums == whole {
				if shown := strings.Join(desk{Race: r}.Explain(bib), "\n") + "\n"; shown != string(text) {
					t.Errorf("the console tells\n%s\nthe command\n%s", shown, text)
				}
				return
			}
		case <-ctx.Done():
			t.Fatal("the console never had the whole race")
		}
	}
}
