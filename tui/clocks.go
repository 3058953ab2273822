package tui

import (
	"fmt"
	"math"

	"twinmat/reconcile/race"
)

// clocks shows each log's clock against its reference: in words, in figures, and the
// residuals of the model over time.
type clocks struct {
	*sight
	t table
}

func newClocks(s *sight) *clocks {
	return &clocks{sight: s, t: table{cols: []column{
		{head: "line", w: 9}, {head: "system", w: 6}, {head: "from", w: 8, drop: 5}, {head: "to", w: 8, drop: 4},
		{head: "ahead s", w: 10, right: true}, {head: "± s", w: 6, drop: 1, right: true}, {head: "drift ppm", w: 9, drop: 3, right: true},
		{head: "behind m", w: 8, drop: 2, right: true}, {head: "spread s", w: 8, drop: 6, right: true}, {head: "pairs", w: 6, right: true},
		{head: "set by", w: 8, drop: 7, stretch: true},
	}}}
}

func (c *clocks) name() string            { return "clocks" }
func (c *clocks) scope() scope            { return onClocks }
func (c *clocks) list() (*table, listing) { return &c.t, c }
func (c *clocks) Len() int                { return len(c.book.Clocks) }
func (c *clocks) sync()                   { c.t.sync(c) }

func (c *clocks) ID(i int) string {
	x := &c.book.Clocks[i]
	n := 0 // which stretch of its log: the moments where one begins may move
	for j := i - 1; j >= 0 && c.book.Clocks[j].Source == x.Source; j-- {
		n++
	}
	return fmt.Sprint(x.Source, "/", n)
}

func (c *clocks) system(x *race.ClockStretch) string {
	if x.Source < 0 || x.Source >= len(c.book.Plan.Logs) {
		return "?"
	}
	return c.book.Plan.Logs[x.Source].System.String()
}

func (c *clocks) Mark(l *look, i int) (ink, string) {
	switch c.book.cases.clocks[lineID(c.book, c.book.Clocks[i].Line)] {
	case race.ClockStep:
		return bad, l.warn
	case race.ClockUnsure:
		return warn, l.lookat
	}
	return good, l.ok
}

func (c *clocks) Cell(i, col int) (ink, string) {
	x := &c.book.Clocks[i]
	switch col {
	case 0:
		return strong, lineID(c.book, x.Line)
	case 1:
		return text, c.system(x)
	case 2:
		return muted, clockOf(c.book.State, x.From)
	case 3:
		return muted, clockOf(c.book.State, x.To)
	case 4:
		return strong, decimal("%+.3f", x.Offset)
	case 5:
		return text, decimal("%.3f", x.PlusMinus)
	case 6:
		return text, decimal("%+.2f", x.DriftPPM)
	case 7:
		return text, decimal("%.2f", x.Behind)
	case 8:
		return text, decimal("%.3f", x.Spread)
	case 9:
		return text, fmt.Sprint(x.Pairs)
	}
	return muted, c.setBy(x)
}

// setBy tells what a stretch's offset rests on: pairs, the plan, or a ruling over it.
func (c *clocks) setBy(x *race.ClockStretch) string {
	if !x.Fixed {
		return "the pairs"
	}
	for i := len(c.book.Rulings) - 1; i >= 0; i-- {
		r := &c.book.Rulings[i]
		if _, undone := c.book.Undone[r.Seq]; !undone && r.Rule == race.SetClock && r.Offset != "" && r.Line == lineID(c.book, x.Line) && r.System == c.system(x) {
			return "a ruling"
		}
	}
	return "the plan"
}

func decimal(form string, v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	return fmt.Sprintf(form, v)
}

// sentence tells a stretch as one says it to a colleague.
func (c *clocks) sentence(x *race.ClockStretch) string {
	says := x.Says
	if says == "" {
		says = "runs on a clock nobody could measure yet"
	}
	says = fmt.Sprintf("%s %s %s; from %s", lineID(c.book, x.Line), c.system(x), says, race.Counted(x.Pairs, "pair", "pairs"))
	if !math.IsNaN(x.PlusMinus) {
		says += fmt.Sprintf(", %s%.3f s", c.look.pm, x.PlusMinus)
	}
	return says
}

func (c *clocks) View(w, h int) string {
	p := newPage(c.look, w, h)
	if c.Len() == 0 {
		p.prose(muted, "no clock has been measured yet: that takes chips read by both systems of a line", h)
		return p.String()
	}
	c.t.draw(p, c, min(c.Len()+1, max(h*2/5, 4)))
	p.line()
	if c.t.at >= c.Len() {
		return p.String()
	}
	x := &c.book.Clocks[c.t.at]
	p.prose(text, c.sentence(x), 4)
	c.chart(p, x)
	return p.String()
}

// chart draws the residuals of the selected log over all its stretches; a dashed upright
// stands where one model gives way to the next.
func (c *clocks) chart(p *page, x *race.ClockStretch) {
	none := x.Source < 0 || x.Source >= len(c.book.Points) || len(c.book.Points[x.Source]) == 0
	if none || p.left() < 6 {
		why := "a higher window draws how far each pair lies from the model"
		if none {
			why = "no pairs to draw"
		}
		if p.left() > 1 {
			p.line()
			p.say(muted, why)
		}
		return
	}
	ch := plot{points: c.book.Points[x.Source]}
	for i := range c.book.Clocks {
		if y := &c.book.Clocks[i]; y.Source == x.Source && i > 0 && c.book.Clocks[i-1].Source == x.Source {
			ch.steps = append(ch.steps, y.From)
		}
	}
	p.line().put(head, "how far each pair lies from the model").put(muted, "  in seconds, over the race clock")
	ch.draw(p, c.book, p.left())
}
