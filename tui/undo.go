package tui

import (
	"fmt"
	"slices"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// undo shows what taking a ruling back would change, or all that were made with it.
type undo struct {
	*sight
	of    race.Ruling
	lot   *lot  // that it was made in, nil: by itself
	with  []int // numbers of those of it that are in force
	all   bool  // take all of them back
	anew  bool  // others are in force than were tried
	trial trial
}

func (m *root) openUndo(r *race.Ruling) tea.Cmd {
	u := &undo{sight: m.sight, of: *r, lot: m.saver.lotOf(r.Seq)}
	u.with = u.lot.inForce(m.live.State)
	m.push(u)
	return u.consider(m)
}

// consider tries it, or all of them.
func (u *undo) consider(m *root) tea.Cmd {
	u.anew = false
	seqs := []int{u.of.Seq}
	if u.all {
		seqs = u.with
	}
	return m.try(&u.trial, func(_ int, r *race.Ruling) {
		r.Why = fmt.Sprintf("ruling %d taken back at the console", r.UndoneSeq)
	}, undoing(seqs)...)
}

// turn goes from the one to all of them and back.
func (u *undo) turn(m *root) tea.Cmd {
	u.all = !u.all
	return u.consider(m)
}

func (u *undo) whyNotAll() string {
	if len(u.with) < 2 {
		return "no other ruling was made with this one"
	}
	return ""
}

func (u *undo) scope() scope { return inUndo }

// sync looks whether those that would be taken back still stand.
func (u *undo) sync() {
	if now := u.lot.inForce(u.book.State); !slices.Equal(now, u.with) {
		u.with = now
		u.anew = u.anew || u.all
	}
	u.all = u.all && len(u.with) > 1
}

func (u *undo) whyNot() string {
	if u.anew {
		return "" // enter looks again first
	}
	return u.trial.why()
}

func (u *undo) tried() *trial { return &u.trial }

func (u *undo) apply(m *root) tea.Cmd {
	if u.anew {
		return u.consider(m)
	}
	m.pop()
	if !u.all {
		return m.save(saving{ruling: u.trial.ruling(), words: u.trial.words})
	}
	return m.saveLot(u.trial.rulings)
}

func (u *undo) View(w, h int) string {
	p := newPage(u.look, w, h)
	if u.all {
		p.line().put(strong, fmt.Sprintf("take back %d rulings made with one decision, %s", len(u.with), seqsWords(u.with)))
	} else {
		p.line().put(strong, fmt.Sprintf("take back ruling %d", u.of.Seq))
	}
	words := u.of.Rule
	if u.o.Desk != nil {
		words = wordsOf(u.o.Desk, u.of)
	}
	p.prose(text, words, 2)
	p.prose(muted, "because: "+u.of.Why, 2)
	if len(u.with) > 1 && !u.all {
		p.prose(accent, fmt.Sprintf("one of %d made with one decision: tab takes back all of them", len(u.with)), 2)
	}
	p.line()
	if u.anew {
		p.prose(warn, u.look.warn+" others of them stand than you looked at; enter looks again", 2)
		return p.String()
	}
	u.trial.draw(p, p.left()-1)
	if u.trial.state == ready {
		p.say(good, "enter takes it back; that too can be undone")
	}
	return p.String()
}
