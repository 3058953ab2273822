package tui

import (
	"fmt"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/exp/golden"
)

var frames = []struct{ name, keys string }{
	{"desk", "1"}, {"crossings", "2"}, {"athletes", "3"}, {"clocks", "4 down down"}, {"systems", "5"}, {"out", "6"}, {"rulings", "7"}, {"going", "8"},
	{"story", "3 enter down"}, {"settle", "1 enter"}, {"alike", "1 home down down down X down space enter"}, {"form", "3 p d enter"}, {"gun", "g"}, {"witness", "w 1 2"}, {"help", "?"}, {"palette", ": c h i p"},
	{"search", "/ f a i r"},
}

// inked shows the inks of a frame as short words, so that a golden can be read and a
// changed colour is one line of difference.
func inked(l *look, frame string) string {
	var names = [inks]string{"", "muted", "strong", "head", "accent", "good", "warn", "bad", "picked", "band", "key"}
	var pairs []string
	seen := map[string]bool{}
	for i, s := range l.on {
		if !seen[s] {
			pairs = append(pairs, s, "‹"+names[i]+"›")
			seen[s] = true
		}
	}
	s := strings.NewReplacer(append(pairs, l.off, "")...).Replace(frame)
	ls := strings.Split(s, "\n")
	for i := range ls {
		ls[i] = strings.TrimRight(ls[i], " ")
	}
	return strings.Join(ls, "\n")
}

func TestFrames(t *testing.T) {
	for _, theme := range []string{"sun", "night", "mono", "ascii"} {
		for _, f := range frames {
			t.Run(theme+"/"+f.name, func(t *testing.T) {
				var out strings.Builder
				for _, size := range [][2]int{{60, 24}, {80, 24}, {120, 40}, {200, 50}} {
					d := newDriver(t, size[0], size[1], 300, func(o *Options) { o.ASCII = theme == "ascii" })
					if theme != "ascii" {
						*d.m.sight.look = *lookFor(theme, false)
					}
					d.onCase("overdue:30")
					d.keys("enter enter") // so that there is a ruling
					d.feed()
					d.m.said = said{}
					d.keys(f.keys)
					d.whole(d.m.View())
					fmt.Fprintf(&out, "%d by %d\n%s\n", size[0], size[1], inked(d.m.sight.look, d.m.View()))
				}
				golden.RequireEqual(t, out.String())
			})
		}
	}
}

func TestAsciiIsAscii(t *testing.T) {
	for _, f := range frames {
		d := newDriver(t, 120, 40, 2, func(o *Options) { o.ASCII = true })
		d.keys(f.keys)
		for _, c := range d.screen() {
			if c > 0x7e {
				if strings.ContainsRune("ÍíЀ…†", c) || strings.ContainsRune(strings.Join(given, "")+strings.Join(family, ""), c) {
					continue // names stay as people write them
				}
				t.Errorf("%s shows %q with --ascii", f.name, c)
			}
		}
	}
}

func TestEveryFrameFitsEverySize(t *testing.T) {
	d := newDriver(t, 80, 24, 120, nil)
	for _, f := range frames {
		for _, w := range []int{0, 1, 19, 20, 33, 40, 59, 60, 61, 79, 80, 99, 100, 119, 149, 150, 169, 170, 200, 301} {
			for _, h := range []int{1, 7, 8, 10, 13, 24, 61} {
				d.keys("esc esc esc " + f.keys)
				d.send(tea.WindowSizeMsg{Width: w, Height: h})
				if w > 0 {
					d.whole(d.m.View())
				}
			}
		}
		d.send(tea.WindowSizeMsg{Width: 80, Height: 24})
	}
}

func TestAnEmptyRaceHasFrames(t *testing.T) {
	m := newRoot(Options{}, lookFor("night", false))
	d := &driver{t: t, m: m}
	d.send(tea.WindowSizeMsg{Width: 80, Height: 24})
	for _, f := range frames {
		d.keys("esc esc esc " + f.keys)
		d.whole(m.View())
	}
}
