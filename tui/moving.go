package tui

import (
	tea "github.com/charmbracelet/bubbletea"
)

// moving is how one gets about.
func moving() []action {
	to := func(by func(page int) int) func(m *root) tea.Cmd {
		return func(m *root) tea.Cmd {
			m.move(by)
			return nil
		}
	}
	lists := onAny | inStory | inHelp | inAlike
	picks := inSearch | inPalette | inGun
	return []action{
		{id: "screen", keys: []string{"1", "2", "3", "4", "5", "6", "7", "8"}, help: "the screen of that number", scope: onAny, silent: true,
			do: func(m *root) tea.Cmd { return m.goTo(int(m.pressed[0] - '1')) }},
		{id: "screen.next", keys: []string{"tab", "right"}, short: "next screen", help: "the next screen", scope: onAny, silent: true,
			do: func(m *root) tea.Cmd { return m.goTo((m.on + 1) % len(m.screens)) }},
		{id: "screen.before", keys: []string{"shift+tab", "left"}, help: "the screen before", scope: onAny, silent: true,
			do: func(m *root) tea.Cmd { return m.goTo((m.on + len(m.screens) - 1) % len(m.screens)) }},
		{id: "down", keys: []string{"down", "j"}, help: "one down", scope: lists, silent: true, do: to(func(int) int { return 1 })},
		{id: "up", keys: []string{"up", "k"}, help: "one up", scope: lists, silent: true, do: to(func(int) int { return -1 })},
		{id: "pick.down", keys: []string{"down"}, help: "one down", scope: picks, silent: true, do: to(func(int) int { return 1 })},
		{id: "pick.up", keys: []string{"up"}, help: "one up", scope: picks, silent: true, do: to(func(int) int { return -1 })},
		{id: "page.down", keys: []string{"pgdown", "ctrl+f"}, help: "a page down", scope: lists | inSearch | inPalette, silent: true, do: to(func(p int) int { return p })},
		{id: "page.up", keys: []string{"pgup", "ctrl+b"}, help: "a page up", scope: lists | inSearch | inPalette, silent: true, do: to(func(p int) int { return -p })},
		{id: "first", keys: []string{"home"}, help: "the first one; where the newest come first, follow them", scope: lists, silent: true, do: to(func(int) int { return -1 << 30 })},
		{id: "last", keys: []string{"end"}, help: "the last one", scope: lists, silent: true, do: to(func(int) int { return 1 << 30 })},
		{id: "goto.new", keys: []string{"n"}, short: "newest", help: "go up to what is new", scope: onDesk | onCrossings | onRulings, foot: 2, silent: true, do: to(func(int) int { return -1 << 30 })},
	}
}

// move moves whatever has a cursor; by is told how many rows a page has.
func (m *root) move(by func(page int) int) {
	switch o := m.top().(type) {
	case nil:
		t, l := m.screen().list()
		t.move(l, by(max(t.page-1, 1)))
	case *story:
		if n := by(o.page - 1); n > 1 || n < -1 {
			o.scroll(n)
		} else {
			o.move(n)
		}
	case *help:
		o.scroll(by(o.page - 1))
	case *search:
		o.a.t.move(o.a, by(max(o.a.t.page-1, 1)))
	case *alike:
		o.t.move(o, by(max(o.t.page-1, 1)))
	case *palette:
		o.at = max(min(o.at+by(10), len(o.found)-1), 0)
	case *gun:
		o.move(by(5))
	}
}

func (m *root) goTo(i int) tea.Cmd {
	if i < 0 || i >= len(m.screens) {
		return nil
	}
	m.turnTo(i)
	return m.wants()
}

// wants asks for what the shown screen and the stories over it need worked out away from the program's loop.
func (m *root) wants() tea.Cmd {
	var cmds []tea.Cmd
	for _, o := range m.over {
		if s, ok := o.(*story); ok {
			cmds = append(cmds, s.explainAgain(m))
		}
	}
	switch s := m.screen().(type) {
	case *systems:
		cmds = append(cmds, s.recount(m))
	case *going:
		cmds = append(cmds, s.compareSince(m))
	}
	return batch(cmds)
}
