package tui

import (
	"fmt"
	"strings"
)

// A column of a table. Where the page is too narrow, the columns with the greatest drop
// go first; those with 0 never do. One column may stretch over what is left.
type column struct {
	head    string
	w       int
	drop    int
	stretch bool
	right   bool
}

// A listing is what a table shows: rows that are asked for only while they are in sight.
type listing interface {
	Len() int
	ID(i int) string                   // the record's identity, the same from snapshot to snapshot
	Cell(i, col int) (ink, string)     // what stands in a column
	Mark(l *look, i int) (ink, string) // the sign before the row
}

// A finder is a listing that knows where a record is.
type finder interface{ Find(id string) int } // -1: it has none such

// A table is a window on a listing. The selection follows the record, not its place: when
// rows come or go, the same record stays selected at the same height on the screen.
type table struct {
	cols []column
	top  int
	at   int
	id   string // identity of the selected row, "" before the first
	page int    // rows in sight when last drawn
	wide int    // width of the stretching column when last drawn, kept by who needs it
	y    int    // line of its heads when last drawn, counted from the top of the screen

	// Following: the selection stays on the first row, where the newest are, until moved.
	newest bool   // this table can follow
	first  string // identity of the first row when the selection was last moved
	fresh  int    // rows that came in above it since
}

// sync finds the selected record again after the listing changed.
func (t *table) sync(l listing) {
	n := l.Len()
	if n == 0 {
		t.at, t.top, t.fresh = 0, 0, 0
		return
	}
	if t.id == "" || t.newest && t.at == 0 && t.id == t.first {
		t.at, t.top = 0, 0
		t.hold(l)
		return
	}
	t.fresh = 0
	if t.first != "" {
		t.fresh = max(find(l, t.first, 0), 0)
	}
	if at := find(l, t.id, t.at); at >= 0 {
		t.top += at - t.at
		t.at = at
	} else {
		t.at = min(t.at, n-1)
		t.id = l.ID(t.at)
	}
	t.top = max(min(t.top, n-1), 0)
}

// find looks for a record from where it was, outwards: it seldom moved far.
func find(l listing, id string, from int) int {
	if f, ok := l.(finder); ok {
		return f.Find(id)
	}
	n := l.Len()
	for d := 0; d < n; d++ {
		if i := from - d; i >= 0 && i < n && l.ID(i) == id {
			return i
		}
		if i := from + d; d > 0 && i >= 0 && i < n && l.ID(i) == id {
			return i
		}
		if from-d < 0 && from+d >= n {
			return -1
		}
	}
	return -1
}

// hold takes the row under the cursor as the selected record.
func (t *table) hold(l listing) {
	if l.Len() == 0 {
		t.id, t.at = "", 0
		return
	}
	t.at = max(min(t.at, l.Len()-1), 0)
	t.id, t.first, t.fresh = l.ID(t.at), l.ID(0), 0
}

func (t *table) move(l listing, by int) {
	t.at += by
	t.hold(l)
}

// selectID puts the cursor on a record and tells whether it is there.
func (t *table) selectID(l listing, id string) bool {
	at := find(l, id, t.at)
	if at < 0 {
		return false
	}
	t.at = at
	t.hold(l)
	return true
}

// badge says what came in above since the selection was moved.
func (t *table) badge(g *look) string {
	if t.fresh == 0 {
		return ""
	}
	return fmt.Sprintf("%d new %s", t.fresh, g.up)
}

// fit gives each column its width on a page of w, 0 for those left out.
func fit(cols []column, w int) []int {
	ws := make([]int, len(cols))
	for drop := 9; drop >= 0; drop-- {
		sum, flex := 2, -1
		for i, c := range cols {
			ws[i] = 0
			if c.drop > drop {
				continue
			}
			ws[i] = c.w
			sum += c.w + 1
			if c.stretch {
				flex = i
			}
		}
		if sum-1 <= w || drop == 0 {
			if flex >= 0 {
				ws[flex] = max(ws[flex]+w-sum+1, 1)
			}
			return ws
		}
	}
	return ws
}

// draw writes the heads and the rows in sight into n lines of the page.
func (t *table) draw(p *page, l listing, n int) {
	if n <= 0 {
		return
	}
	t.y = p.written()
	ws := fit(t.cols, p.w)
	t.heads(p, ws)
	t.page = max(n-1, 1)
	t.reveal(l.Len())
	for i := t.top; i < t.top+n-1; i++ {
		r := p.line()
		if i >= l.Len() {
			continue
		}
		mark, sign := l.Mark(p.look, i)
		if i == t.at {
			r.force, r.forced = true, picked
			r.cell(picked, p.look.pick+sign, 2)
		} else {
			r.gap(1).cell(mark, sign, 1)
		}
		for c := 0; c < len(ws); c++ {
			if ws[c] == 0 {
				continue
			}
			k, s := l.Cell(i, c)
			if t.cols[c].right {
				r.right(k, s, ws[c])
			} else {
				last, w := over(l, ws, i, c, cells(clean(s)))
				r.cell(k, s, w)
				c = last
			}
			r.space(text, 1)
		}
		r.space(text, r.left())
	}
}

// over is the last column, and the width, that a cell of n columns takes: one that is too long
// for its own runs on over those beside it that are empty in its row.
func over(l listing, ws []int, row, col, n int) (last, w int) {
	last, w = col, ws[col]
	for c := col + 1; c < len(ws) && n > w; c++ {
		if ws[c] == 0 {
			continue
		}
		if _, s := l.Cell(row, c); s != "" {
			break
		}
		last, w = c, w+1+ws[c]
	}
	return last, w
}

func (t *table) heads(p *page, ws []int) {
	r := p.line()
	r.force, r.forced = true, head
	r.gap(2)
	for c, w := range ws {
		if w == 0 {
			continue
		}
		title := strings.ReplaceAll(t.cols[c].head, "±", p.look.pm)
		if t.cols[c].right {
			r.right(head, title, w)
		} else {
			r.cell(head, title, w)
		}
		r.gap(1)
	}
	r.gap(r.left())
}

// reveal moves the window no further than needed to show the selected row.
func (t *table) reveal(n int) {
	t.top = min(t.top, t.at)
	t.top = max(t.top, t.at-t.page+1)
	t.top = max(min(t.top, n-t.page), 0)
}

// row is the record at a line of the last drawing, counted from the heads; -1 for none.
func (t *table) row(l listing, line int) int {
	if i := t.top + line - 1; line >= 1 && line <= t.page && i < l.Len() {
		return i
	}
	return -1
}
