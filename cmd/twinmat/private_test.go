package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest/follow"
	"twinmat/ingest/plan"
)

// What names people is its owner's alone: tables, pages, rulings and copies of logs.
func TestWhatNamesPeopleIsTheirOwnersAlone(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("there folders say who may read")
	}
	dir := t.TempDir()
	m, err := invent.Make(invent.Options{Kind: "demo", Seed: 3, Athletes: 20})
	if err != nil {
		t.Fatal(err)
	}
	if err := m.Write(dir); err != nil {
		t.Fatal(err)
	}
	r, _ := plan.Load(dir)
	l, err := follow.New(dir, r.Plan, 0, follow.Options{Keep: true})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Poll(); err != nil {
		t.Fatal(err)
	}
	l.Close()
	for _, args := range [][]string{{"rule", dir, "set-status", "--bib", r.Athletes[0].Bib, "--status", "dnf", "--why", "seen"}, {"export", dir}, {"report", dir}} {
		if b, err := asItself(args...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v %s", args, err, b)
		}
	}
	found := 0
	for _, below := range []string{"out", "kept", "rulings.jsonl"} {
		err := filepath.WalkDir(filepath.Join(dir, below), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			found++
			info, err := os.Stat(path)
			if err == nil && info.Mode().Perm() != 0o600 {
				t.Errorf("%s: %v", path, info.Mode())
			}
			return err
		})
		if err != nil {
			t.Error(err)
		}
	}
	if found < 9 {
		t.Errorf("only %d files were made", found)
	}
}
