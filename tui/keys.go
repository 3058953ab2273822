package tui

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/aymanbagabas/go-osc52/v2"
	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// split takes a bundle of runes apart, unless a field takes them as they are.
func (m *root) split(k tea.KeyMsg) []tea.KeyMsg {
	if t, ok := m.top().(typist); ok && t.typing() && k.Paste {
		return []tea.KeyMsg{k}
	}
	return splitKeys(k)
}

// key gives a key to the field that takes it, else to the action that has it here.
func (m *root) key(k tea.KeyMsg) tea.Cmd {
	m.said = said{}
	m.hold(k.String())
	if t, ok := m.top().(typist); ok && t.typing() && (types(k) || m.find(k.String()) == nil) {
		cmd, _ := t.typed(m, k)
		return cmd
	}
	if k.Paste {
		return nil // a paste where nothing is typed would press every key in it
	}
	a := m.find(k.String())
	if a == nil {
		if types(k) || k.String() == "enter" {
			way := "? lists the keys"
			if m.top() != nil {
				way = "esc goes back"
			}
			m.tell(muted, "%s does nothing here; %s", clean(keyName(k.String(), m.sight.look)), way)
		}
		return nil
	}
	return m.act(a)
}

func (m *root) find(key string) *action {
	sc := m.scope()
	for i := range actions {
		if a := &actions[i]; a.scope&sc != 0 && slices.Contains(a.keys, key) {
			return a
		}
	}
	return nil
}

// A key that is held down repeats within this, one that bounces sooner; nobody presses one
// twice so fast.
const holdGap = 110 * time.Millisecond

// hold notes which key is acted on, and whether it is still the press before.
func (m *root) hold(key string) {
	m.held = false
	if m.steady != nil {
		now := m.steady()
		m.held = key == m.pressed && now.Sub(m.pressedAt) < holdGap
		m.pressedAt = now
	}
	m.pressed = key
}

// act does an action, or says why it can't be done now.
func (m *root) act(a *action) tea.Cmd {
	if a.saves && m.held {
		m.tell(warn, "%s came twice at once, or is held down: nothing was saved; let go, read, and press it again", m.pressed)
		return nil
	}
	if a.why != nil {
		if w := a.why(m); w != "" {
			m.tell(warn, "%s", w)
			return nil
		}
	}
	return a.do(m)
}

// keyName is a key as it stands on the screen.
func keyName(k string, g *look) string {
	switch k {
	case " ":
		return "space"
	case "up":
		return g.up
	case "down":
		return g.down
	case "pgdown":
		return "page down"
	case "pgup":
		return "page up"
	}
	return k
}

// mouse: the wheel scrolls, a click selects, a second one on the same row opens.
func (m *root) mouse(e tea.MouseMsg) tea.Cmd {
	switch {
	case tea.MouseEvent(e).IsWheel():
		by := 3
		if e.Button == tea.MouseButtonWheelUp {
			by = -3
		}
		if s, ok := m.top().(*story); ok {
			s.scroll(by)
			return nil
		}
		m.move(func(int) int { return by })
		return nil
	case e.Action != tea.MouseActionPress || e.Button != tea.MouseButtonLeft:
		return nil
	case e.Y == 1 && m.top() == nil:
		return m.clickScreen(e.X)
	case m.top() != nil:
		return nil
	}
	t, l := m.screen().list()
	i := t.row(l, e.Y-2-t.y)
	if i < 0 {
		return nil
	}
	if i == t.at {
		if a := m.find("enter"); a != nil {
			return m.act(a)
		}
		return nil
	}
	t.at = i
	t.hold(l)
	return nil
}

// clickScreen goes to the screen whose name was clicked in the second line.
func (m *root) clickScreen(x int) tea.Cmd {
	at := 1
	names, gap := m.titles()
	for i, name := range names {
		n := 2 + len(name)
		if x >= at && x < at+n {
			return m.goTo(i)
		}
		at += n + gap
	}
	return nil
}

func (m *root) desk() *desk { return m.screens[screenDesk].(*desk) }

func needsCase(m *root) string {
	if m.desk().selected() == nil {
		return "no case is selected"
	}
	return ""
}

func needsBib(m *root) string {
	if m.bib() == "" {
		return "no athlete is meant here"
	}
	return ""
}

// undoable is the ruling that undo is about: the one under the cursor on Rulings, else
// the last in force.
func (m *root) undoable() *race.Ruling {
	if u, ok := m.screen().(*rulings); ok && m.top() == nil {
		return u.selected()
	}
	return m.live.inForce()
}

