package tui

import (
	"fmt"
	"time"
)

// said is what the last action has to say; the next key clears it.
type said struct {
	ink  ink
	text string
	at   time.Time // on the laptop's clock
	news bool      // nobody's key brought it: what needs somebody takes its place
}

// saidFor is how long what was done stands before what needs somebody: as long as two lines take
// to read. Whoever pressed the last key may have left.
const saidFor = 6 * time.Second

func (m *root) tell(i ink, format string, a ...any) {
	m.said = said{ink: i, text: fmt.Sprintf(format, a...), at: m.sight.now}
}

// stands tells whether what was said is still what is to be said. That something went wrong stands
// until the next key.
func (m *root) stands() bool {
	switch {
	case m.said.text == "":
		return false
	case m.said.ink == bad, m.said.ink == warn, m.watch.first() == nil:
		return true
	}
	return m.sight.now.Sub(m.said.at) < saidFor
}

// A saying is what stands above the keys: what was done, or what needs somebody, in as many
// lines as that takes. The screen above gives way: half of a sentence would be worse.
type saying struct {
	ink   ink
	lines []string // at least one
	tail  string   // the keys that answer it, at the end of the last line
}

// sayingShare: it never takes more than one in so many lines of the screen, three at least.
const sayingShare = 4

// saying is what is to be said now.
func (m *root) saying() saying {
	g := m.sight.look
	if m.stands() {
		sign := g.none
		switch m.said.ink {
		case good:
			sign = g.ok
		case bad, warn:
			sign = g.warn
		}
		return m.wrapped(m.said.ink, sign+" "+m.said.text, "")
	}
	n := m.watch.first()
	if n == nil {
		return saying{lines: []string{""}}
	}
	k := warn
	if n.Level == Urgent {
		k = bad
	}
	tail := "  s: seen"
	if more := len(m.watch.waiting) - 1; more > 0 {
		tail = fmt.Sprintf("  (%d more)  s: seen  S: all", more)
	}
	return m.wrapped(k, g.warn+" "+n.Says, tail)
}

func (m *root) wrapped(k ink, s, tail string) saying {
	x := saying{k, wrap(clean(s), m.w), tail}
	if last := len(x.lines) - 1; last < 0 || cells(x.lines[last])+cells(tail) > m.w {
		x.lines = append(x.lines, "")
	}
	if most := max(m.h/sayingShare, 3); len(x.lines) > most {
		end := cut(x.lines[most-1]+" "+m.sight.look.cut, m.w-cells(tail), m.sight.look.cut)
		x.lines = append(x.lines[:most-1], end)
	}
	return x
}

func (m *root) say(p *page, x saying) {
	for i, l := range x.lines {
		r := p.line()
		r.put(x.ink, l)
		if i == len(x.lines)-1 {
			r.put(muted, x.tail)
		}
	}
}
