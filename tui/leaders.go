package tui

import (
	"fmt"

	"twinmat/reconcile/race"
	"twinmat/reconcile/standing"
)

// leaders writes the first three of each board, provisional while anything may still move.
func (d *desk) leaders(p *page, n, boards int) {
	if n == 0 {
		p.say(muted, "leaders: nobody past the start yet")
		return
	}
	for i := 0; i < n; i++ {
		if i == n-1 && n < boards && n > 1 {
			p.say(muted, fmt.Sprintf("  %d more boards: l shows them all", boards-i))
			return
		}
		d.board(p, &d.book.boards[i])
	}
}

// boardName is the course, the sex where it is of one, and the split where nobody is in yet.
func (d *desk) boardName(b *standing.Board) string {
	name := "all"
	if b.Course >= 0 && b.Course < len(d.book.Plan.Courses) {
		name = d.book.Plan.Courses[b.Course].ID
	}
	if b.Sex != "" {
		name += " " + b.Sex
	}
	if b.Where != "" {
		name += " @" + b.Where
	}
	return name
}

// boardWidth is the room for the longest name, within a quarter of the page.
func (d *desk) boardWidth(w int) int {
	n := 12
	for i := range d.book.boards {
		n = max(n, cells(clean(d.boardName(&d.book.boards[i]))))
	}
	return max(12, min(n, w/4))
}

func (d *desk) board(p *page, b *standing.Board) {
	r := p.line()
	name := d.boardName(b)
	wide := d.boardWidth(p.w)
	r.cell(accent, name, wide).gap(1)
	each := max((p.w-wide-1)/3, 12)
	for k, i := range b.First {
		x := &d.book.Results[i]
		was := r.used
		tail := " " + d.leaderTime(b, x, each >= 18)
		r.put(strong, fmt.Sprint(k+1)).gap(1)
		if len(x.HeldFor) > 0 {
			r.put(bad, d.look.hold)
		}
		who := x.Bib
		if x.Name != "" && each > 24 {
			who += " " + x.Name
		}
		n := max(each-(r.used-was)-cells(clean(tail))-1, 3)
		r.cell(text, who, min(n, cells(clean(who))))
		r.put(text, tail)
		r.to(wide + 1 + each*(k+1))
	}
}

func (d *desk) leaderTime(b *standing.Board, x *race.Result, bounds bool) string {
	if b.Where == "" {
		s := span(x.Official)
		if bounds && x.PM.Known() && x.PM > 0 {
			s += d.look.pm + fmt.Sprintf("%.1f", x.PM.Seconds())
		}
		return s
	}
	split, at := x.Reached()
	s := whole(at.Sub(d.book.Began(x)))
	if split >= 0 && split < len(x.Splits) && x.Splits[split].ID != b.Where {
		s += " @" + x.Splits[split].ID // not as far as the first: the times don't compare
	}
	return s
}
