package journal

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

func TestAFileThatSomebodyElseChanged(t *testing.T) {
	for name, c := range map[string]struct {
		change func(t *testing.T, path string)
		saved  bool
		told   string // by Standing, "" : nothing
	}{
		"deleted": {func(t *testing.T, path string) {
			if err := os.Remove(path); err != nil {
				t.Skip("an open file can't be deleted here: ", err)
			}
		}, true, "is gone"},
		"cut to its beginning": {func(t *testing.T, path string) {
			if err := os.Truncate(path, 100); err != nil {
				t.Fatal(err)
			}
		}, true, "was cut"},
		"the same, replaced": {func(t *testing.T, path string) {
			b, err := os.ReadFile(path)
			if err = errors.Join(err, os.WriteFile(path+"~", b, 0o600)); err != nil {
				t.Fatal(err)
			}
			if err := os.Rename(path+"~", path); err != nil {
				t.Skip("an open file can't be replaced here: ", err)
			}
		}, true, ""},
		"appended to": {func(t *testing.T, path string) {
			b, err := os.ReadFile(path)
			if err = errors.Join(err, os.WriteFile(path, append(b, "{}\n"...), 0o600)); err != nil {
				t.Fatal(err)
			}
		}, false, "was changed by somebody else"},
		"another race's": {func(t *testing.T, path string) {
			if err := os.WriteFile(path, []byte(sealed(t, 1)+sealed(t, 2)), 0o600); err != nil {
				t.Fatal(err)
			}
		}, false, "was changed by somebody else"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			j := mustOpen(t, dir)
			mustAppend(t, j, 1)
			mustAppend(t, j, 2)
			if err := j.Standing(); err != nil {
				t.Fatal(err)
			}
			c.change(t, filepath.Join(dir, File))
			if err := j.Standing(); (err != nil) != (c.told != "") || err != nil && !strings.Contains(err.Error(), c.told) {
				t.Errorf("told: %v; want %q", err, c.told)
			}
			before := ""
			if !c.saved {
				before = content(t, dir)
			}
			r := made(3)
			err := j.Append(&r)
			if c.saved {
				rs, report, rerr := Read(dir)
				if err != nil || rerr != nil || report.String() != "" || !reflect.DeepEqual(rs, j.Rulings()) || len(rs) != 3 || j.Standing() != nil {
					t.Fatalf("%v; then %d rulings, %s, %v", err, len(rs), report, rerr)
				}
				return
			}
			if !errors.As(err, new(*NotSaved)) || !strings.HasPrefix(err.Error(), "not saved: ") || content(t, dir) != before || len(j.Rulings()) != 2 {
				t.Fatalf("%v, %d rulings", err, len(j.Rulings()))
			}
		})
	}
}

// One byte changed in place is told while the file is open, though it is as long as it was.
func TestAByteChangedInPlaceIsTold(t *testing.T) {
	dir := t.TempDir()
	j := mustOpen(t, dir)
	if err := j.Standing(); err != nil {
		t.Fatal("before the first ruling: ", err)
	}
	mustAppend(t, j, 1)
	f, err := os.OpenFile(filepath.Join(dir, File), os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteAt([]byte{'X'}, 5); err != nil {
		t.Fatal(err)
	}
	if err := j.Standing(); err == nil || !strings.Contains(err.Error(), "changed by somebody else") {
		t.Errorf("told: %v", err)
	}
}
