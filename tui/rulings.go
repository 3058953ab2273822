package tui

import (
	"fmt"
	"strings"
	"time"

	"twinmat/reconcile/race"
)

// rulings is everything that was decided, newest first.
type rulings struct {
	*sight
	t table
}

func newRulings(s *sight) *rulings {
	return &rulings{sight: s, t: table{newest: true, cols: []column{
		{head: "no", w: 4, right: true}, {head: "made", w: 8, drop: 2}, {head: "by", w: 8, drop: 4}, {head: "ruling", w: 28},
		{head: "reason", w: 12, drop: 1, stretch: true},
	}}}
}

func (u *rulings) name() string            { return "rulings" }
func (u *rulings) scope() scope            { return onRulings }
func (u *rulings) list() (*table, listing) { return &u.t, u }
func (u *rulings) Len() int                { return len(u.book.Rulings) }
func (u *rulings) sync()                   { u.t.sync(u) }
func (u *rulings) ID(i int) string         { return fmt.Sprint(u.ruling(i).Seq) }

func (u *rulings) ruling(i int) *race.Ruling { return &u.book.Rulings[len(u.book.Rulings)-1-i] }

func (u *rulings) selected() *race.Ruling {
	if u.t.at >= u.Len() {
		return nil
	}
	return u.ruling(u.t.at)
}

func (u *rulings) bib() string {
	if r := u.selected(); r != nil {
		return r.Bib
	}
	return ""
}

func (u *rulings) Mark(l *look, i int) (ink, string) {
	r := u.ruling(i)
	if _, undone := u.book.Undone[r.Seq]; undone {
		return muted, l.undone
	}
	if r.Rule == race.Undo {
		return muted, l.none
	}
	if u.book.Idle[r.Seq] != "" {
		return warn, l.warn
	}
	return good, l.ok
}

func (u *rulings) Cell(i, col int) (ink, string) {
	r := u.ruling(i)
	k := text
	if _, undone := u.book.Undone[r.Seq]; undone {
		k = muted
	}
	switch col {
	case 0:
		return k, fmt.Sprint(r.Seq)
	case 1:
		return muted, u.madeAt(r)
	case 2:
		return muted, r.Who
	case 3:
		return k, u.words(r)
	}
	return muted, r.Why
}

// madeAt is when a ruling was made, in the race's zone as every other time here: a laptop may be on
// another.
func (u *rulings) madeAt(r *race.Ruling) string {
	if t, err := time.Parse(time.RFC3339, r.Made); err == nil {
		return t.In(zoneOf(u.book)).Format("15:04:05")
	}
	return r.Made
}

func (u *rulings) words(r *race.Ruling) string {
	if u.o.Desk != nil {
		return wordsOf(u.o.Desk, *r)
	}
	return r.Rule
}

func (u *rulings) View(w, h int) string {
	p := newPage(u.look, w, h)
	r := p.line()
	r.put(strong, race.Counted(u.Len(), "ruling", "rulings")).put(muted, fmt.Sprintf(", %d taken back", len(u.book.Undone)))
	if b := u.t.badge(u.look); b != "" {
		r.gap(2).put(accent, b)
	}
	if u.Len() == 0 {
		p.line()
		p.say(muted, "nothing has been ruled yet")
		return p.String()
	}
	u.t.draw(p, u, p.left()-min(6, h/3))
	s := u.selected()
	p.say(muted, strings.Repeat(u.look.rule, w))
	p.line().put(strong, fmt.Sprintf("%d ", s.Seq)).put(text, u.words(s))
	p.prose(muted, "because: "+s.Why, 2)
	p.line().put(muted, "made "+s.Made+" by "+s.Who)
	if by, undone := u.book.Undone[s.Seq]; undone {
		p.line().put(warn, fmt.Sprintf("%s taken back by ruling %d", u.look.undone, by))
	}
	if why := u.book.Idle[s.Seq]; why != "" {
		p.prose(warn, u.look.warn+" it changes nothing now: "+why, 2)
	}
	return p.String()
}
