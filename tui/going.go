package tui

import (
	"fmt"
	"slices"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// going is what an export would write now: counts, what is held and why, and whose rows are
// others than in the files that lie there, whoever exported them.
type going struct {
	*sight
	t     table
	said  string // what the last export from this console said
	since since
	of    *book // the book that since is of, nil: ask
	busy  bool
}

// since is what has changed since the files on disk were exported.
type since struct {
	bibs     []string
	exported bool // there are such files
	err      error
}

func newGoing(s *sight) *going {
	return &going{sight: s, t: table{cols: []column{
		{head: "held for", w: 20}, {head: "cases", w: 6, right: true}, {head: "athletes", w: 8, right: true}, {head: "whom", w: 12, stretch: true},
	}}}
}

func (g *going) name() string            { return "export" }
func (g *going) scope() scope            { return onGoing }
func (g *going) list() (*table, listing) { return &g.t, g }
func (g *going) Len() int                { return len(g.book.held) }
func (g *going) ID(i int) string         { return g.book.held[i].kind }

func (g *going) sync() { g.t.sync(g) }

func (g *going) Mark(l *look, _ int) (ink, string) { return bad, l.hold }

func (g *going) Cell(i, col int) (ink, string) {
	r := &g.book.held[i]
	switch col {
	case 0:
		return bad, kindWords(r.kind)
	case 1:
		return text, fmt.Sprint(r.open)
	case 2:
		return text, fmt.Sprint(r.held)
	}
	if len(r.bibs) == 0 {
		return muted, "no athlete listed; see the desk"
	}
	return text, listedOf(r.bibs, r.held, 30)
}

func (g *going) View(w, h int) string {
	p := newPage(g.look, w, h)
	g.counts(p)
	p.line()
	g.changed(p)
	p.line()
	if g.Len() == 0 {
		p.say(good, g.look.ok+" nothing is held")
		return p.String()
	}
	g.t.draw(p, g, p.left())
	return p.String()
}

// changed tells of the last export and of what has changed since.
func (g *going) changed(p *page) {
	if g.said != "" {
		p.prose(good, g.look.ok+" "+g.said, 3)
	}
	r := p.line()
	switch {
	case g.still:
		r.put(muted, "held still; z goes on, and tells what has changed since the files were exported")
	case g.since.err != nil:
		r.put(warn, "what was exported before can't be read: "+g.since.err.Error())
	case !g.since.exported:
		r.put(muted, "not exported yet; E writes the files")
	case len(g.since.bibs) == 0:
		r.put(muted, "nothing has changed since the files were exported")
	default:
		n := len(g.since.bibs)
		r.put(warn, race.Counted(n, "athlete has", "athletes have")+" changed since the files were exported: ")
		for i, b := range g.since.bibs {
			if i > 8 {
				r.put(muted, " …")
				break
			}
			r.put(strong, " "+b)
		}
	}
}

// counts writes the states of each course, and of those whom no course has: the files have them too.
func (g *going) counts(p *page) {
	r := p.line()
	r.force, r.forced = true, head
	r.gap(2).cell(head, "course", 12)
	for _, s := range race.States {
		r.right(head, s, 8)
	}
	r.gap(r.left())
	for i, t := range g.book.Tally {
		if p.left() < 8 {
			return
		}
		name := "not listed"
		if i < len(g.book.Plan.Courses) {
			name = courseID(g.book, i)
		} else if !slices.ContainsFunc(t, func(n int) bool { return n > 0 }) {
			return
		}
		r := p.line()
		r.gap(2).cell(strong, name, 12)
		for k, n := range t {
			ink, _, _ := stateOf(g.look, race.States[k])
			if n == 0 {
				ink = muted
			}
			r.right(ink, fmt.Sprint(n), 8)
		}
	}
}

type exportedAnswer struct {
	said string
	err  error
}

// export writes the files, away from the program's loop.
func (m *root) export() tea.Cmd {
	g := m.screens[screenGoing].(*going)
	if g.busy {
		m.tell(muted, "an export is being written")
		return nil
	}
	g.busy = true
	m.tell(muted, "writing the export …")
	desk := m.o.Desk
	return m.guarded(func() tea.Msg {
		said, err := desk.Export()
		return exportedAnswer{said, err}
	})
}

func (a exportedAnswer) deliver(m *root) tea.Cmd {
	g := m.screens[screenGoing].(*going)
	g.busy = false
	if a.err != nil {
		m.tell(bad, "NOT exported: %v", a.err)
		return nil
	}
	g.said, g.of = a.said, nil
	m.tell(good, "%s", a.said)
	return g.compareSince(m)
}

type sinceAnswer struct {
	of *book
	s  since
}

// compareSince asks what changed since the files were exported, when something may have.
func (g *going) compareSince(m *root) tea.Cmd {
	if g.of == g.book || g.book.past || g.book.State == nil || m.o.Desk == nil {
		return nil
	}
	g.of = g.book
	b, desk := g.book, m.o.Desk
	return m.guarded(func() tea.Msg {
		bibs, exported, err := desk.Since(b.State)
		return sinceAnswer{b, since{bibs, exported, err}}
	})
}

func (a sinceAnswer) deliver(m *root) tea.Cmd {
	if g := m.screens[screenGoing].(*going); g.of == a.of {
		g.since = a.s
	}
	return nil
}
