package suspect

import (
	"cmp"
	"math"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// clashZ: at a line whose two systems differ this much anyway, only what is further off
	// than chance in a field of thousands is a clash.
	clashZ = 4.5
	// agreeEnough who were seen by both tell chance from a clash: of fewer, the clash itself makes
	// the interval.
	agreeEnough = 10
)

// agreement is how the two systems of each line agree over those who are asked, kept from search
// to search, with the clashes that were found by it.
type agreement struct {
	figures lists[figure] // per line the differences, per line main's peaks and backup's, per course and split the differences
	at      []int         // per list: its moves when it was told
	limits  []float64     // per line: how far apart its systems may be for one crossing, seconds
	least   float64       // of them
	peaks   [2][]float64  // main's and backup's, per line: the usual peak, tenths of a dBm; NaN: no strengths
	told    []bool        // per line: there are enough
	mid     []float64     // per course and split: by how much they differ in the middle, seconds
	all     []float64     // likewise: by how much for whoever passes; 0: by no more than is usual
	from    []int         // per course: its first split among those
	clashes found
}

// figure is one of a result's.
type figure struct {
	x      float64
	result int32
}

func (a figure) compare(b figure) int {
	return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.result, b.result))
}

// renew takes in what changed, and tells whether anything that it tells is another.
func (a *agreement) renew(f *field) bool {
	lines := len(f.plan.Lines)
	if a.at == nil {
		splits := 0
		for c := range f.courses {
			a.from = append(a.from, splits)
			splits += len(f.courses[c].splits)
		}
		a.at, a.mid, a.all = make([]int, 3*lines+splits), make([]float64, splits), make([]float64, splits)
		a.limits, a.told = make([]float64, lines), make([]bool, lines)
		a.peaks = [2][]float64{make([]float64, lines), make([]float64, lines)}
	}
	for _, i := range f.news.changed {
		if f.in.tells(i) {
			a.figures.changed(i, len(f.st.Results))
		}
	}
	if !a.figures.due() {
		return false
	}
	a.figures.renew(f, len(a.at), nil, figure.compare, func(x figure) int { return int(x.result) }, func(i int, add func(l int, x figure)) {
		a.figuresOf(f, i, add)
	})
	return a.tell(f)
}

// figuresOf are those of one who is asked.
func (a *agreement) figuresOf(f *field, i int, add func(l int, x figure)) {
	r, lines := f.st.Results[i], len(f.plan.Lines)
	if r.Course < 0 || !f.in.tells(i) {
		return
	}
	for k := range f.both[i] {
		x, l := &f.both[i][k], r.Splits[k].Line
		for s, peak := range x.peaks {
			if peak != race.NoRSSI {
				add((1+s)*lines+l, figure{float64(peak), int32(i)})
			}
		}
		if !x.apart.Known() {
			continue
		}
		if add(3*lines+a.from[r.Course]+k, figure{x.apart.Seconds(), int32(i)}); x.sure {
			add(l, figure{x.apart.Seconds(), int32(i)})
		}
	}
}

// tell looks at the lists that are others.
func (a *agreement) tell(f *field) (another bool) {
	lines := len(f.plan.Lines)
	moved := func(l int) bool { return a.at[l] != a.figures.moves[l] }
	set := func(x *float64, to float64) {
		if *x != to && !(math.IsNaN(*x) && math.IsNaN(to)) {
			*x, another = to, true
		}
	}
	for l := range lines {
		if moved(l) {
			limit, told := a.limit(f, l)
			set(&a.limits[l], limit)
			another = another || told != a.told[l]
			a.told[l] = told
		}
		for s := range a.peaks {
			if n := (1+s)*lines + l; moved(n) {
				set(&a.peaks[s][l], robust.Median(a.those(n)))
			}
		}
	}
	a.least = math.Inf(1)
	for _, l := range a.limits {
		a.least = math.Min(a.least, l)
	}
	for c := range f.courses {
		for k := range f.courses[c].splits {
			n := a.from[c] + k
			if moved(3*lines + n) {
				a.mid[n] = math.Abs(robust.Median(a.those(3*lines + n)))
			}
			set(&a.all[n], a.allApart(n, len(a.figures.lists[3*lines+n]), a.limits[f.courses[c].splits[k].Line]))
		}
	}
	copy(a.at, a.figures.moves)
	return another
}

// those are the figures of a list.
func (a *agreement) those(l int) []float64 {
	xs := make([]float64, len(a.figures.lists[l]))
	for n, x := range a.figures.lists[l] {
		xs[n] = x.x
	}
	return xs
}

// limit is a line's, and whether enough tell it.
func (a *agreement) limit(f *field, l int) (limit float64, told bool) {
	limit = f.plan.Lines[l].Tolerance.Seconds()
	ds := a.those(l)
	if told = len(ds) >= agreeEnough; told {
		c, sd := robust.Spread(ds)
		limit = math.Max(limit, math.Abs(c)+float64(clashZ*sd))
	}
	return limit, told
}

// allApart is by how many seconds main and backup differ for whoever passes a split: where the
// way between the antennas isn't known yet, that is no one's clash. Of three the middle is not
// the clash; where it is small against the limit, it is 0.
func (a *agreement) allApart(split, of int, limit float64) float64 {
	if of >= 3 && a.mid[split] > limit/4 {
		return a.mid[split]
	}
	return 0
}

// apart is that of a split.
func (a *agreement) apart(course, k int) float64 {
	if course < 0 {
		return 0
	}
	return a.all[a.from[course]+k]
}
