package tui

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"twinmat/reconcile/race"
	"twinmat/reconcile/standing"
)

// leaders writes the first three of each board, provisional while anything may still move.
func (d *desk) leaders(p *page, n int) {
	boards := d.shownFirst(n)
	if n == 0 {
		p.say(muted, "leaders: nobody at a line after the start yet")
		return
	}
	for i := 0; i < n; i++ {
		if i == n-1 && n < len(boards) && n > 1 {
			p.say(muted, fmt.Sprintf("  %d more boards: l shows them all", len(boards)-i))
			return
		}
		d.board(p, &boards[i])
	}
}

// shownFirst is the boards in the order to show n of them: where there is no room for all, those
// of whole courses come before those of one sex, so that no course that finishes now stays hidden.
func (d *desk) shownFirst(n int) []standing.Board {
	boards := d.book.Boards
	if n >= len(boards) {
		return boards
	}
	boards = slices.Clone(boards)
	slices.SortStableFunc(boards, func(a, b standing.Board) int {
		return cmp.Compare(min(len(a.Sex), 1), min(len(b.Sex), 1))
	})
	return boards
}

// boardName is the course, the sex where it is of one, and the split where nobody is in yet.
func (d *desk) boardName(b *standing.Board) string {
	name := "all"
	if c := d.book.course(b.Course); c != nil {
		name = c.ID
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
	for i := range d.book.Boards {
		n = max(n, cells(clean(d.boardName(&d.book.Boards[i]))))
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
		x := d.book.Results[i]
		end := wide + 1 + each*(k+1)
		r.put(strong, fmt.Sprint(k+1)).gap(1)
		if len(x.HeldFor) > 0 {
			r.put(bad, d.look.hold)
		}
		room := max(end-r.used-1, 0) // a column stays free before the next
		tail := fitting(d.tails(b, x), room-cells(clean(x.Bib))-1)
		who := x.Bib
		if x.Name != "" && each > 24 {
			who += " " + x.Name
		}
		n := max(room-cells(tail)-1, cells(clean(x.Bib)))
		r.cell(text, who, min(n, cells(clean(who)))).gap(1)
		r.cell(text, tail, min(cells(tail), max(end-r.used-1, 0)))
		r.to(end)
	}
}

// fitting is the first of some ways to say a thing that takes no more than n columns, else the last.
func fitting(ways []string, n int) string {
	for _, w := range ways {
		if cells(w) <= n {
			return w
		}
	}
	return ways[len(ways)-1]
}

// tails are what stands behind a leader's bib, the fullest first: of who is in, what ranks them; of
// who isn't, how long they took to where they were last seen.
func (d *desk) tails(b *standing.Board, x *race.Result) []string {
	if d.book.RanksOf(x).All == 0 {
		split, at := x.Reached()
		s := whole(at.Sub(d.book.Began(x)))
		if split >= 0 && split < len(x.Splits) && x.Splits[split].ID != b.Where {
			s += " @" + clean(x.Splits[split].ID) // not as far as the first: the times don't compare
		}
		return []string{s}
	}
	s := span(x.Official)
	if c := d.book.course(x.Course); c != nil && c.ByLaps() {
		laps := race.Counted(x.Laps, "lap", "laps")
		return []string{laps + " " + s, laps}
	}
	if x.PM.Known() && x.PM > 0 {
		return []string{s + d.look.pm + bound(x.PM), s}
	}
	return []string{s}
}

// bound writes a half-width as short as it can be said: a small one isn't none.
func bound(d race.Millis) string {
	switch {
	case d < 50:
		return strings.TrimRight(fmt.Sprintf("%.3f", d.Seconds()), "0")
	case d < 100*1000:
		return fmt.Sprintf("%.1f", d.Seconds())
	}
	return fmt.Sprintf("%.0f", d.Seconds())
}
