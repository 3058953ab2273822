package tui

import tea "github.com/charmbracelet/bubbletea"

// because is the reason of what is about to be ruled: one that stands ready, or the person's own.
type because struct {
	field   field
	own     bool // it is the person's own
	writing bool
}

// A reasoned overlay rules with a reason that may be written anew.
type reasoned interface {
	because() *because
	offered() string // the reason that stands ready
}

func (b *because) String() string { return b.field.String() }

// offer puts the reason that stands ready, unless the person wrote one.
func (b *because) offer(reason string) {
	if !b.own {
		b.field.set(reason)
	}
}

func (b *because) typed(k tea.KeyMsg) (tea.Cmd, bool) {
	if !b.field.key(k) {
		return nil, false
	}
	b.own = true
	return nil, true
}

// done ends the writing; a reason that nothing was written for stays as it was offered.
func (b *because) done(reason string) {
	if b.writing = false; !b.own {
		b.field.set(reason)
	}
}

// asItWas leaves the reason as it was offered.
func (b *because) asItWas(reason string) {
	b.writing, b.own = false, false
	b.field.set(reason)
}

func (b *because) draw(p *page) {
	r := p.line()
	r.put(head, "reason").gap(2)
	b.field.draw(r, r.left(), b.writing)
}
