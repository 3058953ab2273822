package main

import (
	"os"
	"path/filepath"
	"testing"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// shared is the folder of races with known truth and of open data, beside the checkout or
// where TWINMAT_SHARED says. A test that needs it skips, loudly, without it.
func shared(t testing.TB) string {
	t.Helper()
	dir := os.Getenv("TWINMAT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	if _, err := os.Stat(filepath.Join(dir, "races")); err != nil {
		t.Skipf("SKIPPED: the races with known truth are not at %s; set TWINMAT_SHARED", dir)
	}
	return dir
}

var races = []string{"marathon", "out-and-back", "laps", "triathlon", "dirty"}

// stateOf is a race as it stands by its files: their text by their path below the folder.
func stateOf(t testing.TB, files map[string]string) *race.State {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	return reconcile.Compute(f.Input())
}
