package main

import (
	"os"
	"path/filepath"
	"testing"
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
