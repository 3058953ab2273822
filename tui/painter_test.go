package tui

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
)

// Painter and renderer write to one terminal in any order, with keys that undo each other,
// snapshots, sizes and clearing in between: it comes to show the last frame, whole.
func TestPainterAndRendererAgree(t *testing.T) {
	x := newShowing(t, 100, 30, fixture(120))
	both := func(m tea.Msg) { x.p.Send(m); x.d.send(m) }
	r := rand.New(rand.NewPCG(8, 1)) // screens 5 and 8 count in the background: what they show has its own time
	keys := []string{"1", "2", "3", "4", "6", "7", "down", "up", "end", "home", "?", "esc", "i", "esc", "g", "esc", "ctrl+l"}
	for n := range 40 {
		for range 1 + r.IntN(12) {
			switch r.IntN(8) {
			case 0:
				both(bookMsg{newBook(Update{State: fixture(100 + r.IntN(40)), Revision: 10 + n}, nil)})
				x.p.Send(frameMsg{})
			default:
				both(press(keys[r.IntN(len(keys))]))
			}
		}
		both(press("esc"))
		x.p.Send(frameMsg{})
		x.shows("after a storm")
	}
}

// A frame is on the terminal when Update returns, and a line that stands there already isn't
// written again.
func TestAFrameIsPaintedAtOnce(t *testing.T) {
	d := newDriver(t, 80, 24, 200, nil)
	g := newGlass(80, 24)
	defer g.end()
	d.m.painter.out = g
	for _, k := range []string{"2", "3", "down", "down", "up", "1"} {
		d.keys(k)
		want := strings.Split(d.screen(), "\n")
		for i := range want {
			want[i] = strings.TrimRight(want[i], " ")
		}
		if got := g.lines(); !slices.Equal(got, want) {
			t.Fatalf("after %s the terminal shows\n%s\nwant\n%s", k, strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
	}
	d.keys("3")
	g.wrote.Reset()
	d.keys("down")
	if n := strings.Count(g.wrote.String(), ";1H"); n == 0 || n > 3 {
		t.Errorf("one row down wrote %d lines", n)
	}
	g.wrote.Reset()
	d.m.View()
	d.m.Update(secondMsg{})
	if g.wrote.Len() > 0 {
		t.Errorf("a second in which nothing was drawn wrote %q", g.wrote.String())
	}
}

// Data is drawn the moment it comes, and what comes within the time of a frame with the next one.
func TestDataIsDrawnOnceAFrame(t *testing.T) {
	d := newDriver(t, 80, 24, 30, nil)
	d.m.ticking = false
	comes := func(msg tea.Msg, waits, goesOn bool) {
		t.Helper()
		if d.m.Update(msg); d.m.dirty != waits || d.m.ticking != goesOn {
			t.Errorf("%T: waits to be drawn %v, the frame goes on %v", msg, d.m.dirty, d.m.ticking)
		}
	}
	data := func() tea.Msg { return bookMsg{newBook(Update{State: d.desk.State()}, d.m.live)} }
	comes(data(), false, true)
	comes(data(), true, true)
	comes(data(), true, true)
	comes(frameMsg{}, false, true)
	comes(frameMsg{}, false, false)
	comes(data(), false, true)
}
