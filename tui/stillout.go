package tui

import (
	"fmt"

	"twinmat/reconcile/race"
	"twinmat/reconcile/standing"
)

// caution stands over the list always: it is read by people who look for somebody.
const caution = "A chip that isn't read says nothing about where a person is, or how they are. " +
	"The event's safety and medical plan and the marshals decide what to do."

// out lists who hasn't come in.
type out struct {
	*sight
	t       table
	rows    []int32         // indexes in book.Results
	only    int             // course alone, -1: all
	overdue map[string]bool // by bib: so late that hardly anybody like them is
	late    int             // of the rows
}

func newOut(s *sight) *out {
	return &out{sight: s, only: -1, t: table{cols: []column{
		{head: "bib", w: 6, right: true}, {head: "name", w: 14, stretch: true}, {head: "course", w: 9, drop: 4}, {head: "wave", w: 5, drop: 6},
		{head: "last place", w: 10}, {head: "read at", w: 8, drop: 2}, {head: "since", w: 8, right: true}, {head: "next", w: 9, drop: 3},
		{head: "about", w: 8, drop: 1}, {head: "late by", w: 8, right: true},
	}}}
}

func (o *out) name() string            { return "still out" }
func (o *out) scope() scope            { return onOut }
func (o *out) list() (*table, listing) { return &o.t, o }
func (o *out) Len() int                { return len(o.rows) }
func (o *out) row(i int) standing.Out  { return standing.OutOf(o.book.State, int(o.rows[i])) }
func (o *out) ID(i int) string         { return o.result(i).Bib }

func (o *out) result(i int) *race.Result { return o.book.Results[o.rows[i]] }

func (o *out) bib() string {
	if o.t.at < len(o.rows) {
		return o.ID(o.t.at)
	}
	return ""
}

func (o *out) sync() {
	o.rows, o.late, o.overdue = o.rows[:0], 0, o.book.overdue()
	if o.only >= len(o.book.Plan.Courses) {
		o.only = -1
	}
	o.book.StillOut(func(i int) bool {
		if r := o.book.Results[i]; o.only < 0 || r.Course == o.only {
			o.rows = append(o.rows, int32(i))
			if o.overdue[r.Bib] {
				o.late++
			}
		}
		return true
	})
	o.t.sync(o)
}

// nextCourse goes through the courses: all, then each alone.
func (o *out) nextCourse() {
	if o.only++; o.only >= len(o.book.Plan.Courses) {
		o.only = -1
	}
	o.t.id = ""
	o.sync()
}

// Mark warns of who is overdue: half of a field comes later than its middle.
func (o *out) Mark(l *look, i int) (ink, string) {
	if o.overdue[o.ID(i)] {
		return warn, l.warn
	}
	return accent, l.run
}

func (o *out) Cell(i, col int) (ink, string) {
	x, r := o.row(i), o.result(i)
	switch col {
	case 0:
		return strong, r.Bib
	case 1:
		return text, r.Name
	case 2:
		return muted, courseID(o.book, r.Course)
	case 3:
		return muted, waveName(o.book.State, r)
	case 4:
		return text, orDash(x.Place)
	case 5:
		return muted, clockOf(o.book.State, x.Last)
	case 6:
		return text, hours(o.book.Now.Sub(x.Last))
	case 7:
		return muted, x.Next
	case 8:
		if !x.Expected.Known() {
			return muted, "-"
		}
		return text, clockOf(o.book.State, x.Expected)
	}
	switch {
	case x.Late <= 0:
		return muted, ""
	case o.overdue[r.Bib]:
		return warn, hours(x.Late)
	}
	return muted, hours(x.Late)
}

// hours writes a length to the minute, or to the second below ten minutes.
func hours(d race.Millis) string {
	if !d.Known() {
		return "-"
	}
	if d < 0 {
		d = 0
	}
	s := int64(d / 1000)
	if s < 600 {
		return fmt.Sprintf("%dm%02d", s/60, s%60) // with its unit: hours stand in the same column
	}
	return fmt.Sprintf("%dh%02d", s/3600, s/60%60)
}

func (o *out) View(w, h int) string {
	p := newPage(o.look, w, h)
	p.prose(warn, o.look.warn+" "+caution, 4)
	where := ""
	if o.only >= 0 {
		where = ", " + courseID(o.book, o.only) + " alone"
	}
	if o.book.beingRead() {
		p.line()
		p.say(muted, beingRead)
		return p.String()
	}
	many := fmt.Sprintf("%d on the way, %d overdue", o.Len(), o.late)
	rest := fmt.Sprintf("%s, longest awaited first; %d unseen are not here", where, o.book.total(race.Unseen))
	if cells(clean(many+rest)) <= w {
		p.line().put(strong, many).put(muted, rest)
	} else {
		p.prose(muted, many+rest, 3)
	}
	if o.Len() == 0 {
		p.line()
		p.say(muted, "nobody who was seen is still out")
		return p.String()
	}
	o.t.draw(p, o, p.left())
	return p.String()
}
