package tui

import (
	"fmt"
	"slices"
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// settle is one case on the table: the evidence, the rulings offered, and what the chosen
// one would change.
type settle struct {
	*sight
	s       race.Suspect // as it was when opened or last looked at again
	gone    string       // why there is nothing left to settle
	choices []choice
	at      int
	trial   trial
	reason  because
	anew    bool // the evidence changed: the trial must be made again
}

type choice struct {
	line   string // arguments of `rule`
	words  string // the same as people say it, "" until the desk has told
	accept bool
}

// choicesAnswer are the choices of a case in words, by their lines.
type choicesAnswer struct {
	of    *settle
	words map[string]string
}

func (a choicesAnswer) deliver(*root) tea.Cmd {
	for i := range a.of.choices {
		c := &a.of.choices[i]
		c.words = a.words[c.line]
	}
	return nil
}

// inWords asks the desk how people say the choices.
func (t *settle) inWords(m *root) tea.Cmd {
	if m.o.Desk == nil {
		return nil
	}
	var asked []string
	for _, c := range t.choices {
		if c.words == "" && !c.accept {
			asked = append(asked, c.line)
		}
	}
	if len(asked) == 0 {
		return nil
	}
	desk := m.o.Desk
	return m.guarded(func() tea.Msg {
		words := map[string]string{}
		for _, line := range asked {
			if r, err := desk.Parse(line); err == nil {
				words[line] = wordsOf(desk, r)
			}
		}
		return choicesAnswer{t, words}
	})
}

// openSettle puts a case on the table, on the proposal or on accepting it as it stands.
func (m *root) openSettle(id string, accept bool) tea.Cmd {
	s := m.live.suspect(id)
	if s == nil {
		m.tell(muted, "that case is gone: later reads have cleared it")
		return nil
	}
	t := &settle{sight: m.sight}
	t.lay(*s)
	if accept {
		t.at = t.acceptAt()
	}
	m.push(t)
	m.watch.opened(id)
	if why := m.whyNoRuling(); why != "" {
		m.tell(warn, "%s", why) // now, not after the case has been thought through
	}
	return t.consider(m)
}

func (t *settle) lay(s race.Suspect) {
	t.s = s
	t.choices = t.choices[:0]
	if s.Proposes != "" && !isAccept(s.Proposes) {
		t.choices = append(t.choices, choice{line: s.Proposes})
	}
	for _, o := range s.Others {
		if o != "" && o != s.Proposes && !isAccept(o) {
			t.choices = append(t.choices, choice{line: o})
		}
	}
	accepts := choice{line: race.AcceptLine(s.ID), accept: true}
	if isAccept(s.Proposes) { // the likeliest stands first, whatever it is, and the others stay in their order
		t.choices = slices.Insert(t.choices, 0, accepts)
	} else {
		t.choices = append(t.choices, accepts)
	}
	t.at = min(t.at, len(t.choices)-1)
}

func isAccept(line string) bool { return strings.HasPrefix(line, race.Accept+" ") }

// acceptAt is the choice that accepts.
func (t *settle) acceptAt() int {
	for i, c := range t.choices {
		if c.accept {
			return i
		}
	}
	return 0
}

// consider tries the choice under the cursor.
func (t *settle) consider(m *root) tea.Cmd {
	c := t.choices[t.at]
	t.reason.offer(t.offered())
	t.anew = false
	evidence := t.s.Evidence
	return batch([]tea.Cmd{t.inWords(m), m.try(&t.trial, func(_ int, r *race.Ruling) {
		if r.Rule == race.Accept && r.Evidence == "" {
			r.Evidence = evidence
		}
	}, c.line)})
}

func (t *settle) because() *because { return &t.reason }
func (t *settle) offered() string   { return reasonFor(&t.s, t.choices[t.at].accept) }

// reasonFor is the reason offered for what is ruled on a case.
func reasonFor(s *race.Suspect, accept bool) string {
	if accept {
		return "looked at, right as it stands: " + s.Says
	}
	return s.Says
}

func (t *settle) choose(m *root, i int) tea.Cmd {
	if i < 0 || i >= len(t.choices) {
		m.tell(muted, "there is no choice %d", i+1)
		return nil
	}
	t.at = i
	return t.consider(m)
}

func (t *settle) apply(m *root) tea.Cmd {
	if t.anew {
		return t.consider(m)
	}
	r := t.trial.ruling()
	r.Why = t.reason.String()
	m.pop()
	return m.save(saving{ruling: r, words: t.trial.words})
}

func (t *settle) whyNot() string {
	switch {
	case t.gone != "":
		return t.gone
	case t.anew:
		return "" // enter looks again first
	case t.reason.String() == "":
		return "a ruling needs its reason: e writes one"
	}
	return t.trial.why()
}

// sync looks whether the case is still the same.
func (t *settle) sync() {
	s := t.book.suspect(t.s.ID)
	switch {
	case s == nil:
		t.gone = "later reads have cleared this case"
	case s.Settled:
		t.gone = fmt.Sprintf("settled by ruling %d", s.SettledBy)
	case s.Evidence != t.s.Evidence || s.Proposes != t.s.Proposes:
		t.gone = ""
		t.lay(*s)
		t.anew = true
	default:
		t.gone = ""
	}
}

func (t *settle) tried() *trial { return &t.trial }

func (t *settle) scope() scope {
	if t.reason.writing {
		return inReason
	}
	return inSettle
}

func (t *settle) bib() string {
	if len(t.s.Bibs) > 0 {
		return t.s.Bibs[0]
	}
	return ""
}

func (t *settle) typing() bool { return t.reason.writing }

func (t *settle) typed(_ *root, k tea.KeyMsg) (tea.Cmd, bool) { return t.reason.typed(k) }

func (t *settle) View(w, h int) string {
	p := newPage(t.look, w, h)
	low := h < lowTable
	caseHead(p, &t.s)
	evidence := 4
	if low { // all of it stands in the story too
		evidence = min(max(h-min(len(t.choices), offersShown)-effectLeast-2, 2), 4)
	}
	p.prose(text, t.s.Says, evidence)
	if t.o.ReadOnly {
		p.prose(warn, t.look.warn+" looked at only: what a ruling would change is shown, none can be made", 2)
	}
	if t.gone != "" {
		p.say(warn, t.look.warn+" "+t.gone)
	} else if t.anew {
		p.prose(warn, t.look.warn+" the evidence has changed since you looked; enter looks again", 2)
	}
	p.apart(low)
	t.offers(p)
	p.apart(low)
	t.reason.draw(p)
	p.apart(low)
	what := "would change"
	if t.trial.state == ready && t.trial.words != "" {
		what = t.trial.words
	}
	p.prose(strong, what, 2)
	t.trial.draw(p, p.left())
	return p.String()
}

// On a table lower than lowTable nothing is set apart by empty lines, and of evidence and effect
// the effect has effectLeast lines, its heading among them: nobody rules what they haven't seen.
const (
	lowTable    = 18
	effectLeast = 5
)

// apart leaves a line empty where there is room for that.
func (p *page) apart(low bool) {
	if !low {
		p.line()
	}
}

// Of the rulings offered so many are always shown, and so many lines are left to what stands below.
const (
	offersShown = 6
	belowOffers = 9
)

// offers writes the rulings that may be chosen; those for which there is no room are counted, and
// one of them that is chosen all the same stands last.
func (t *settle) offers(p *page) {
	n := max(offersShown, p.left()-belowOffers)
	if n >= len(t.choices) {
		for i, c := range t.choices {
			t.choice(p, i, c)
		}
		return
	}
	for i, c := range t.choices[:n] {
		t.choice(p, i, c)
	}
	if t.at >= n {
		t.choice(p, t.at, t.choices[t.at])
	}
	p.say(muted, fmt.Sprintf("  %d offered in all: tab goes through them", len(t.choices)))
}

func (t *settle) choice(p *page, i int, c choice) {
	r := p.pick(i == t.at).put(keycap, fmt.Sprint(i+1)).gap(1)
	switch {
	case c.accept:
		r.put(text, "accept: right as it stands")
		if i == 0 && t.s.Strong && isAccept(t.s.Proposes) {
			r.put(good, "  much the likeliest")
		}
	default:
		says := c.words
		if says == "" {
			says = c.line
		}
		tail := ""
		if i == 0 && t.s.Proposes != "" && t.s.Strong {
			tail = "  much the likeliest"
		}
		k := text
		if i == 0 && t.s.Proposes != "" {
			k = strong
		}
		r.write(k, says, r.left()-cells(tail), false).put(good, tail)
		if c.words != "" && r.left() > cells(c.line)+4 {
			r.gap(3).put(muted, c.line) // as it is typed
		}
	}
	r.space(text, r.left())
}

// caseHead names a case in one line: its weight, its kind, whom and what it concerns.
func caseHead(p *page, s *race.Suspect) {
	r := p.line()
	k, sign, word := weightOf(p.look, s)
	r.put(k, sign+" "+word).gap(2).put(strong, kindWords(s.Kind)).gap(2)
	if who := whoOf(s); who != "" {
		r.put(strong, who).gap(1)
	}
	if s.Tag != "" {
		r.put(text, "chip "+s.Tag).gap(1)
	}
	if s.Split != "" {
		r.put(text, "at "+s.Split)
	} else if s.Line != "" {
		r.put(text, "at line "+s.Line)
	}
}

// whoOf is whom a case is about. Whose a chip is that nobody owns is only thought: another may be
// as likely, and the next read may say so.
func whoOf(s *race.Suspect) string {
	who := strings.Join(s.Bibs, " ")
	if who != "" && s.Kind == race.UnassignedChip && !s.Settled {
		who += "?"
	}
	return who
}

func weightOf(l *look, s *race.Suspect) (ink, string, string) {
	switch {
	case s.Settled:
		return good, l.ok, "settled"
	case s.Weight == race.Hold:
		return bad, l.hold, "holds"
	}
	return warn, l.lookat, "look"
}

// kindWords are the kinds of suspect as people say them.
func kindWords(kind string) string { return race.SuspectKindOf(kind).Words }