func whyNoUndo(m *root) string {
	if w := m.whyNoRuling(); w != "" {
		return w
	}
	if m.saver.kept > 0 || m.saver.busy {
		return "the last ruling isn't on the screen yet; a moment"
	}
	r := m.undoable()
	if r == nil {
		return "no ruling is there to take back"
	}
	if by, undone := m.live.Undone[r.Seq]; undone {
		return fmt.Sprintf("ruling %d is already taken back by ruling %d; undo that one", r.Seq, by)
	}
	return ""
}

func whyNoExport(m *root) string {
	if m.o.Desk == nil {
		return "no race is running behind this console"
	}
	if m.history != nil {
		return "this is the race as it stood; esc comes back to now"
	}
	return ""
}

// known is what the screen knows of a ruling's fields.
func (m *root) known(kind string) map[string]string {
	k := map[string]string{}
	if b := m.bib(); b != "" {
		k["--bib"] = b
	}
	switch s := m.screen().(type) {
	case *desk:
		if c := s.selected(); c != nil && m.top() == nil {
			k["--tag"], k["--split"] = c.Tag, c.Split
			if c.Tag != "" {
				delete(k, "--bib") // the bib wanted is another than the one the case may name
			}
		}
	case *crossings:
		if m.top() == nil && s.t.at < len(s.rows) {
			x := s.row(s.t.at)
			k["--tag"] = s.tag()
			m.knownPassing(k, s.passing(x), m.sight.book.result(m.bib()))
		}
	}
	if s, ok := m.top().(*story); ok {
		if p := s.passing(); p != nil {
			m.knownPassing(k, p, s.book.result(s.who))
		}
	}
	if kind == race.SetTime {
		delete(k, "--at")
	}
	return k
}

func (m *root) knownPassing(k map[string]string, p *race.Passing, r *race.Result) {
	b := m.sight.book
	k["--line"] = lineID(b, p.Line)
	k["--at"] = p.At.Format(zoneOf(b))
	if r != nil && p.Split >= 0 && p.Split < len(r.Splits) {
		k["--split"] = r.Splits[p.Split].ID
	}
}

// leave goes back one step: out of an overlay, out of a search, back to now.
func (m *root) leave() tea.Cmd {
	switch o := m.top().(type) {
	case nil:
		a := m.screens[screenAthletes].(*athletes)
		switch {
		case m.history != nil || m.frozen:
			m.present()
			m.tell(text, "live again")
		case m.on == screenAthletes && a.query != "":
			a.find("")
		}
	case *search:
		o.a.find("")
		m.pop()
	case *witness:
		m.pop()
		if o.begun() {
			m.tell(warn, "bib %s was typed and not saved", o.field.String())
		}
	default:
		m.pop()
	}
	return nil
}

// quit asks only where something would be lost.
func (m *root) quit() tea.Cmd {
	lost := ""
	if n := len(m.saver.queue); n > 0 {
		lost = race.Counted(n, "ruling is", "rulings are") + " not on disk yet."
	}
	for _, o := range m.over {
		switch o := o.(type) {
		case *witness:
			if o.begun() {
				lost = "A bib is typed and not saved."
			}
		case *form:
			if o.begun() {
				lost = "A ruling is begun and not saved."
			}
		}
	}
	if lost == "" {
		return tea.Quit
	}
	m.push(&ask{m.sight, lost})
	return nil
}

// copy puts the selected athlete in a line on the terminal's clipboard.
func (m *root) copy() tea.Cmd {
	r := m.sight.book.result(m.bib())
	if r == nil {
		m.tell(warn, "no athlete is meant here")
		return nil
	}
	s := strings.Join([]string{r.Bib, r.Name, r.State, span(r.Official), rankWords(r, m.sight.book.RanksOf(r))}, "\t")
	m.tell(good, "copied: %s", strings.ReplaceAll(s, "\t", "  "))
	seq := osc52.New(s)
	if os.Getenv("TMUX") != "" {
		seq = seq.Tmux()
	}
	return func() tea.Msg {
		if _, err := seq.WriteTo(os.Stderr); err != nil {
			return nil // without a clipboard the line can still be read
		}
		return nil
	}
}

func (m *root) nextTheme() tea.Cmd {
	for i, n := range ThemeNames {
		if n == m.sight.look.name {
			*m.sight.look = *newLook(ThemeNames[(i+1)%len(ThemeNames)], m.o.ASCII, m.profile)
			break
		}
	}
	m.tell(text, "theme %s", m.sight.look.name)
	return nil
}
