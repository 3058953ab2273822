package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// proposedFor is what the one clock step of an invented race is proposed to be, and whether
// strongly, when the logs of these paths share one clock.
func proposedFor(t *testing.T, kind string, seed uint64, sharing ...string) (string, bool) {
	t.Helper()
	m, err := invent.Make(invent.Options{Kind: kind, Seed: seed, Athletes: 1500})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := m.Write(dir); err != nil {
		t.Fatal(err)
	}
	toml := filepath.Join(dir, "race.toml")
	b, err := os.ReadFile(toml)
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	for _, path := range sharing {
		line := `path   = "` + path + `"`
		if !strings.Contains(text, line) {
			t.Fatalf("no log %s", path)
		}
		text = strings.Replace(text, line, line+"\n  clock  = \"van\"", 1)
	}
	if err := os.WriteFile(toml, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	st := reconcile.Compute(f.Input())
	for i := range st.Suspects {
		if s := &st.Suspects[i]; s.Kind == race.ClockStep {
			return s.Proposes, s.Strong
		}
	}
	t.Fatalf("%s, seed %d: no step was found", kind, seed)
	return "", false
}

// Two clocks and a difference never tell which of them jumped; that a clock is seen at
// another line too, where nothing jumped, does.
func TestASharedClockTellsWhichOneStepped(t *testing.T) {
	const backup10k, backupFinish, main10k, mainFinish = "logs/10k-backup.csv", "logs/finish-backup.csv", "logs/10k-main.csv", "logs/finish-main.csv"
	for _, c := range []struct {
		kind    string
		sharing []string
		want    string
		strong  int // of three seeds, at least: a step may fall where the other line saw few
	}{
		{"steps-main", nil, "", 0},
		{"steps-main", []string{backup10k, backupFinish}, "stepped main", 2},
		{"steps", nil, "", 0},
		{"steps", []string{main10k, mainFinish}, "stepped backup", 2},
	} {
		told := 0
		for seed := uint64(1); seed <= 3; seed++ {
			got, strong := proposedFor(t, c.kind, seed, c.sharing...)
			if !strong {
				continue
			}
			if told++; c.want == "" || !strings.HasSuffix(got, c.want) {
				t.Errorf("%s, seed %d, %v on one clock: proposes %q strongly, want %q", c.kind, seed, c.sharing, got, c.want)
			}
		}
		if told < c.strong {
			t.Errorf("%s, %v on one clock: told in %d of 3 seeds", c.kind, c.sharing, told)
		}
	}
}
