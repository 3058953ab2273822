package tui

import (
	"fmt"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// alike is cases of one kind on the table together: what is decided is ruled for each by itself,
// with one decision of the person and the evidence of each.
type alike struct {
	*sight
	of      race.Suspect // the one that they are like
	reach   reach
	counts  [reaches]int // how many there are by reach
	rows    []race.Suspect
	without map[string]bool // ids that are left out
	t       table
	ways    []way
	at      int
	trial   trial
	reason  because
	anew    bool // what is taken, or its evidence, is another than what was tried
}

// reach is how far one looks for cases that are alike.
type reach int

const (
	thisSplit reach = iota
	thisLine
	anywhere
	reaches
)

// Of more than alikeMost the gravest are settled first: what they would change is worked out while
// the person waits.
const alikeMost = 500

// openAlike puts the case under the cursor on the table, with all that are like it.
func (m *root) openAlike() tea.Cmd {
	of := *m.desk().selected()
	if of.Settled {
		m.tell(muted, "that case is settled; u takes its ruling back")
		return nil
	}
	if !race.SuspectKindOf(of.Kind).OfOneCause {
		m.tell(muted, "%s: each is a question of its own; such cases are settled one by one", kindWords(of.Kind))
		return nil
	}
	a := &alike{sight: m.sight, of: of, without: map[string]bool{}, t: table{cols: []column{
		{head: "who", w: 12}, {head: "where", w: 10}, {head: "at", w: 8, drop: 4}, {head: "ruling", w: 15}, {head: "evidence", w: 12, drop: 2, stretch: true},
	}}}
	a.count()
	if a.counts[anywhere] < 2 {
		m.tell(muted, "no other open case is of this kind and proposes the same; enter settles this one")
		return nil
	}
	for a.counts[a.reach] < 2 {
		a.reach++
	}
	a.ways = waysOf(&of)
	a.gather()
	m.push(a)
	if why := m.whyNoRuling(); why != "" {
		m.tell(warn, "%s", why)
	}
	return a.consider(m)
}

// like tells whether an open case is alike, looked for so far: of the same kind, and its evidence
// speaks for the same ruling. Who cut the course isn't alike to whom the mats missed.
func (a *alike) like(s *race.Suspect, far reach) bool {
	return s.Kind == a.of.Kind && verbOf(s.Proposes) == verbOf(a.of.Proposes) && (far == anywhere || s.Line == a.of.Line && (far == thisLine || s.Split == a.of.Split))
}

func (a *alike) count() {
	clear(a.counts[:])
	for i := range a.book.open {
		for far := range reaches {
			if a.like(&a.book.Suspects[i], far) {
				a.counts[far]++
			}
		}
	}
}

// gather takes those that are alike, and for which the chosen way is one.
func (a *alike) gather() {
	a.rows = a.rows[:0]
	for i := 0; i < a.book.open && len(a.rows) < alikeMost; i++ {
		if s := &a.book.Suspects[i]; a.like(s, a.reach) && a.ways[a.at].of(s) != "" {
			a.rows = append(a.rows, *s)
		}
	}
	a.t.sync(a)
}

// taken are those that aren't left out.
func (a *alike) taken() []race.Suspect {
	var out []race.Suspect
	for _, s := range a.rows {
		if !a.without[s.ID] {
			out = append(out, s)
		}
	}
	return out
}

// taking is how many those are.
func (a *alike) taking() int {
	n := 0
	for i := range a.rows {
		if !a.without[a.rows[i].ID] {
			n++
		}
	}
	return n
}

// consider tries the rulings on all that are taken.
func (a *alike) consider(m *root) tea.Cmd {
	a.anew = false
	taken, way := a.taken(), a.ways[a.at]
	if len(taken) == 0 {
		a.trial = trial{}
		return nil
	}
	a.reason.offer(a.offered())
	lines := make([]string, len(taken))
	for i := range taken {
		lines[i] = way.of(&taken[i])
	}
	return m.try(&a.trial, func(i int, r *race.Ruling) {
		if r.Why = reasonFor(&taken[i], way.accepts()); way.accepts() {
			r.Evidence = taken[i].Evidence
		}
	}, lines...)
}

// enter looks again where anything is another, else rules.
func (a *alike) enter(m *root) tea.Cmd {
	if a.anew {
		return a.consider(m)
	}
	m.pop()
	if a.reason.own {
		for i := range a.trial.rulings {
			a.trial.rulings[i].Why = a.reason.String()
		}
	}
	return m.saveLot(a.trial.rulings)
}

func (a *alike) whyNot() string {
	switch {
	case a.taking() == 0:
		return "every case is left out: space takes one in again"
	case a.anew:
		return "" // enter looks again first
	case a.reason.String() == "":
		return "a ruling needs its reason: e writes one"
	}
	return a.trial.why()
}

// choose turns to another way of settling them.
func (a *alike) choose(m *root, i int) tea.Cmd {
	if i < 0 || i >= len(a.ways) {
		m.tell(muted, "there is no choice %d", i+1)
		return nil
	}
	a.at = i
	a.gather()
	return a.consider(m)
}

// further looks for those that are alike further off, and then near again.
func (a *alike) further(m *root) tea.Cmd {
	was := a.counts[a.reach]
	for range reaches {
		if a.reach = (a.reach + 1) % reaches; a.counts[a.reach] > 1 && a.counts[a.reach] != was {
			break
		}
	}
	a.gather()
	return a.consider(m)
}

// toggle leaves the one under the cursor out, or takes it in.
func (a *alike) toggle() {
	if a.t.at >= len(a.rows) {
		return
	}
	id := a.rows[a.t.at].ID
	a.without[id] = !a.without[id]
	a.anew = true
	a.t.move(a, 1)
}

// sync drops what is settled, gone or no longer alike, and looks whether the others are still the same.
func (a *alike) sync() {
	rows := a.rows[:0]
	for _, s := range a.rows {
		now := a.book.suspect(s.ID)
		if now == nil || now.Settled || !a.like(now, a.reach) || a.ways[a.at].of(now) == "" {
			a.anew = true
			continue
		}
		a.anew = a.anew || now.Evidence != s.Evidence || now.Proposes != s.Proposes
		rows = append(rows, *now)
	}
	a.rows = rows
	a.count()
	a.t.sync(a)
}

// write begins a reason of the person's own: what is offered only stands for those of each.
func (a *alike) write() {
	if !a.reason.own {
		a.reason.field.set("")
	}
	a.reason.writing = true
}

func (a *alike) tried() *trial     { return &a.trial }
func (a *alike) because() *because { return &a.reason }

// offered stands for the evidence of each, which is its reason unless the person writes one for all.
func (a *alike) offered() string {
	if a.ways[a.at].accepts() {
		return "looked at, right as it stands: the evidence of each"
	}
	return "the evidence of each"
}

func (a *alike) scope() scope {
	if a.reason.writing {
		return inReason
	}
	return inAlike
}

func (a *alike) typing() bool { return a.reason.writing }

func (a *alike) typed(_ *root, k tea.KeyMsg) (tea.Cmd, bool) { return a.reason.typed(k) }

func (a *alike) bib() string {
	if a.t.at < len(a.rows) && len(a.rows[a.t.at].Bibs) > 0 {
		return a.rows[a.t.at].Bibs[0]
	}
	return ""
}

func (a *alike) Len() int        { return len(a.rows) }
func (a *alike) ID(i int) string { return a.rows[i].ID }

func (a *alike) Mark(l *look, i int) (ink, string) {
	if a.without[a.rows[i].ID] {
		return muted, l.none
	}
	return good, l.ok
}

func (a *alike) Cell(i, col int) (ink, string) {
	s := &a.rows[i]
	out := a.without[s.ID]
	switch {
	case col == 0 && len(s.Bibs) == 0:
		return text, ending(s.Tag, a.look.cut, 12)
	case col == 0:
		return strong, whoOf(s)
	case col == 1 && s.Split != "":
		return text, s.Split
	case col == 1:
		return text, s.Line
	case col == 2 && s.At.Known():
		return muted, clockOf(a.book.State, s.At)
	case col == 3 && out:
		return muted, "left out"
	case col == 3 && a.ways[a.at].accepts():
		return text, "accept"
	case col == 3:
		return text, a.ways[a.at].verb
	case col == 4:
		return muted, s.Says
	}
	return muted, ""
}

func (a *alike) View(w, h int) string {
	p := newPage(a.look, w, h)
	a.title(p)
	if a.of.Kind == race.Overdue {
		p.prose(warn, caution, 3)
	}
	if a.o.ReadOnly {
		p.prose(warn, a.look.warn+" looked at only: what the rulings would change is shown, none can be made", 2)
	}
	for i, x := range a.ways {
		r := p.pick(i == a.at).put(keycap, fmt.Sprint(i+1)).gap(1)
		if x.accepts() {
			r.put(text, "accept: each is right as it stands")
		} else {
			r.put(text, x.verb+" for each").gap(3).put(muted, "like "+x.like)
		}
		r.space(text, r.left())
	}
	a.reason.draw(p)
	a.t.draw(p, a, max(min(len(a.rows)+1, p.left()*3/5), 3))
	if a.t.at < len(a.rows) {
		p.prose(text, a.rows[a.t.at].Says, 2)
	}
	p.line()
	if a.anew {
		p.prose(warn, a.look.warn+" not looked at yet as it is now; enter shows what it would change", 2)
		return p.String()
	}
	a.trial.draw(p, p.left()-1)
	if a.trial.state == ready {
		p.say(good, fmt.Sprintf("enter makes %s, one for each case", race.Counted(len(a.trial.rulings), "ruling", "rulings")))
	}
	return p.String()
}

// title says what they are, how far they were looked for, and how many are taken.
func (a *alike) title(p *page) {
	r := p.line()
	k, sign, word := weightOf(p.look, &a.of)
	r.put(k, sign+" "+word).gap(2).put(strong, kindWords(a.of.Kind)).gap(1)
	switch {
	case a.reach == thisSplit && a.of.Split != "":
		r.put(text, "at "+a.of.Split)
	case a.reach < anywhere && a.of.Line != "":
		r.put(text, "at line "+a.of.Line)
	}
	r.gap(2).put(text, fmt.Sprintf("%d of %d cases", a.taking(), a.counts[a.reach]))
	if a.counts[a.reach] > alikeMost {
		r.put(muted, fmt.Sprintf(", %d at a time", alikeMost))
	}
}
