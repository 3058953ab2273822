package tui

import (
	tea "github.com/charmbracelet/bubbletea"
)

// changedPlan shows what a plan that changed under the console would do, and asks.
type changedPlan struct {
	*sight
	what string // as it was shown
}

func noPlanWaits(m *root) string {
	if m.live.pending == "" {
		return "no changed plan waits"
	}
	return ""
}

func (m *root) openPlan() tea.Cmd {
	m.push(&changedPlan{m.sight, m.live.pending})
	return nil
}

func (c *changedPlan) scope() scope { return inPlan }
func (c *changedPlan) sync()        {}

func (c *changedPlan) View(w, h int) string {
	p := newPage(c.look, w, h)
	p.prose(strong, "plan or lists changed under the console, and the last sound ones stay until somebody says yes", h)
	p.line()
	p.prose(warn, "the change: "+c.what, max(p.left()-4, 1))
	p.line()
	p.prose(text, "enter takes it in; esc leaves it, and so does putting the files back as they were", h)
	return p.String()
}

type planAnswer struct{ err error }

// take says yes to what is shown, away from the program's loop: logs may be read anew.
func (c *changedPlan) take(m *root) tea.Cmd {
	if c.what != m.live.pending {
		c.what = m.live.pending
		m.tell(warn, "it has changed since you looked; enter takes in what is shown now")
		return nil
	}
	m.pop()
	if m.o.Desk == nil {
		return nil
	}
	m.tell(muted, "taking the plan in …")
	desk := m.o.Desk
	return m.guarded(func() tea.Msg { return planAnswer{desk.TakePlan()} })
}

func (a planAnswer) deliver(m *root) tea.Cmd {
	if a.err != nil {
		m.tell(bad, "NOT taken in: %v", a.err)
		return nil
	}
	m.tell(good, "the changed plan is taken in")
	return nil
}
