package tui

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
	"twinmat/reconcile/standing"
)

// crossings shows who passes, at any line, newest first, and who is expected next.
type crossings struct {
	*sight
	t    table
	only int // line shown alone, -1: all
	rows []int32
}

func newCrossings(s *sight) *crossings {
	return &crossings{sight: s, only: -1, t: table{newest: true, cols: []column{
		{head: "at", w: 8}, {head: "where", w: 9}, {head: "bib", w: 6, right: true}, {head: "name", w: 14, stretch: true},
		{head: "sex", w: 3, drop: 5}, {head: "course", w: 9, drop: 6}, {head: "rank", w: 5, right: true}, {head: "by sex", w: 7, drop: 3, right: true},
		{head: "time", w: 9, right: true}, {head: "from", w: 6, drop: 2}, {head: "±s", w: 5, drop: 4, right: true},
	}}}
}

func (c *crossings) name() string            { return "crossings" }
func (c *crossings) scope() scope            { return onCrossings }
func (c *crossings) list() (*table, listing) { return &c.t, c }
func (c *crossings) Len() int                { return len(c.rows) }

func (c *crossings) row(i int) *standing.Crossing { return &c.book.Latest[c.rows[i]] }

func (c *crossings) ID(i int) string {
	x := c.row(i)
	if x.Result < 0 {
		return fmt.Sprint(c.book.Strays[x.Stray].Tag, "@", x.At)
	}
	return fmt.Sprint(c.book.Results[x.Result].Bib, "@", x.At)
}

func (c *crossings) sync() {
	c.rows = c.rows[:0]
	if c.only >= len(c.book.Plan.Lines) {
		c.only = -1
	}
	for i := range c.book.Latest {
		if c.only < 0 || c.passing(&c.book.Latest[i]).Line == c.only {
			c.rows = append(c.rows, int32(i))
		}
	}
	c.t.sync(c)
}

// nextLine goes through the lines: all, then each alone.
func (c *crossings) nextLine() {
	if c.only++; c.only >= len(c.book.Plan.Lines) {
		c.only = -1
	}
	c.t.id = ""
	c.sync()
}

func (c *crossings) passing(x *standing.Crossing) *race.Passing {
	if x.Result < 0 {
		return &c.book.Strays[x.Stray].Passings[x.Passing]
	}
	return &c.book.Results[x.Result].Passings[x.Passing]
}

func (c *crossings) bib() string {
	if c.t.at < len(c.rows) {
		if x := c.row(c.t.at); x.Result >= 0 {
			return c.book.Results[x.Result].Bib
		}
	}
	return ""
}

// tag is the stray chip under the cursor, "" for none.
func (c *crossings) tag() string {
	if c.t.at < len(c.rows) {
		if x := c.row(c.t.at); x.Result < 0 {
			return c.book.Strays[x.Stray].Tag
		}
	}
	return ""
}

func (c *crossings) Mark(l *look, i int) (ink, string) {
	x := c.row(i)
	if x.Result < 0 {
		return bad, l.hold
	}
	if p := c.passing(x); p.Fate != race.InSplit {
		return muted, l.out
	}
	k, sign, _ := stateOf(l, c.book.Results[x.Result].State)
	return k, sign
}

func (c *crossings) Cell(i, col int) (ink, string) {
	x := c.row(i)
	p := c.passing(x)
	if col == 0 {
		return text, clockOf(c.book.State, x.At)
	}
	if x.Result < 0 {
		return c.stray(x, p, col)
	}
	r := c.book.Results[x.Result]
	switch col {
	case 1:
		if p.Split >= 0 && p.Split < len(r.Splits) {
			return text, r.Splits[p.Split].ID
		}
		return muted, lineID(c.book, p.Line)
	case 2:
		return strong, r.Bib
	case 3:
		if p.Fate != race.InSplit {
			return muted, "(" + p.Fate.String() + ") " + r.Name // why it counts for nothing, first: a long name is cut
		}
		return text, r.Name
	case 4:
		return muted, r.Sex
	case 5:
		return muted, courseID(c.book, r.Course)
	case 6:
		return strong, number(x.Rank)
	case 7:
		if x.RankSex == 0 {
			return muted, ""
		}
		return text, strings.TrimSpace(r.Sex + " " + fmt.Sprint(x.RankSex))
	case 8:
		if p.Split < 0 || p.Split >= len(r.Splits) || r.Splits[p.Split].At <= 0 { // no time at a start
			return muted, ""
		}
		return text, whole(x.At.Sub(c.book.Began(r)))
	case 9:
		return fromInk(p.From), p.From.String()
	}
	return muted, seconds(p.PlusMinus)
}

