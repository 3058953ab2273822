package tui

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/ansi"
	"github.com/charmbracelet/x/vt"

	"twinmat/reconcile/race"
)

// A glass is an emulated terminal: what the whole program writes is obeyed as a terminal
// would, and what it asks of the terminal beyond drawing is noted.
type glass struct {
	mu    sync.Mutex // guards what follows; the emulator's own lock leaves String out
	term  *vt.Emulator
	asked []string
	wrote bytes.Buffer

	read sync.WaitGroup // done when the answers are no longer read
}

func newGlass(w, h int) *glass {
	g := &glass{term: vt.NewEmulator(w, h)}
	note := func(what string) func(string) {
		return func(s string) { g.asked = append(g.asked, what+" "+s) }
	}
	g.term.SetCallbacks(vt.Callbacks{Title: note("title"), IconName: note("icon"), WorkingDirectory: note("folder"),
		Bell: func() { g.asked = append(g.asked, "bell") }})
	for _, n := range []int{4, 8, 9, 10, 11, 12, 52, 104, 110, 111, 112, 133, 777, 1337} {
		g.term.RegisterOscHandler(n, func(data []byte) bool {
			g.asked = append(g.asked, fmt.Sprintf("osc %d %q", n, data))
			return true
		})
	}
	g.read.Add(1)
	go func() { // its answers; unread they would block it
		defer g.read.Done()
		io.Copy(io.Discard, g.term)
	}()
	return g
}

// end lets the reader of the answers go. The emulator's own Close races with its Read, so
// the pipe between them is closed instead.
func (g *glass) end() {
	g.term.InputPipe().(io.Closer).Close()
	g.read.Wait()
}

func (g *glass) Write(b []byte) (int, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.wrote.Write(b)
	return g.term.Write(b)
}

// lines are what stands on the glass, without the blanks at the right.
func (g *glass) lines() []string {
	g.mu.Lock()
	defer g.mu.Unlock()
	ls := strings.Split(g.term.String(), "\n")
	for i := range ls {
		ls[i] = strings.TrimRight(ls[i], " ")
	}
	return ls
}

// showing runs the program on an emulated terminal beside a driver that gets the same keys:
// the glass must come to show the driver's frame.
type showing struct {
	t *testing.T
	g *glass
	p *tea.Program
	d *driver
}

func newShowing(t *testing.T, w, h int, state *race.State) *showing {
	t.Helper()
	d := &driver{t: t, desk: &fakeDesk{state: state}, now: gunAt.Add(47 * 60000).Time(fixtureZone)}
	o := Options{Desk: d.desk, Clock: func() time.Time { return d.now }, Who: "tester"}
	d.m = newRoot(o, lookFor("night", false))
	d.send(tea.WindowSizeMsg{Width: w, Height: h})
	x := &showing{t: t, g: newGlass(w, h), d: d}
	m := newRoot(o, lookFor("night", false))
	m.painter.out = x.g
	x.p = tea.NewProgram(m, tea.WithInput(nil), tea.WithOutput(x.g), tea.WithAltScreen(), tea.WithoutSignals(), tea.WithFPS(framesASecond))
	done := make(chan error, 1)
	go func() {
		_, err := x.p.Run()
		done <- err
	}()
	t.Cleanup(func() {
		x.p.Quit()
		if err := <-done; err != nil {
			t.Error(err)
		}
		x.g.end()
	})
	x.p.Send(tea.WindowSizeMsg{Width: w, Height: h})
	b := newBook(Update{State: state, Revision: 9}, nil)
	x.p.Send(bookMsg{b})
	d.send(bookMsg{b})
	return x
}

func (x *showing) keys(script string) {
	for _, k := range strings.Fields(script) {
		x.p.Send(press(k))
		x.d.send(press(k))
	}
}

// shows waits until the glass shows what the driver's frame is.
func (x *showing) shows(what string) {
	x.t.Helper()
	want := strings.Split(x.d.screen(), "\n")
	for i := range want {
		want[i] = strings.TrimRight(want[i], " ")
	}
	var got []string
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(2 * time.Millisecond) {
		if got = x.g.lines(); slices.Equal(got, want) {
			return
		}
	}
	for i := range want {
		if i >= len(got) || got[i] != want[i] {
			x.t.Fatalf("%s: line %d on the terminal is\n%q, want\n%q", what, i, at(got, i), want[i])
		}
	}
	x.t.Fatalf("%s: the terminal has %d lines, want %d", what, len(got), len(want))
}

func at(ls []string, i int) string {
	if i < len(ls) {
		return ls[i]
	}
	return "nothing"
}

// Every screen through the real renderer on an emulated terminal of each size: it shows
// just the frame, so no line of it was longer or went lost.
func TestAnEmulatedTerminalShowsEachFrame(t *testing.T) {
	for _, size := range [][2]int{{60, 24}, {80, 24}, {120, 40}, {200, 50}} {
		t.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(t *testing.T) {
			x := newShowing(t, size[0], size[1], fixture(300))
			for _, f := range frames {
				x.keys("esc esc esc " + f.keys)
				x.shows(f.name)
			}
		})
	}
}

// A race whose every text tries to command the terminal: the terminal shows it, and is asked
// for nothing but its title by us.
func TestNoTextOfARaceCommandsTheTerminal(t *testing.T) {
	for _, w := range []int{60, 80, 120, 200} {
		t.Run(fmt.Sprint(w), func(t *testing.T) {
			x := newShowing(t, w, 30, hostileRace(fixture(60)))
			for _, f := range frames {
				x.keys("esc esc esc " + f.keys)
				x.shows(f.name)
			}
			x.g.mu.Lock()
			defer x.g.mu.Unlock()
			for _, a := range x.g.asked {
				if a != "title twinmat" {
					t.Errorf("the terminal was asked: %s", a)
				}
			}
			for _, s := range []string{"\x1b]52", "\x1b]8;", "\x1bP", "\u009b", "\x07\x07"} {
				if bytes.Contains(x.g.wrote.Bytes(), []byte(s)) {
					t.Errorf("%q was written", s)
				}
			}
		})
	}
}

// The glass itself: what it must catch, it does.
func TestTheEmulatedTerminalCatchesCommands(t *testing.T) {
	for _, s := range hostile {
		if !strings.Contains(s, "\x1b]") {
			continue
		}
		g := newGlass(40, 4)
		g.Write([]byte(s))
		if len(g.asked) == 0 {
			t.Errorf("%q went unnoticed", s)
		}
		g.end()
	}
	g := newGlass(40, 2)
	defer g.end()
	g.Write([]byte("\x1b[31mred\x1b[2J\x1b[1;1Hx"))
	if l := g.lines(); ansi.Strip(l[0]) != "x" {
		t.Errorf("the glass obeys nothing: %q", l)
	}
}
