package tui

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// A plot draws points over time in braille (two by four dots a cell), or in plain
// characters where there is none. It costs one pass over the points, however many.
type plot struct {
	points []race.ClockPoint
	steps  []race.Instant
}

const labels = 9 // columns left of the plot

func (q *plot) draw(p *page, b *book, h int) {
	n, m := p.w-labels-1, h-2
	if n < 4 || m < 2 {
		return
	}
	from, to := q.span()
	top := q.scale()
	dw, dh := 2*n, 4*m
	dots := make([]uint8, n*m)
	outs := make([]bool, n*m)
	put := func(x, y int, out bool) {
		x, y = max(min(x, dw-1), 0), max(min(y, dh-1), 0)
		c := y/4*n + x/2
		dots[c] |= brailleBit[y%4][x%2]
		outs[c] = outs[c] || out
	}
	place := func(t race.Instant) int { return int(float64(t-from) / float64(max(to-from, 1)) * float64(dw-1)) }
	for _, pt := range q.points {
		y := int((1 - pt.Residual/top) / 2 * float64(dh-1))
		put(place(pt.At), y, pt.Weight == 0)
	}
	step := make([]bool, n)
	for _, s := range q.steps {
		if x := place(s) / 2; x >= 0 && x < n {
			step[x] = true
		}
	}
	for y := 0; y < m; y++ {
		r := p.line()
		switch y {
		case 0:
			r.right(muted, fmt.Sprintf("%+.3f", top), labels-1)
		case m / 2:
			r.right(muted, "0", labels-1)
		case m - 1:
			r.right(muted, fmt.Sprintf("%+.3f", -top), labels-1)
		default:
			r.gap(labels - 1)
		}
		r.put(muted, p.look.bar)
		q.cells(r, dots[y*n:(y+1)*n], outs[y*n:(y+1)*n], step, y == m/2)
	}
	r := p.line()
	r.gap(labels).put(muted, clockOf(b.State, from)).to(labels+n-8).put(muted, clockOf(b.State, to))
}

var brailleBit = [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

func (q *plot) cells(r *row, dots []uint8, outs, step []bool, middle bool) {
	for i, d := range dots {
		switch {
		case d != 0 && r.look.braille:
			k := accent
			if outs[i] {
				k = muted
			}
			r.put(k, string(rune(0x2800+int(d))))
		case d != 0:
			k, s := accent, "."
			if d&(d-1) != 0 {
				s = ":"
			}
			if outs[i] {
				k, s = muted, "x"
			}
			r.put(k, s)
		case step[i]:
			r.put(bad, r.look.bar)
		case middle:
			r.put(muted, r.look.rule)
		default:
			r.gap(1)
		}
	}
}

func (q *plot) span() (from, to race.Instant) {
	from, to = q.points[0].At, q.points[0].At
	for _, p := range q.points {
		from, to = min(from, p.At), max(to, p.At)
	}
	return from, to
}

// scale is the height of the plot: what holds 98 of 100 pairs that the model rests on, so that one stray pair
// doesn't press the others flat; those outside lie on the edge.
func (q *plot) scale() float64 {
	n := min(len(q.points), 4096)
	v := make([]float64, 0, n)
	for i := range n {
		if pt := q.points[i*len(q.points)/n]; pt.Weight > 0 && !math.IsNaN(pt.Residual) {
			v = append(v, math.Abs(pt.Residual))
		}
	}
	if len(v) == 0 {
		return 1
	}
	slices.Sort(v)
	return max(v[min(len(v)*98/100, len(v)-1)]*1.15, 0.005)
}
