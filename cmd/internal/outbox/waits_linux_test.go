package outbox

import (
	"errors"
	"io"
	"os"
	"syscall"
	"testing"
	"time"
)

// Of files of which one waits for another, none waits for one that couldn't be made: whoever has no
// file left to open is told so, and all stays as it was.
func TestNoFileWaitsForOneThatWasNotMade(t *testing.T) {
	dir := t.TempDir()
	write := func() error {
		var met [2]chan struct{}
		files := map[string]content{}
		for i, n := range []string{"a", "b"} {
			met[i] = make(chan struct{})
			files[n] = func(io.Writer) error {
				close(met[i])
				select {
				case <-met[1-i]:
					return nil
				case <-time.After(5 * time.Second):
					t.Errorf("%s waits for what is never made", n)
					return nil
				}
			}
		}
		_, err := replace(dir, []string{"a", "b"}, files)
		return err
	}
	if err := write(); err != nil {
		t.Fatal(err)
	}
	var was syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_NOFILE, &was); err != nil {
		t.Fatal(err)
	}
	few := was
	few.Cur = min(was.Cur, 100)
	if err := syscall.Setrlimit(syscall.RLIMIT_NOFILE, &few); err != nil {
		t.Fatal(err)
	}
	var open []*os.File
	for {
		f, err := os.Open(os.DevNull)
		if err != nil {
			break
		}
		open = append(open, f)
	}
	open[len(open)-1].Close()
	err := write()
	for _, f := range open {
		f.Close()
	}
	syscall.Setrlimit(syscall.RLIMIT_NOFILE, &was)
	if !errors.Is(err, syscall.EMFILE) {
		t.Errorf("with one file left to open: %v", err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 2 {
		t.Errorf("left behind: %v", left)
	}
}
