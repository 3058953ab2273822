package tui

import (
	"fmt"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// explained is how somebody's times came about, as the desk tells it.
type explained struct {
	number int
	lines  []string
}

func (a explained) deliver(m *root) tea.Cmd {
	for _, o := range m.over {
		if s, ok := o.(*story); ok && s.asked == a.number {
			s.explain = a.lines
		}
	}
	return nil
}

// toldOf is what an explanation of somebody's times rests on, as far as a book shows it.
type toldOf struct {
	r       *race.Result
	ranks   race.Ranks
	rulings int
	cases   string
}

func (s *story) rests() toldOf {
	k, ok := s.book.ByBib[s.who]
	if !ok || k >= len(s.book.Results) {
		return toldOf{}
	}
	x := toldOf{r: s.book.Results[k], ranks: s.book.RanksOf(s.book.Results[k]), rulings: len(s.book.Rulings)}
	for _, i := range s.book.about(k) {
		c := &s.book.Suspects[i]
		x.cases += fmt.Sprintln(c.ID, c.Settled, c.Says)
	}
	return x
}

// explainAgain asks how the times came about where what that rests on is another than when it was
// asked last: beside what is shown, an old explanation would contradict it.
func (s *story) explainAgain(m *root) tea.Cmd {
	if m.o.Desk == nil || m.history != nil {
		return nil
	}
	now := s.rests()
	if now == s.of {
		return nil
	}
	s.of = now
	m.asked++
	s.asked = m.asked
	n, bib, desk := s.asked, s.who, m.o.Desk
	return m.guarded(func() tea.Msg { return explained{n, desk.Explain(bib)} })
}
