//go:build unix

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// terminal is a tmux session of its own server.
type terminal struct {
	t      *testing.T
	socket string
}

func newTerminal(t *testing.T, w, h int, command string) *terminal {
	t.Helper()
	if _, err := exec.LookPath("tmux"); err != nil {
		t.Skip("SKIPPED: there is no tmux here")
	}
	x := &terminal{t, filepath.Join(t.TempDir(), "s")}
	x.tmux("new-session", "-d", "-s", "t", "-x", fmt.Sprint(w), "-y", fmt.Sprint(h), command)
	t.Cleanup(func() { exec.Command("tmux", "-S", x.socket, "kill-server").Run() })
	return x
}

func (x *terminal) tmux(args ...string) string {
	x.t.Helper()
	c := exec.Command("tmux", append([]string{"-S", x.socket}, args...)...)
	c.Env = append(os.Environ(), "TERM=xterm-256color", "LC_ALL=C.UTF-8")
	b, err := c.CombinedOutput()
	if err != nil {
		x.t.Fatalf("tmux %v: %v %s", args, err, b)
	}
	return string(b)
}

func (x *terminal) keys(keys ...string) {
	for _, k := range keys {
		x.tmux("send-keys", "-t", "t", k)
	}
}

// until waits for a text on the screen, and returns the screen.
func (x *terminal) until(text string) string {
	x.t.Helper()
	screen, ok := x.within(60*time.Second, text)
	if !ok {
		x.t.Fatalf("%q never came:\n%s", text, screen)
	}
	return screen
}

// within is until for so long; false where the text didn't come, with the last screen.
func (x *terminal) within(d time.Duration, text string) (screen string, ok bool) {
	x.t.Helper()
	for deadline := time.Now().Add(d); time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		if screen = x.tmux("capture-pane", "-p", "-J", "-t", "t"); strings.Contains(screen, text) {
			return screen, true
		}
	}
	return screen, false
}

// The built program in a terminal: from the start to the first case settled in a few keys,
// a resize, an export, and out again with the terminal whole.
func TestTheProgramInATerminal(t *testing.T) {
	if testing.Short() {
		t.Skip("not in a short run")
	}
	dir := t.TempDir()
	program := filepath.Join(dir, "twinmat")
	if b, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	for _, size := range [][2]int{{80, 24}, {200, 50}} {
		t.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(t *testing.T) {
			firstCase(t, program, size[0], size[1])
		})
	}
}

// apply presses enter as somebody who has read what it does; where the machine is so busy that
// two presses reach the program at once, once more, as it asks.
func (x *terminal) apply(said string) {
	for range 5 {
		time.Sleep(300 * time.Millisecond)
		x.keys("Enter")
		if _, ok := x.within(10*time.Second, said); ok {
			return
		}
	}
	x.until(said)
}

// firstCase settles the first case of a race of its own with two keys.
func firstCase(t *testing.T, program string, w, h int) {
	folder := filepath.Join(t.TempDir(), "race")
	if b, err := exec.Command(program, "demo", "--write-only", "--dir", folder).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	x := newTerminal(t, w, h, fmt.Sprintf("%s watch %s --quiet; echo left with $?; sleep 600", program, folder))
	x.until("open cases")
	x.keys("Enter")
	x.until("enter apply")
	x.apply("saved as ruling 1")
	x.tmux("resize-window", "-t", "t", "-x", fmt.Sprint(280-w), "-y", fmt.Sprint(74-h))
	x.keys("3")
	x.until("athletes by")
	x.keys("E")
	x.until("written to")
	x.keys("q")
	screen := x.until("left with 0")
	if !strings.Contains(screen, "1 ruling on disk") {
		t.Errorf("the last words:\n%s", screen)
	}
	if _, err := os.Stat(filepath.Join(folder, "out", "times.csv")); err != nil {
		t.Error(err)
	}
	if b, err := os.ReadFile(filepath.Join(folder, "rulings.jsonl")); err != nil || strings.Count(string(b), "\n") != 1 {
		t.Errorf("rulings.jsonl: %q, %v", b, err)
	}
}
