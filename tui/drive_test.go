package tui

import (
	"os"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/ansi"
	"github.com/muesli/termenv"
)

// A driver is a person at the console, without a terminal and without a clock: each key is
// followed by all that it sets in motion.
type driver struct {
	t      testing.TB
	m      *root
	desk   *fakeDesk
	rev    int
	quit   bool
	breaks bool // a panic is what is tested
	now    time.Time
}

// lookFor is a theme with all its colours.
func lookFor(theme string, ascii bool) *look { return newLook(theme, ascii, termenv.ANSI256) }

func newDriver(t testing.TB, w, h, athletes int, change func(*Options)) *driver {
	d := &driver{t: t, desk: &fakeDesk{state: fixture(athletes)}, now: gunAt.Add(47 * 60000).Time(fixtureZone)}
	o := Options{Desk: d.desk, Clock: func() time.Time { return d.now }, Who: "tester"}
	if change != nil {
		change(&o)
	}
	d.m = newRoot(o, lookFor("night", o.ASCII))
	d.send(tea.WindowSizeMsg{Width: w, Height: h})
	d.feed()
	return d
}

// feed brings the desk's race to the screen as the feeder does.
func (d *driver) feed() {
	d.rev++
	d.send(bookMsg{newBook(Update{State: d.desk.State(), Revision: d.rev}, d.m.live)})
}

func (d *driver) send(msg tea.Msg) {
	d.m.ticking = true // no frame is waited for: what is due is drawn at once
	_, cmd := d.m.Update(msg)
	if d.m.broken != "" && !d.breaks {
		report, _ := os.ReadFile(d.m.broken)
		d.t.Fatalf("the console broke on %v:\n%s", msg, report)
	}
	if d.m.dirty {
		d.m.redraw()
	}
	d.drain(cmd)
}

// drain runs what a message set in motion.
func (d *driver) drain(cmd tea.Cmd) {
	if cmd != nil {
		d.got(cmd())
	}
}

func (d *driver) got(msg tea.Msg) {
	switch msg := msg.(type) {
	case nil:
	case tea.BatchMsg:
		for _, c := range msg {
			d.drain(c)
		}
	case tea.QuitMsg:
		d.quit = true
	default:
		d.send(msg)
	}
}

var named = map[string]tea.KeyType{"enter": tea.KeyEnter, "esc": tea.KeyEsc, "tab": tea.KeyTab, "shift+tab": tea.KeyShiftTab, "up": tea.KeyUp, "down": tea.KeyDown,
	"left": tea.KeyLeft, "right": tea.KeyRight, "backspace": tea.KeyBackspace, "delete": tea.KeyDelete, "pgup": tea.KeyPgUp, "pgdown": tea.KeyPgDown, "home": tea.KeyHome,
	"end": tea.KeyEnd, "space": tea.KeySpace, "ctrl+c": tea.KeyCtrlC, "ctrl+l": tea.KeyCtrlL, "ctrl+u": tea.KeyCtrlU, "ctrl+w": tea.KeyCtrlW}

func press(k string) tea.KeyMsg {
	if t, ok := named[k]; ok {
		if t == tea.KeySpace {
			return tea.KeyMsg{Type: t, Runes: []rune{' '}}
		}
		return tea.KeyMsg{Type: t}
	}
	return tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(k)}
}

// keys presses keys, separated by spaces; a word that is no key is typed.
func (d *driver) keys(script string) {
	for _, k := range strings.Fields(script) {
		d.send(press(k))
	}
	d.m.redraw()
}

// screen is what stands there, without its colours.
func (d *driver) screen() string {
	d.t.Helper()
	f := d.m.View()
	d.whole(f)
	return ansi.Strip(f)
}

// whole checks the law of every frame: as high as the window, no line wider.
func (d *driver) whole(f string) {
	d.t.Helper()
	ls := strings.Split(f, "\n")
	if len(ls) != d.m.h {
		d.t.Fatalf("the frame has %d lines, want %d", len(ls), d.m.h)
	}
	for i, l := range ls {
		if n := ansi.StringWidth(l); n != d.m.w {
			d.t.Fatalf("line %d is %d columns wide, want %d: %q", i, n, d.m.w, l)
		}
	}
}

func (d *driver) sees(want ...string) {
	d.t.Helper()
	s := d.screen()
	for _, w := range want {
		if !strings.Contains(s, w) {
			d.t.Fatalf("the screen doesn't say %q:\n%s", w, s)
		}
	}
}

func (d *driver) seesNot(no string) {
	d.t.Helper()
	if s := d.screen(); strings.Contains(s, no) {
		d.t.Fatalf("the screen says %q:\n%s", no, s)
	}
}