func (c *crossings) stray(x *standing.Crossing, p *race.Passing, col int) (ink, string) {
	switch col {
	case 1:
		return text, lineID(c.book, p.Line)
	case 2:
		return bad, "?"
	case 3:
		return bad, "chip " + ending(c.book.Strays[x.Stray].Tag, c.look.cut, 11)
	}
	return muted, ""
}

func (c *crossings) View(w, h int) string {
	p := newPage(c.look, w, h)
	r := p.line()
	where := "all lines"
	if c.only >= 0 {
		where = "line " + lineID(c.book, c.only) + " alone"
	}
	r.put(strong, "latest passings").put(muted, ", "+where)
	if b := c.t.badge(c.look); b != "" {
		r.gap(2).put(accent, b)
	}
	if c.Len() == 0 {
		p.line()
		p.say(muted, "no passing yet")
		return p.String()
	}
	next := c.expected(max(h/4, 3) - 1)
	if w >= 150 {
		rest := p.left()
		left := newPage(c.look, w*2/3, rest)
		c.t.draw(left, c, rest)
		right := newPage(c.look, w-left.w-1, rest)
		c.next(right, c.expected(rest-2))
		p.add(beside(c.look, left.done(), right.done()))
		return p.String()
	}
	c.t.draw(p, c, p.left()-max(len(next), 1)-1)
	c.next(p, next)
	return p.String()
}

// expected are those who should come next, soonest first, none that is long overdue.
func (c *crossings) expected(n int) []standing.Out {
	var out []standing.Out
	c.book.StillOut(func(i int) bool {
		if len(out) >= n {
			return false
		}
		if at := c.book.Expected[i]; at.Known() && at.Add(60000) >= c.book.Now {
			out = append(out, standing.OutOf(c.book.State, i))
		}
		return true
	})
	return out
}

func (c *crossings) next(p *page, rows []standing.Out) {
	p.line().put(head, "expected next").put(muted, "  at their own level, as the field goes on")
	if len(rows) == 0 && p.left() > 0 {
		p.say(muted, "nobody that can be foreseen")
	}
	for _, o := range rows {
		if p.left() == 0 {
			return
		}
		x := c.book.Results[o.Result]
		r := p.line()
		r.gap(2).cell(accent, clockOf(c.book.State, o.Expected), 9).cell(text, o.Next, 10).right(strong, x.Bib, 6).gap(1).put(text, x.Name)
	}
}

func lineID(b *book, i int) string {
	if i < 0 || i >= len(b.Plan.Lines) {
		return "?"
	}
	return b.Plan.Lines[i].ID
}

func courseID(b *book, i int) string {
	if i < 0 || i >= len(b.Plan.Courses) {
		return "?"
	}
	return b.Plan.Courses[i].ID
}

func number(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

// whole writes a length cut to the second, for what is only looked at in passing.
func whole(d race.Millis) string {
	if !d.Known() {
		return ""
	}
	s := d.String()
	return s[:len(s)-4]
}

// seconds writes a half-width: a small one isn't none, and one of hours is whole in its column.
func seconds(d race.Millis) string {
	switch {
	case !d.Known():
		return ""
	case d > 0 && d < 10:
		return fmt.Sprintf("%.3f", d.Seconds())
	case d >= 100*1000:
		return fmt.Sprintf("%.0f", d.Seconds())
	}
	return fmt.Sprintf("%.2f", d.Seconds())
}

func fromInk(f race.From) ink {
	switch f {
	case race.FromMain:
		return text
	case race.FromRuling:
		return good
	}
	return accent
}
