package tui

import (
	"slices"
	"strings"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/sahilm/fuzzy"

	"twinmat/reconcile/race"
)

// search is the line typed into while the Athletes screen narrows beneath it.
type search struct {
	*sight
	a     *athletes
	field field
	was   string
}

func (m *root) openSearch() tea.Cmd {
	a := m.screens[screenAthletes].(*athletes)
	m.turnTo(screenAthletes)
	m.push(&search{sight: m.sight, a: a, was: a.query})
	a.find("")
	return nil
}

func (s *search) scope() scope { return inSearch }
func (s *search) sync()        {}
func (s *search) typing() bool { return true }
func (s *search) bib() string  { return s.a.bib() }

func (s *search) typed(_ *root, k tea.KeyMsg) (tea.Cmd, bool) {
	if !s.field.key(k) {
		return nil, false
	}
	s.a.find(s.field.String())
	return nil, true
}

func (s *search) View(w, h int) string {
	p := newPage(s.look, w, h)
	r := p.line()
	r.put(head, "search").gap(1)
	s.field.draw(r, min(28, r.left()), true)
	r.gap(2).put(muted, "bib, name, chip or team; enter opens the story")
	p.add(lines(s.a.View(w, h-1)))
	return p.String()
}

// palette finds any action by its words, and takes a ruling typed in full.
type palette struct {
	*sight
	field field
	found []*action
	at    int
	trial trial
	of    string // the line that the trial is of
}

func (m *root) openPalette() tea.Cmd {
	p := &palette{sight: m.sight}
	m.push(p)
	p.list(m)
	return nil
}

func (p *palette) scope() scope  { return inPalette }
func (p *palette) sync()         {}
func (p *palette) typing() bool  { return true }
func (p *palette) tried() *trial { return &p.trial }

func (p *palette) typed(m *root, k tea.KeyMsg) (tea.Cmd, bool) {
	if !p.field.key(k) {
		return nil, false
	}
	p.at = 0
	p.list(m)
	return nil, true
}

// isRuling tells whether what is typed begins with a kind of ruling.
func (p *palette) isRuling() bool {
	first, _, more := strings.Cut(strings.TrimSpace(p.field.String()), " ")
	return more && slices.Contains(race.RulingKinds, first)
}

// list finds the actions that could be meant here, those that run first.
func (p *palette) list(m *root) {
	p.found = p.found[:0]
	under := m.under()
	var names []string
	var can []*action
	for i := range actions {
		a := &actions[i]
		if a.scope&under == 0 || a.silent {
			continue
		}
		names = append(names, a.help+" "+a.short+" "+a.id)
		can = append(can, a)
	}
	q := strings.TrimSpace(p.field.String())
	if q == "" {
		p.found = append(p.found, can...)
		return
	}
	for _, f := range fuzzy.Find(q, names) {
		p.found = append(p.found, can[f.Index])
	}
	q = strings.ToLower(q)
	slices.SortStableFunc(p.found, func(a, b *action) int { return a.far(q) - b.far(q) })
}

// far is how far what is typed is from an action's name: what the foot calls it stands before what
// has such a word, and that before what has but the letters, far apart.
func (a *action) far(typed string) int {
	if strings.HasPrefix(a.short, typed) || strings.HasPrefix(a.id, typed) {
		return 0
	}
	for _, w := range strings.Fields(strings.ToLower(a.help)) {
		if strings.HasPrefix(w, typed) {
			return 1
		}
	}
	return 2
}

// under is the scope beneath the palette.
func (m *root) under() scope {
	if n := len(m.over); n > 1 {
		return m.over[n-2].scope()
	}
	return m.screen().scope()
}

func (p *palette) enter(m *root) tea.Cmd {
	if p.isRuling() {
		return p.rule(m)
	}
	if p.at >= len(p.found) {
		m.tell(muted, "nothing here goes by that name")
		return nil
	}
	a := p.found[p.at]
	m.pop()
	return m.act(a)
}

// rule tries the line, then saves it.
func (p *palette) rule(m *root) tea.Cmd {
	if why := m.whyNoRuling(); why != "" {
		m.tell(warn, "%s", why)
		return nil
	}
	line := strings.TrimSpace(p.field.String())
	if p.of != line || p.trial.state == refused {
		p.of = line
		return m.try(&p.trial, nil, line)
	}
	if why := p.trial.why(); why != "" {
		m.tell(warn, "%s", why)
		return nil
	}
	r := p.trial.ruling()
	r.Why = p.reason()
	m.pop()
	return m.save(saving{ruling: r, words: p.trial.words})
}

// reason is why the ruling that was typed is made, as it will be kept.
func (p *palette) reason() string {
	if why := p.trial.ruling().Why; why != "" {
		return why
	}
	return "ruled at the console"
}

func (p *palette) View(w, h int) string {
	g := newPage(p.look, w, h)
	r := g.line()
	r.put(head, "do").gap(1)
	p.field.draw(r, r.left(), true)
	g.line()
	if p.isRuling() {
		if p.of == strings.TrimSpace(p.field.String()) {
			g.prose(strong, p.trial.words, 2)
			p.trial.draw(g, g.left()-2)
			if p.trial.state == ready {
				g.line().put(muted, "reason  ").put(text, p.reason())
				g.say(good, `enter saves it; --why "…" gives another reason`)
			}
			return g.String()
		}
		g.say(muted, "a ruling typed in full; enter shows what it would change")
		return g.String()
	}
	if len(p.found) == 0 {
		g.prose(muted, "nothing goes by that name. Rulings may be typed in full: "+race.RulingKinds[0]+" --tag … --bib …", 3)
	}
	top := max(p.at-g.left()+1, 0)
	for i := top; i < len(p.found) && g.left() > 0; i++ {
		a := p.found[i]
		r := g.pick(i == p.at)
		keys := ""
		if len(a.keys) > 0 {
			keys = keyName(a.keys[0], p.look)
		}
		r.right(keycap, keys, 9).gap(2).put(text, a.help)
		r.gap(r.left())
	}
	return g.String()
}

// back asks for the moment to look back to.
type back struct {
	*sight
	field field
}

func (b *back) scope() scope { return inBack }
func (b *back) sync()        {}
func (b *back) typing() bool { return true }
func (b *back) typed(_ *root, k tea.KeyMsg) (tea.Cmd, bool) {
	return nil, b.field.key(k)
}

func (b *back) View(w, h int) string {
	p := newPage(b.look, w, h)
	p.say(strong, "the race as it stood at an earlier time")
	p.line()
	r := p.line()
	r.put(head, "at ")
	b.field.draw(r, 12, true)
	r.gap(2).put(muted, "09:40 or 09:40:15 on the race clock, or -20: minutes ago")
	p.line()
	p.say(muted, "rulings wait while you look back; esc comes back to now")
	return p.String()
}

// ask asks before leaving what isn't saved.
type ask struct {
	*sight
	what string
}

func (a *ask) scope() scope { return inAsk }
func (a *ask) sync()        {}
func (a *ask) View(w, h int) string {
	p := newPage(a.look, w, h)
	p.line()
	p.prose(warn, a.look.warn+" "+a.what, 3)
	p.line()
	p.say(text, "enter leaves all the same; esc stays")
	return p.String()
}
