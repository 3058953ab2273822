package tui

import (
	"strings"

	"twinmat/reconcile/race"
)

// desk is the first screen: the cases by urgency with their evidence and proposal, and the
// leaders, held or not.
type desk struct {
	*sight
	t       table
	settled bool // show settled ones too
	all     bool // show every board of leaders
}

func newDesk(s *sight) *desk {
	return &desk{sight: s, t: table{cols: []column{
		{head: "case", w: 18}, {head: "who", w: 12}, {head: "where", w: 10, drop: 4}, {head: "at", w: 8, drop: 6},
		{head: "evidence", w: 12, drop: 2, stretch: true},
	}}}
}

func (d *desk) name() string            { return "desk" }
func (d *desk) scope() scope            { return onDesk }
func (d *desk) list() (*table, listing) { return &d.t, d }
func (d *desk) Len() int {
	if d.settled {
		return len(d.book.Suspects)
	}
	return d.book.open // they stand first
}
func (d *desk) ID(i int) string { return d.suspect(i).ID }
func (d *desk) suspect(i int) *race.Suspect {
	return &d.book.Suspects[i]
}

func (d *desk) sync() {
	// What is settled goes below the open cases: nothing came in above it.
	if s := d.book.suspect(d.t.first); s != nil && s.Settled && d.Len() > 0 {
		d.t.first = d.ID(0)
	}
	d.t.sync(d)
}

// Find is the row of a case, -1: none.
func (d *desk) Find(id string) int {
	if i, ok := d.book.cases.at[id]; ok && int(i) < d.Len() {
		return int(i)
	}
	return -1
}

// selected is the case under the cursor, nil for none.
func (d *desk) selected() *race.Suspect {
	if d.t.at >= d.Len() {
		return nil
	}
	return d.suspect(d.t.at)
}

func (d *desk) bib() string {
	if s := d.selected(); s != nil && len(s.Bibs) > 0 {
		return s.Bibs[0]
	}
	return ""
}

func (d *desk) Mark(l *look, i int) (ink, string) {
	k, sign, _ := weightOf(l, d.suspect(i))
	return k, sign
}

func (d *desk) Cell(i, col int) (ink, string) {
	s := d.suspect(i)
	switch col {
	case 0:
		k, _, _ := weightOf(d.look, s)
		return k, kindWords(s.Kind)
	case 1:
		if len(s.Bibs) > 0 {
			return strong, whoOf(s)
		}
		return text, ending(s.Tag, d.look.cut, 12)
	case 2:
		if s.Split != "" {
			return text, s.Split
		}
		return text, s.Line
	case 3:
		if !s.At.Known() {
			return muted, ""
		}
		return muted, clockOf(d.book.State, s.At)
	}
	return muted, s.Says
}

func (d *desk) View(w, h int) string {
	p := newPage(d.look, w, h)
	boards := len(d.book.Boards)
	room := min(boards, max(h/5, 2))
	if d.all {
		room = min(boards, h-6)
	}
	d.leaders(p, room)
	if d.Len() == 0 {
		d.empty(p)
		return p.String()
	}
	rest := p.left()
	if w >= 150 {
		left := newPage(d.look, w*55/100, rest)
		d.title(left)
		d.t.draw(left, d, left.left())
		right := newPage(d.look, w-left.w-1, rest)
		d.detail(right)
		d.beside(right)
		p.add(beside(d.look, left.done(), right.done()))
		return p.String()
	}
	detail := max(min(rest*2/5, 9), 4)
	d.title(p)
	rows := max(d.Len()+1, 6) // what few cases leave free is the evidence's
	d.t.draw(p, d, max(min(p.left()-detail, rows), 3))
	d.detail(p)
	return p.String()
}

func (d *desk) title(p *page) {
	r := p.line()
	r.put(strong, race.Counted(d.book.open, "open case", "open cases")).put(muted, ", "+race.Counted(d.book.holds, "holds results", "hold results"))
	if b := d.t.badge(d.look); b != "" {
		r.gap(2).put(accent, b)
	}
}

func (d *desk) empty(p *page) {
	p.line()
	if d.book.beingRead() {
		p.say(muted, beingRead)
		return
	}
	p.say(good, d.look.ok+" nothing waits for a ruling")
}

// detail writes the evidence of the selected case and what is proposed.
func (d *desk) detail(p *page) {
	s := d.selected()
	if s == nil {
		return
	}
	if p.written() > 0 {
		p.say(muted, strings.Repeat(d.look.rule, p.w))
	}
	caseHead(p, s)
	p.prose(text, s.Says, max(p.left()-1, 1)) // before the other rulings, which enter shows
	if s.Proposes != "" && p.left() > 0 {
		r := p.line()
		r.put(muted, "proposed ").put(strong, proposal(s.Proposes))
		if s.Strong {
			r.put(good, "  much the likeliest")
		}
	}
	if n := len(s.Others); n > 0 && p.left() > 0 {
		others := make([]string, n)
		for i, o := range s.Others {
			others[i] = proposal(o)
		}
		p.prose(muted, "or: "+listed(others, max(p.w/50, 1)), 2)
	}
	if p.w < 82 || p.h < 30 {
		for _, b := range s.Bibs {
			if r := d.book.result(b); r != nil && p.left() > 0 {
				who(p, d.book, r)
			}
		}
	}
}

// proposal is a ruling offered, as it is typed; an accept has its key.
func proposal(line string) string {
	if isAccept(line) {
		return "accept it as it stands (x)"
	}
	return line
}

// beside uses the room of a wide screen: the splits of those concerned.
func (d *desk) beside(p *page) {
	s := d.selected()
	if s == nil {
		return
	}
	for _, b := range s.Bibs {
		if r := d.book.result(b); r != nil && p.left() > len(r.Splits)+4 {
			p.line()
			t := telling{sight: d.sight, r: r, at: -1}
			who(p, d.book, r)
			t.standing(p)
			t.splits(p)
			t.others(p)
		}
	}
}

// who writes an athlete in one line.
func who(p *page, b *book, r *race.Result) {
	l := p.line()
	l.put(strong, r.Bib+" ").put(text, r.Name)
	for _, s := range []string{r.Sex, r.Category, r.Team} {
		if s != "" {
			l.put(muted, " "+p.look.mid+" "+s)
		}
	}
	if w := waveName(b.State, r); w != "" {
		l.put(muted, " "+p.look.mid+" wave "+w)
	}
	k, _, word := stateOf(p.look, r.State)
	l.gap(1).put(k, word)
	if r.Official.Known() {
		l.gap(1).put(strong, span(r.Official))
	}
}

func stateOf(l *look, state string) (ink, string, string) {
	switch state {
	case race.Clean:
		return good, l.ok, state
	case race.Held:
		return bad, l.hold, state
	case race.Running:
		return accent, l.run, state
	case race.Unseen:
		return muted, l.none, state
	}
	return muted, l.out, state
}
