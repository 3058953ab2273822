package tui

import "strings"

// A page is a rectangle being written: exactly h lines, each exactly w columns, whatever
// is put into it. What doesn't fit is cut with a mark; what is missing is filled.
type page struct {
	look  *look
	w, h  int
	lines []string
	row   row
	open  bool
}

func newPage(l *look, w, h int) *page {
	return &page{look: l, w: max(w, 0), h: max(h, 0), lines: make([]string, 0, max(h, 0))}
}

// left is how many lines may still be written.
func (p *page) left() int {
	n := p.h - len(p.lines)
	if p.open {
		n--
	}
	return max(n, 0)
}

// line closes the line before and opens the next.
func (p *page) line() *row {
	p.close()
	p.row = row{look: p.look, w: p.w, ink: inks}
	p.row.b.Grow(p.w + 32)
	p.open = true
	return &p.row
}

// pick opens a line of what may be chosen, and marks the one that is.
func (p *page) pick(chosen bool) *row {
	r := p.line()
	if !chosen {
		return r.gap(1)
	}
	r.force, r.forced = true, picked
	return r.put(picked, p.look.pick)
}

func (p *page) close() {
	if p.open {
		p.lines = append(p.lines, p.row.end())
		p.open = false
	}
}

// say writes one line of one ink.
func (p *page) say(i ink, s string) { p.line().put(i, s) }

// prose writes text wrapped at words, at most n lines.
func (p *page) prose(i ink, s string, n int) {
	lines := wrap(p.look.letters(clean(s)), p.w)
	n = min(n, p.left())
	for k, l := range lines {
		if k == n {
			return
		}
		if k == n-1 && k+1 < len(lines) {
			l = cut(l+" "+p.look.cut, p.w, p.look.cut) // there is more than there is room for
		}
		p.say(i, l)
	}
}

// add takes over finished lines of the same width.
func (p *page) add(lines []string) {
	p.close()
	p.lines = append(p.lines, lines...)
}

// done fills what is left and returns exactly h lines.
func (p *page) done() []string {
	p.close()
	for len(p.lines) < p.h {
		p.line()
		p.close()
	}
	return p.lines[:p.h]
}

func (p *page) String() string { return strings.Join(p.done(), "\n") }

// beside joins two pages of the same height with a rule between them.
func beside(l *look, a, b []string) []string {
	out := make([]string, len(a))
	for i := range a {
		out[i] = a[i] + l.on[muted] + l.bar + l.off + b[i]
	}
	return out
}

// A row is one line being written. It alone writes escape sequences, and it cleans every
// text that it is given.
type row struct {
	b       strings.Builder
	look    *look
	w, used int
	ink     ink // the last one written
	force   bool
	forced  ink // every cell takes this one: the selected row
}

func (r *row) left() int { return max(r.w-r.used, 0) }

func (r *row) dip(i ink) {
	if r.force {
		i = r.forced
	}
	if i != r.ink {
		r.b.WriteString(r.look.on[i])
		r.ink = i
	}
}

func (r *row) space(i ink, n int) {
	n = min(n, r.left())
	if n <= 0 {
		return
	}
	r.dip(i)
	for ; n >= len(blanks); n -= len(blanks) {
		r.b.WriteString(blanks)
		r.used += len(blanks)
	}
	r.b.WriteString(blanks[:n])
	r.used += n
}

const blanks = "                                                                "

// put writes text as far as the line goes.
func (r *row) put(i ink, s string) *row { return r.write(i, s, r.left(), false) }

// cell writes text in a column of n, left aligned; a column past the end is cut.
func (r *row) cell(i ink, s string, n int) *row {
	n = min(n, r.left())
	was := r.used
	r.write(i, s, n, false)
	r.space(i, n-(r.used-was))
	return r
}

// right writes text in a column of n, right aligned.
func (r *row) right(i ink, s string, n int) *row { return r.write(i, s, min(n, r.left()), true) }

func (r *row) write(i ink, s string, n int, right bool) *row {
	if n <= 0 {
		return r
	}
	s = r.look.letters(clean(s))
	c := cells(s)
	if c > n {
		s = cut(s, n, r.look.cut)
		c = cells(s)
	}
	if right {
		r.space(i, n-c)
	}
	if c > 0 {
		r.dip(i)
		r.b.WriteString(s)
		r.used += c
	}
	return r
}

// gap leaves n columns.
func (r *row) gap(n int) *row { r.space(text, n); return r }

// to moves to a column, if it lies ahead.
func (r *row) to(col int) *row { r.space(text, col-r.used); return r }

func (r *row) end() string {
	r.space(text, r.left())
	r.b.WriteString(r.look.off)
	return r.b.String()
}

// wrap breaks cleaned text at spaces into lines of at most w columns; a word longer than
// a line is broken where the line ends.
func wrap(s string, w int) []string {
	if w <= 0 {
		return nil
	}
	var out []string
	line, used := "", 0
	for _, word := range strings.Fields(s) {
		n := cells(word)
		if used > 0 && used+1+n <= w {
			line, used = line+" "+word, used+1+n
			continue
		}
		if used > 0 {
			out = append(out, line)
		}
		for n > w {
			head := cut(word, w, "")
			if head == "" { // a glyph wider than the page
				return append(out, "")
			}
			out = append(out, head)
			word = word[len(head):]
			n = cells(word)
		}
		line, used = word, n
	}
	if used > 0 {
		out = append(out, line)
	}
	return out
}
