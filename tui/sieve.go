package tui

import (
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"
)

// splitKeys undoes bubbletea v1's bundling: runes that arrive in one read are reported as
// one KeyMsg, so "jjk" would match no action. A paste stays whole.
func splitKeys(k tea.KeyMsg) []tea.KeyMsg {
	if k.Type != tea.KeyRunes || k.Paste || k.Alt || len(k.Runes) < 2 {
		return []tea.KeyMsg{k}
	}
	out := make([]tea.KeyMsg, len(k.Runes))
	for i, c := range k.Runes {
		out[i] = tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{c}}
		if c == ' ' {
			out[i].Type = tea.KeySpace
		}
	}
	return out
}

const (
	wheelEvery = 16 * time.Millisecond // faster than a frame nobody sees it
	// A report that was cut arrives in the next read: what comes later is a person's.
	shardWithin = 50 * time.Millisecond
)

// A sieve keeps from the program what no person did. A mouse report that is cut at the
// end of a read buffer reaches bubbletea v1 as alt+[ and then as runes like "<32;39;13M":
// phantom keys. And wheel and motion come faster than anybody can look.
type sieve struct {
	shard time.Time // when the head of a cut report was seen; zero: none
	wheel time.Time
	now   func() time.Time
}

func newSieve() *sieve { return &sieve{now: time.Now} }

func (s *sieve) filter(_ tea.Model, m tea.Msg) tea.Msg {
	switch m := m.(type) {
	case tea.KeyMsg:
		return s.key(m)
	case tea.MouseMsg:
		if m.Action == tea.MouseActionMotion {
			return nil // nothing of ours is dragged
		}
		if tea.MouseEvent(m).IsWheel() {
			now := s.now()
			if now.Sub(s.wheel) < wheelEvery {
				return nil
			}
			s.wheel = now
		}
	}
	return m
}

func (s *sieve) key(k tea.KeyMsg) tea.Msg {
	if k.Type == tea.KeyRunes && k.Alt && len(k.Runes) == 1 && k.Runes[0] == '[' {
		s.shard = s.now()
		return nil
	}
	if s.shard.IsZero() {
		return k
	}
	if k.Type != tea.KeyRunes || k.Alt || k.Paste || s.now().Sub(s.shard) > shardWithin {
		s.shard = time.Time{}
		return k
	}
	rest, over := shardOf(string(k.Runes))
	if over {
		s.shard = time.Time{}
	}
	if rest == "" {
		return nil
	}
	k.Runes = []rune(rest)
	return k
}

// shardOf takes the piece of a mouse report off the front and tells whether the report
// ends there.
func shardOf(t string) (rest string, over bool) {
	body := strings.TrimLeft(t, "[<0123456789;")
	switch {
	case body == "":
		return "", false
	case body[0] == 'M' || body[0] == 'm':
		return body[1:], true
	}
	return body, true
}
