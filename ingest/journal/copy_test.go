package journal

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"
)

// waitFor polls until the copy is as wanted.
func waitFor(t *testing.T, j *Journal, want func(CopyStatus) bool) {
	t.Helper()
	for range 500 {
		if want(j.Copy()) {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("the copy stands at %+v", j.Copy())
}

func TestACopyFollowsAndCanTakeOver(t *testing.T) {
	dir, stick := t.TempDir(), filepath.Join(t.TempDir(), "race")
	j := mustOpen(t, dir)
	mustAppend(t, j, 1)
	if err := j.CopyTo(stick); err != nil {
		t.Fatal(err)
	}
	if content(t, stick) != content(t, dir) {
		t.Fatal("the first copy is not there when CopyTo returns")
	}
	for n := 2; n <= 30; n++ {
		mustAppend(t, j, n)
	}
	waitFor(t, j, func(c CopyStatus) bool { return c.Behind == 0 && c.Err == nil })
	if content(t, stick) != content(t, dir) {
		t.Fatal("the copy differs")
	}
	want := j.Rulings()
	k := mustOpen(t, stick)
	if !reflect.DeepEqual(k.Rulings(), want) {
		t.Fatal("what takes over has other rulings")
	}
	mustAppend(t, k, 31)
	mustAppend(t, j, 31) // the first laptop still runs: its copy must not overwrite what took over
	mustAppend(t, k, 32)
	waitFor(t, j, func(c CopyStatus) bool { return c.Err != nil || c.Behind == 0 })
	if rs, report, err := Read(stick); len(rs) != 32 || report.String() != "" || err != nil {
		t.Fatalf("%d rulings, %s, %v", len(rs), report, err)
	}
}

func TestAStickThatIsPulledOut(t *testing.T) {
	dir, mount := t.TempDir(), t.TempDir()
	j := mustOpen(t, dir)
	mustAppend(t, j, 1)
	if err := j.CopyTo(mount); err != nil {
		t.Fatal(err)
	}
	there := filepath.Join(mount, File)
	b, err := os.ReadFile(there)
	if err = errors.Join(err, os.Remove(there)); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, j, 2)
	waitFor(t, j, func(c CopyStatus) bool { return c.Err != nil && c.Behind == 1 })
	if _, err := os.Stat(there); err == nil {
		t.Fatal("the empty mount point was filled")
	}
	if err := os.WriteFile(there, b[:len(b)-7], 0o600); err != nil { // back, its last line torn
		t.Fatal(err)
	}
	mustAppend(t, j, 3)
	waitFor(t, j, func(c CopyStatus) bool { return c.Err == nil && c.Behind == 0 })
	if content(t, mount) != content(t, dir) {
		t.Fatal("the copy differs")
	}
}

func TestACopyOverOtherRulingsIsRefused(t *testing.T) {
	dir, _ := filled(t, 3)
	other, _ := filled(t, 0)
	write(t, other, sealed(t, 1))
	before := content(t, other)
	if err := mustOpen(t, dir).CopyTo(other); err == nil || content(t, other) != before {
		t.Fatalf("other rulings were overwritten: %v", err)
	}
	if err := mustOpen(t, other).CopyTo(other); err == nil {
		t.Fatal("a copy beside itself")
	}
}
