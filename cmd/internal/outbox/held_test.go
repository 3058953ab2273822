package outbox

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A table that another program holds open, so that it can't be replaced (as on Windows; here
// a folder of its name stands in the way), gets another name, which is told; the others get
// theirs, and the next export tries again.
func TestAHeldFileGetsAnotherName(t *testing.T) {
	patience, held := holdPatience, heldOpen
	t.Cleanup(func() { holdPatience, heldOpen = patience, held })
	holdPatience, heldOpen = 50*time.Millisecond, func(error) bool { return true }
	dir := t.TempDir()
	inTheWay := filepath.Join(dir, "times.csv")
	if err := os.MkdirAll(filepath.Join(inTheWay, "open"), 0o755); err != nil {
		t.Fatal(err)
	}
	names := []string{"splits.csv", "times.csv"}
	files := map[string]content{"splits.csv": bytesOf([]byte("s")), "times.csv": bytesOf([]byte("t"))}
	for n, want := range []string{"times (1).csv", "times (1).csv"} {
		other, err := replace(dir, names, files)
		if err != nil || len(other) != 1 || other["times.csv"] != want {
			t.Fatalf("export %d: %v, %v", n, other, err)
		}
		for _, name := range []string{"splits.csv", want} {
			if b, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(b) != name[:1] {
				t.Errorf("%s: %q, %v", name, b, err)
			}
		}
	}
	r := Report{Other: map[string]string{"times.csv": "times (1).csv"}}
	if s := r.String(); !strings.Contains(s, "times.csv is held open") || !strings.Contains(s, "times (1).csv") {
		t.Errorf("the report doesn't tell: %s", s)
	}
	if s := r.Short(); !strings.Contains(s, "times.csv is held open by another program") || strings.Contains(s, "\n") {
		t.Errorf("nor does its short form: %s", s)
	}
	if err := os.RemoveAll(inTheWay); err != nil {
		t.Fatal(err)
	}
	if other, err := replace(dir, names, files); err != nil || other != nil {
		t.Errorf("when it is let go: %v, %v", other, err)
	}
}
