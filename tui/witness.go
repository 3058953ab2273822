package tui

import (
	"fmt"
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// witness takes bibs as people come in: the time is that of the first key of a bib. There
// is no time to look at effects at a finish line; each can be undone.
type witness struct {
	*sight
	line  int
	field field
	taken time.Time
	made  []sighting // newest last
}

type sighting struct {
	bib   string
	at    time.Time
	state *string
}

func (m *root) openWitness() tea.Cmd {
	w := &witness{sight: m.sight, line: max(len(m.live.Plan.Lines)-1, 0)}
	if len(m.live.Plan.Courses) > 0 {
		if s := m.live.Plan.Courses[0].Splits; len(s) > 0 {
			w.line = s[len(s)-1].Line
		}
	}
	m.push(w)
	return nil
}

func (w *witness) scope() scope { return inWitness }
func (w *witness) sync()        {}
func (w *witness) typing() bool { return true }
func (w *witness) begun() bool  { return len(w.field.runes) > 0 }

func (w *witness) typed(_ *root, k tea.KeyMsg) (tea.Cmd, bool) {
	if k.Type == tea.KeySpace {
		return nil, true
	}
	if !w.field.key(k) {
		return nil, false
	}
	switch n := len(w.field.runes); {
	case n == 0:
		w.taken = time.Time{}
	case w.taken.IsZero():
		w.taken = w.now
	}
	return nil, true
}

// nextLine goes through the lines.
func (w *witness) nextLine() {
	if n := len(w.book.Plan.Lines); n > 0 {
		w.line = (w.line + 1) % n
	}
}

func (w *witness) enter(m *root) tea.Cmd {
	bib := w.field.String()
	if bib == "" {
		return nil
	}
	if w.line >= len(w.book.Plan.Lines) {
		m.tell(warn, "the plan has no line")
		return nil
	}
	state := "saving …"
	w.made = append(w.made, sighting{bib, w.taken, &state})
	line := fmt.Sprintf("witness --bib %s --line %s --at %s", race.Arg(bib), race.Arg(w.book.Plan.Lines[w.line].ID), race.Of(w.taken).Format(w.book.Plan.Zone))
	w.field.set("")
	w.taken = time.Time{}
	if w.anotherDay() {
		state = "NOT saved: this laptop's clock is days from the reads; set-time takes a time that you type"
		return nil
	}
	r := race.Ruling{Why: "seen by eye, bib keyed as they passed"}
	return m.save(saving{line: line, ruling: r, words: line, after: func(_ *root, err error) {
		state = "saved"
		if err != nil {
			state = "NOT saved: " + err.Error()
		}
	}})
}

// warnOfClock tells, before a bib is typed, whether its time will be kept.
func (w *witness) warnOfClock(p *page) {
	if w.anotherDay() {
		w.clockWarning(p, "no time taken by a key here is saved; set-time takes one that you type")
		return
	}
	w.clockWarning(p, likelyWrong)
}

// lowWindow is a height below which what is typed or chosen comes before what explains it.
const lowWindow = 10

func (w *witness) View(width, h int) string {
	p := newPage(w.look, width, h)
	p.line().put(strong, "seen by eye at ").put(picked, " "+lineID(w.book, w.line)+" ").put(muted, "  tab: another line")
	if h < lowWindow {
		w.keyed(p)
		w.warnOfClock(p)
	}
	p.prose(muted, "Type each bib as it passes, then enter. The time is that of the first key; backspace to nothing forgets it.", 2)
	if h >= lowWindow {
		w.warnOfClock(p)
		p.line()
		w.keyed(p)
		p.line()
	}
	for i := len(w.made) - 1; i >= 0 && p.left() > 0; i-- {
		s := w.made[i]
		r := p.line()
		name := ""
		if x := w.book.result(s.bib); x != nil {
			name = x.Name
		}
		k := good
		if strings.HasPrefix(*s.state, "NOT") {
			k = bad
		}
		r.right(strong, s.bib, 7).gap(1).cell(text, s.at.In(zoneOf(w.book)).Format("15:04:05.000"), 13).cell(text, name, min(24, width/3)).gap(1)
		if cells(clean(*s.state)) <= r.left() {
			r.put(k, *s.state)
			continue
		}
		p.prose(k, *s.state, 3)
	}
	return p.String()
}

// keyed is the line that is typed into, with the time that was taken and whose bib it is.
func (w *witness) keyed(p *page) {
	r := p.line()
	r.put(head, "bib ")
	w.field.draw(r, 14, true)
	if w.taken.IsZero() {
		return
	}
	r.gap(2).put(accent, w.taken.In(zoneOf(w.book)).Format("15:04:05.000"))
	if x := w.book.result(w.field.String()); x != nil {
		r.gap(2).put(text, x.Name).put(muted, "  "+x.State)
	} else {
		r.gap(2).put(warn, "no such bib")
	}
}
