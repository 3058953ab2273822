package tui

import (
	"fmt"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// undo shows what taking a ruling back would change.
type undo struct {
	*sight
	of    race.Ruling
	trial trial
}

func (m *root) openUndo(r *race.Ruling) tea.Cmd {
	u := &undo{sight: m.sight, of: *r}
	m.push(u)
	return m.try(&u.trial, nil, fmt.Sprintf("undo --seq %d", r.Seq))
}

func (u *undo) scope() scope  { return inUndo }
func (u *undo) sync()         {}
func (u *undo) tried() *trial { return &u.trial }

func (u *undo) apply(m *root) tea.Cmd {
	r := u.trial.ruling()
	r.Why = fmt.Sprintf("ruling %d taken back at the console", u.of.Seq)
	m.pop()
	return m.save(saving{ruling: r, words: u.trial.words})
}

func (u *undo) View(w, h int) string {
	p := newPage(u.look, w, h)
	p.line().put(strong, fmt.Sprintf("take back ruling %d", u.of.Seq))
	words := u.of.Rule
	if u.o.Desk != nil {
		words = wordsOf(u.o.Desk, u.of)
	}
	p.prose(text, words, 2)
	p.prose(muted, "because: "+u.of.Why, 2)
	p.line()
	u.trial.draw(p, p.left()-1)
	if u.trial.state == ready {
		p.say(good, "enter takes it back; that too can be undone")
	}
	return p.String()
}
