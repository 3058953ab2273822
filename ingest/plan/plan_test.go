package plan

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// shared finds the material that comes with the races whose truth is known.
func shared(t *testing.T) string {
	t.Helper()
	for _, dir := range []string{os.Getenv("TWINMAT_SHARED"), "../../../shared"} {
		if dir == "" {
			continue
		}
		if _, err := os.Stat(filepath.Join(dir, "races")); err == nil {
			return dir
		}
	}
	t.Skip("SKIPPED: the races with known truth are not here; set TWINMAT_SHARED to their folder")
	return ""
}

func show(found []Problem) string {
	var b strings.Builder
	for _, p := range found {
		b.WriteString(p.String() + "\n")
	}
	return b.String()
}

func TestTheRacesWithKnownTruthLoadWithoutAProblem(t *testing.T) {
	dir := filepath.Join(shared(t), "races")
	for _, name := range []string{"marathon", "out-and-back", "laps", "triathlon", "dirty"} {
		r, found := Load(filepath.Join(dir, name, "race"))
		t.Logf("%s:\n%s", name, show(found))
		if r == nil {
			t.Errorf("%s is refused", name)
		}
	}
}
