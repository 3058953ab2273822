package tui

import (
	"runtime/debug"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// A trial is a ruling being looked at before it is made, or several together: what it says in
// words and what it would change. Nothing is ruled that wasn't tried.
type trial struct {
	number  int // of the question put to the desk; an answer to an older one is dropped
	state   trialState
	rulings []race.Ruling
	words   string // of the first
	effect  effect
	refused string
}

// ruling is the one that is tried.
func (t *trial) ruling() race.Ruling { return t.rulings[0] }

type trialState uint8

const (
	untried trialState = iota
	working
	ready
	refused
)

// An answer comes back from the desk and knows whom to give itself to.
type answer interface{ deliver(m *root) tea.Cmd }

// trialAnswer is what the desk says of a ruling tried.
type trialAnswer struct {
	number  int
	rulings []race.Ruling
	words   string
	effect  effect
	refused string
}

// A trier has a trial under way.
type trier interface{ tried() *trial }

func (a trialAnswer) deliver(m *root) tea.Cmd {
	for _, o := range m.over {
		r, ok := o.(trier)
		if !ok || r.tried().number != a.number {
			continue
		}
		t := r.tried()
		t.rulings, t.words, t.effect, t.refused = a.rulings, a.words, a.effect, a.refused
		t.state = ready
		if a.refused != "" {
			t.state = refused
		}
	}
	return nil
}

// try puts rulings, as arguments of `rule`, to the desk; fill adds what the line of one can't well
// carry (names, evidence).
func (m *root) try(t *trial, fill func(i int, r *race.Ruling), lines ...string) tea.Cmd {
	m.asked++
	*t = trial{number: m.asked, state: working}
	number, desk := m.asked, m.o.Desk
	if desk == nil {
		t.state, t.refused = refused, "no race is running behind this console"
		return nil
	}
	return m.guarded(func() tea.Msg {
		a := trialAnswer{number: number}
		for i, line := range lines {
			r, err := desk.Parse(line)
			if err != nil {
				a.refused = err.Error()
				return a
			}
			if fill != nil {
				fill(i, &r)
			}
			a.rulings = append(a.rulings, r)
		}
		a.words = wordsOf(desk, a.rulings[0])
		before, after, err := desk.Preview(a.rulings...)
		if err != nil {
			a.refused = err.Error()
			return a
		}
		a.effect = compare(before, after, concerned(a.rulings))
		return a
	})
}

// concerned are the bibs that rulings name.
func concerned(rs []race.Ruling) []string {
	var out []string
	for i := range rs {
		for _, b := range []string{rs[i].Bib, rs[i].With} {
			if b != "" {
				out = append(out, b)
			}
		}
	}
	return out
}

// why says what stands in the way of applying it, "" for nothing.
func (t *trial) why() string {
	switch t.state {
	case untried:
		return "its effect hasn't been looked at yet"
	case working:
		return "its effect is being worked out"
	case refused:
		return t.refused
	}
	return ""
}

// draw writes the ruling in words and its effect into the lines left on the page.
func (t *trial) draw(p *page, max int) {
	if max <= 0 {
		return
	}
	switch t.state {
	case untried:
		return
	case working:
		p.say(muted, "working out what this would change …")
	case refused:
		p.prose(bad, p.look.warn+" can't be applied: "+t.refused, max)
	case ready:
		t.effect.draw(p, max)
	}
}

// saver makes rulings, one after the other: their order is the order of the keys.
type saver struct {
	queue   []saving
	busy    bool
	kept    int // rulings on disk that no snapshot has shown yet
	lastSeq int // of the last snapshot
	naming  string
	named   saving // the one that naming tells of
	lots    []*lot // made at this console
}

type saving struct {
	line   string // parsed first where ruling isn't made yet
	ruling race.Ruling
	words  string
	above  int                      // the last ruling on the screen when it was made
	after  func(m *root, err error) // told when it is on disk, or why not
	lot    *lot                     // made with others, nil: by itself
}

type savedAnswer struct {
	saving
	seq int
	err error
}

// save queues a ruling.
func (m *root) save(s saving) tea.Cmd {
	if s.ruling.Who == "" {
		s.ruling.Who = m.o.Who
	}
	s.above = m.live.lastSeq
	m.saver.queue = append(m.saver.queue, s)
	return m.saveNext()
}

func (m *root) saveNext() tea.Cmd {
	if m.saver.busy || len(m.saver.queue) == 0 {
		return nil
	}
	m.saver.busy = true
	s, desk := m.saver.queue[0], m.o.Desk
	return m.guarded(func() tea.Msg {
		if s.line != "" {
			r, err := desk.Parse(s.line)
			if err != nil {
				return savedAnswer{s, 0, err}
			}
			r.Why, r.Who = s.ruling.Why, s.ruling.Who
			s.ruling, s.words = r, wordsOf(desk, r)
		}
		seq, err := desk.Rule(s.ruling)
		return savedAnswer{s, seq, err}
	})
}

func (a savedAnswer) deliver(m *root) tea.Cmd {
	m.saver.queue = m.saver.queue[1:]
	m.saver.busy = false
	if a.err == nil {
		m.saver.kept++
	}
	switch {
	case a.lot != nil:
		a.lot.kept(m, a)
	case a.err != nil:
		m.tell(bad, "NOT saved: %v (%s)", a.err, a.words)
	default:
		m.saver.naming, m.saver.named = a.words, a.saving
		m.tell(good, "saved: %s", a.words)
		m.saver.name(m)
	}
	if a.after != nil {
		a.after(m, a.err)
	}
	return m.saveNext()
}

// shown notes what a snapshot shows of the rulings made here, and tells the number of
// the last one.
func (s *saver) shown(m *root, b *book) {
	if n := b.lastSeq - s.lastSeq; n > 0 {
		s.kept = max(s.kept-n, 0)
		s.lastSeq = b.lastSeq
	}
	s.name(m)
}

// name tells the number of the ruling just saved, once the snapshot that has it is here.
func (s *saver) name(m *root) {
	if s.naming == "" || s.busy || m.live.lastSeq == 0 {
		return
	}
	last := m.live.ruling(m.live.lastSeq)
	if of := &s.named.ruling; last == nil || last.Seq <= s.named.above || last.Rule != of.Rule || last.Bib != of.Bib || last.Wave != of.Wave || last.Tag != of.Tag || last.Why != of.Why {
		return
	}
	tail := "u undoes"
	if m.frozen || m.history != nil {
		tail += "; the screen doesn't show it yet"
	}
	m.tell(good, "saved as ruling %d: %s  (%s)", last.Seq, s.naming, tail)
	s.naming, s.kept = "", 0
}

// brokenMsg ends the program after a panic in a command.
type brokenMsg struct{ report string }

// guarded makes a command that leaves a report when it panics: bubbletea would print the
// stack while the screen still hides it.
func (m *root) guarded(f func() tea.Msg) tea.Cmd {
	dir, version := m.o.Crash, m.o.Version
	return func() (msg tea.Msg) {
		defer func() {
			if r := recover(); r != nil {
				msg = brokenMsg{CrashReport(dir, version, r, debug.Stack())}
			}
		}()
		return f()
	}
}

// whyNoRuling is why none can be made here.
func (m *root) whyNoRuling() string {
	switch {
	case m.o.ReadOnly && m.o.Why != "":
		return "read only: " + m.o.Why
	case m.o.ReadOnly:
		return "read only: this console looks and can't rule; every screen can be seen, what a ruling would change too"
	case m.o.Desk == nil:
		return "no race is running behind this console"
	case m.history != nil:
		return "this is the race as it stood; esc comes back to now"
	}
	return ""
}
