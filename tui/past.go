package tui

import (
	"strconv"
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// moment reads what was typed as an instant of the race: a clock time on the day that
// now is, or before now when that lies ahead; or minutes back.
func moment(s string, b *book) (race.Instant, bool) {
	s = strings.TrimSpace(s)
	if !b.Now.Known() {
		return race.NoInstant, false
	}
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		n, err := strconv.Atoi(rest)
		return b.Now.Add(-race.Millis(n) * 60000), err == nil && n > 0
	}
	now := b.Now.Time(zoneOf(b))
	for _, form := range []string{"15:04:05", "15:04"} {
		if t, err := time.Parse(form, s); err == nil {
			at := time.Date(now.Year(), now.Month(), now.Day(), t.Hour(), t.Minute(), t.Second(), 0, now.Location())
			if at.After(now) {
				at = at.AddDate(0, 0, -1)
			}
			return race.Of(at), true
		}
	}
	return race.NoInstant, false
}

type pastAnswer struct {
	b   *book
	err error
}

func (b *back) enter(m *root) tea.Cmd {
	at, ok := moment(b.field.String(), m.live)
	if !ok {
		m.tell(warn, "%q is no time; write 10:41, 10:41:30 or -20", b.field.String())
		return nil
	}
	m.pop()
	if m.o.Desk == nil {
		m.tell(warn, "no race is running behind this console")
		return nil
	}
	m.tell(muted, "going back …")
	desk := m.o.Desk
	return m.guarded(func() tea.Msg {
		s, err := desk.At(at)
		if err != nil {
			return pastAnswer{nil, err}
		}
		p := newBook(Update{State: s}, nil)
		p.past = true
		return pastAnswer{p, nil}
	})
}

func (a pastAnswer) deliver(m *root) tea.Cmd {
	if a.err != nil {
		m.tell(bad, "%v", a.err)
		return nil
	}
	m.history, m.sight.still = m.live, true
	m.tell(text, "as it stood at %s; esc comes back to now", clockOf(a.b.State, a.b.Now))
	m.show(a.b)
	return nil
}

// present comes back to now.
func (m *root) present() {
	m.history, m.frozen, m.sight.still = nil, false, false
	m.show(m.live)
}

// freeze holds the screen still; the race goes on behind it.
func (m *root) freeze() {
	if m.frozen || m.history != nil {
		m.present()
		m.tell(text, "live again")
		return
	}
	m.frozen, m.sight.still = true, true
	m.tell(text, "frozen; rulings still work, z goes on")
}
