package tui

import (
	"fmt"
	"slices"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// lot is rulings made with one decision: they are kept one after the other, each on its own, and
// may be taken back together.
type lot struct {
	of   int
	seqs []int // of those that are on disk
	lost int
	why  string // of the first that isn't
}

// saveLot queues rulings made with one decision.
func (m *root) saveLot(rs []race.Ruling) tea.Cmd {
	l := &lot{of: len(rs)}
	var cmds []tea.Cmd
	for _, r := range rs {
		cmds = append(cmds, m.save(saving{ruling: r, words: wordsOf(m.o.Desk, r), lot: l}))
	}
	return batch(cmds)
}

// kept tells how far it has come.
func (l *lot) kept(m *root, a savedAnswer) {
	if a.err != nil {
		if l.lost++; l.lost == 1 {
			l.why = fmt.Sprintf("%v (%s)", a.err, a.words)
		}
	} else {
		l.seqs = append(l.seqs, a.seq)
	}
	switch done := len(l.seqs) + l.lost; {
	case done < l.of:
		m.tell(text, "saving: %d of %d", done, l.of)
	case l.lost > 0:
		m.tell(bad, "%d of %d NOT saved; the first: %s", l.lost, l.of, l.why)
	case a.ruling.Rule == race.Undo:
		m.tell(good, "saved: %d rulings taken back", l.of)
	default:
		m.tell(good, "saved: %d rulings, the last is %d  (u takes back one, or all)", l.of, l.seqs[len(l.seqs)-1])
	}
	if done := len(l.seqs) + l.lost; done == l.of && len(l.seqs) > 1 {
		m.saver.lots = append(m.saver.lots, l)
	}
}

// lotOf is the lot that a ruling was made in at this console, nil: none.
func (s *saver) lotOf(seq int) *lot {
	for _, l := range s.lots {
		if slices.Contains(l.seqs, seq) {
			return l
		}
	}
	return nil
}

// inForce are those of a lot that stand.
func (l *lot) inForce(st *race.State) (out []int) {
	if l == nil {
		return nil
	}
	for _, s := range l.seqs {
		if _, undone := st.Undone[s]; !undone {
			out = append(out, s)
		}
	}
	return out
}

// undoing are the lines that take rulings back, the last one first.
func undoing(seqs []int) []string {
	lines := make([]string, 0, len(seqs))
	for _, s := range slices.Backward(slices.Sorted(slices.Values(seqs))) {
		lines = append(lines, fmt.Sprintf("undo --seq %d", s))
	}
	return lines
}

// seqsWords names the first and the last of them.
func seqsWords(seqs []int) string {
	return fmt.Sprintf("%d to %d", slices.Min(seqs), slices.Max(seqs))
}
