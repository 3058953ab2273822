package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"
	"golang.org/x/sys/unix"
)

// onTerminal is a program on a terminal of its own; what it writes is read as it comes.
type onTerminal struct {
	t          testing.TB
	cmd        *exec.Cmd
	ours, side *os.File // the two ends; the program has side
	before     unix.Termios
	ended      chan struct{} // the program has

	mu  sync.Mutex
	raw []byte
}

func startOnTerminal(t testing.TB, w, h int, args ...string) *onTerminal {
	t.Helper()
	ours, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Skipf("SKIPPED: no terminals here: %v", err)
	}
	fd := int(ours.Fd())
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	side, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := unix.IoctlSetWinsize(fd, unix.TIOCSWINSZ, &unix.Winsize{Row: uint16(h), Col: uint16(w)}); err != nil {
		t.Fatal(err)
	}
	x := &onTerminal{t: t, ours: ours, side: side, ended: make(chan struct{})}
	modes, err := unix.IoctlGetTermios(int(side.Fd()), unix.TCGETS)
	if err != nil {
		t.Fatal(err)
	}
	x.before = *modes
	x.cmd = asItself(args...)
	x.cmd.Stdin, x.cmd.Stdout, x.cmd.Stderr = side, side, side
	x.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := x.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		x.cmd.Wait()
		close(x.ended)
	}()
	go func() {
		b := make([]byte, 1<<14)
		for {
			n, err := ours.Read(b)
			x.mu.Lock()
			x.raw = append(x.raw, b[:n]...)
			x.mu.Unlock()
			if bytes.Contains(b[:n], []byte("\x1b[6n")) { // where the cursor is: what a terminal answers
				ours.WriteString("\x1b[1;1R")
			}
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() { x.kill() })
	return x
}

func (x *onTerminal) kill() {
	x.cmd.Process.Kill()
	<-x.ended
	x.side.Close()
	x.ours.Close()
}

func (x *onTerminal) press(keys string) { x.ours.WriteString(keys) }

func (x *onTerminal) written() []byte { return x.since(0) }

// since is what was written after the first so many bytes.
func (x *onTerminal) since(from int) []byte {
	x.mu.Lock()
	defer x.mu.Unlock()
	return bytes.Clone(x.raw[from:])
}

// mark is how many bytes were written.
func (x *onTerminal) mark() int {
	x.mu.Lock()
	defer x.mu.Unlock()
	return len(x.raw)
}

// until waits until the program has written something.
func (x *onTerminal) until(text string) {
	x.t.Helper()
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if bytes.Contains([]byte(ansi.Strip(string(x.written()))), []byte(text)) {
			return
		}
	}
	x.t.Fatalf("%q never came:\n%s", text, ansi.Strip(string(x.written())))
}

// A command writes its results, and nothing that asks the terminal to answer: where none does it
// would wait.
func TestNoCommandAsksTheTerminal(t *testing.T) {
	race := filepath.Join(t.TempDir(), "race")
	for _, args := range [][]string{{"--version"}, {"new", race}, {"check", race}, {"export", race}, {"watch", race + "-gone"}, {"watch", race, "extra"}} {
		x := startOnTerminal(t, 120, 40, args...)
		select {
		case <-x.ended:
		case <-time.After(60 * time.Second):
			t.Fatalf("%v doesn't end", args)
		}
		for end := time.Now().Add(10 * time.Second); len(x.written()) == 0 && time.Now().Before(end); {
			time.Sleep(10 * time.Millisecond)
		}
		if b := x.written(); len(b) == 0 || bytes.ContainsRune(b, 0x1b) {
			t.Errorf("%v writes %q", args, b[:min(len(b), 80)])
		}
	}
}

// However the console is left, the terminal is as it was: its modes, and what the program
// switched on by escape sequences is off again.
func TestTheTerminalIsLeftWhole(t *testing.T) {
	if testing.Short() {
		t.Skip("not in a short run")
	}
	dir := filepath.Join(t.TempDir(), "race")
	if b, err := asItself("demo", "--write-only", "--dir", dir).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	for _, c := range []struct {
		how   string
		leave func(x *onTerminal)
	}{
		{"q", func(x *onTerminal) { x.press("q") }},
		{"ctrl+c", func(x *onTerminal) { x.press("\x03") }},
		{"a signal to end", func(x *onTerminal) { x.cmd.Process.Signal(syscall.SIGTERM) }},
	} {
		t.Run(c.how, func(t *testing.T) {
			x := startOnTerminal(t, 120, 40, "watch", dir, "--quiet")
			x.until("open cases")
			during, err := unix.IoctlGetTermios(int(x.side.Fd()), unix.TCGETS)
			if err != nil {
				t.Fatal(err)
			}
			if *during == x.before {
				t.Error("the console left the terminal's modes as they were: nothing is tried here")
			}
			c.leave(x)
			select {
			case <-x.ended:
			case <-time.After(60 * time.Second):
				t.Fatal("it doesn't end")
			}
			after, err := unix.IoctlGetTermios(int(x.side.Fd()), unix.TCGETS)
			if err != nil {
				t.Fatal(err)
			}
			if *after != x.before {
				t.Errorf("modes %+v, %+v before", *after, x.before)
			}
			on := switchedOn(x.written())
			for end := time.Now().Add(60 * time.Second); len(on) > 0 && time.Now().Before(end); on = switchedOn(x.written()) {
				time.Sleep(20 * time.Millisecond) // the reader may still have some to read
			}
			if len(on) > 0 {
				t.Errorf("left on: %v", on)
			}
		})
	}
}

var private = regexp.MustCompile(`\x1b\[\?([0-9;]+)([hl])`)

// switchedOn lists the private modes that a stream leaves other than a terminal has them at
// first: of those that differ only the cursor is on.
func switchedOn(raw []byte) []string {
	state := map[int]bool{}
	for _, m := range private.FindAllSubmatch(raw, -1) {
		for _, n := range bytes.Split(m[1], []byte(";")) {
			k, _ := strconv.Atoi(string(n))
			state[k] = m[2][0] == 'h'
		}
	}
	var out []string
	for k, on := range state {
		if on != (k == 25) {
			out = append(out, fmt.Sprintf("?%d %v", k, on))
		}
	}
	return out
}
