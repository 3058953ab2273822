//go:build unix

package plan

import (
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestAPipeIsNotALog(t *testing.T) {
	files := goodFolder()
	delete(files, "logs/start.csv")
	dir := folder(t, files)
	if err := syscall.Mkfifo(filepath.Join(dir, "logs/start.csv"), 0o644); err != nil {
		t.Skip("SKIPPED: no pipes here: ", err)
	}
	r, found := Load(dir)
	if r != nil || !strings.Contains(show(found), `race.toml:13:10: "logs/start.csv" is a device, pipe or socket, not a log`) {
		t.Errorf("race %v\n%s", r, show(found))
	}
}
