package suspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// carriedLines is the fewest crossings that can tell one body from two friends: of pairs
	// that run together, two in a thousand look like one body at five lines, six in a
	// hundred at two (measured on made races).
	carriedLines = 4
	// carriedReach is how far apart, in time, two chips on one body are ever read at one
	// line; candidates come from there.
	carriedReach = 2000 * race.Millis(1)
	// carriedSD, in seconds, is the least noise of the difference of two chips' times.
	carriedSD = 0.15
	// friendsSD, in seconds: friends who run side by side come over a line that far apart,
	// and about as much again from line to line.
	friendsSD = 1.0
	// friendsMetres is what that is at a run; who walks takes longer over them.
	friendsMetres = 3.0
	// looseShare of the lines read one of two chips on a body as loosely as friends come: the
	// last read at a start, the first of a body that walks.
	looseShare = 0.1
	// carriedNats is how much likelier one body must be than two friends: pairs that run
	// together are a few in a hundred of the field, carried chips one in thousands.
	carriedNats = 4.7
)

// carriedTogether: the chips of two bibs pass every line together, four at least.
func carriedTogether(f *field) []race.Suspect {
	var found []race.Suspect
	var n *bodyNoise
	for c := range f.courses {
		for _, p := range f.sideBySide(c) {
			if n == nil {
				n = &bodyNoise{kept: f.noise(), centre: f.centreNoise()}
			}
			if s, ok := f.carried(p[0], p[1], n); ok {
				found = append(found, s)
			}
		}
	}
	return found
}

// bodyNoise is how far apart two chips on one body are read.
type bodyNoise struct {
	kept   []float64 // per line: spread of the difference of two kept times, seconds
	centre []float64 // per log: of the difference of two bursts' centres; 0: nothing tells
}

// centreNoise is, per log, the spread of the difference of two centres of one body's bursts. A
// burst has two of them, its middle and its strongest read; how they differ over the field tells
// how well both together, half and half, are one.
func (f *field) centreNoise() []float64 {
	apart := make([][]float64, len(f.plan.Logs))
	for c := range f.courses {
		for _, i := range f.courses[c].asked {
			r := f.st.Results[i]
			for k := range r.Passings {
				for _, b := range r.Passings[k].Bursts {
					if b != nil && b.Source >= 0 && b.Peak != race.NoRSSI && r.Passings[k].Split >= 0 {
						apart[b.Source] = append(apart[b.Source], middle(b)-b.Strongest.Sub(b.First).Seconds())
					}
				}
			}
		}
	}
	out := make([]float64, len(apart))
	for s, ds := range apart {
		if len(ds) >= groupEnough {
			_, sd := robust.Spread(ds)
			out[s] = sd / math.Sqrt2
		}
	}
	return out
}

// middle is that of a burst, seconds after its first read.
func middle(b *race.Burst) float64 { return b.Last.Sub(b.First).Seconds() / 2 }

// between is how far apart two passings of a line were, in seconds, and the spread of that for two
// chips on one body: by the centres of their bursts in one log, whose first reads fall as chance
// will, or by the kept times where no log tells better.
func (n *bodyNoise) between(p, q *race.Passing) (d, sd float64) {
	var sum, weight float64
	for s := range p.Bursts {
		a, b := p.Bursts[s], q.Bursts[s]
		if a == nil || b == nil || a.Source < 0 || a.Source != b.Source || n.centre[a.Source] == 0 || a.Peak == race.NoRSSI || b.Peak == race.NoRSSI {
			continue
		}
		first := a.First.Sub(b.First).Seconds()
		mid := first + middle(a) - middle(b)
		w := 1 / float64(n.centre[a.Source]*n.centre[a.Source])
		sum, weight = sum+float64(w*(mid+a.Strongest.Sub(b.Strongest).Seconds())/2), weight+w
	}
	d, sd = p.At.Sub(q.At).Seconds(), n.kept[p.Line]
	if weight > 0 && (1/math.Sqrt(weight) < sd || sd == carriedSD) { // which is the least, and told by nothing where no clock was fitted
		d, sd = sum/weight, 1/math.Sqrt(weight)
	}
	return d, math.Max(sd, carriedSD)
}

// noise is, per line, the spread of the difference of two readings of one body, seconds.
func (f *field) noise() []float64 {
	n := make([]float64, len(f.plan.Lines))
	for l := range n {
		n[l] = carriedSD
	}
	for _, c := range f.st.Clocks {
		if c.Spread > n[c.Line] && c.Spread < friendsSD/2 {
			n[c.Line] = c.Spread
		}
	}
	return n
}

// arrival is when a result came to a split.
type arrival struct {
	at     race.Instant
	result int32
}

func (a arrival) compare(b arrival) int {
	return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.result, b.result))
}

// sideBySide are the pairs of a course close at one of its two least crowded splits: chips
// carried together are close at both, and rarely missed at both.
func (f *field) sideBySide(c int) [][2]int {
	x := &f.courses[c]
	if x.order.due() {
		x.order.renew(f, len(x.splits), nil, arrival.compare, func(a arrival) int { return int(a.result) }, func(i int, add func(k int, a arrival)) {
			if f.st.Results[i].Course != c {
				return
			}
			for k, t := range f.times[i] {
				if t.Known() {
					add(k, arrival{t, int32(i)})
				}
			}
		})
	}
	if at := x.order.moved(); x.beside == nil || x.besideAt != at {
		x.beside, x.besideAt = f.pairsOf(x), at
	}
	return x.beside
}

// pairsOf looks for them in the lists by split.
func (f *field) pairsOf(x *onCourse) [][2]int {
	seen := map[[2]int]bool{}
	pairs := [][2]int{}
	for _, k := range fewCrowded(x.order.lists) {
		l, elsewhere := x.order.lists[k], f.timesAt(x, farFrom(k, len(x.splits)))
		for a := range l {
			there := elsewhere[l[a].result]
			for b := a + 1; b < len(l) && l[b].at <= l[a].at.Add(carriedReach); b++ {
				if d := elsewhere[l[b].result] - there; (d > race.Instant(carriedReach) || d < -race.Instant(carriedReach)) && there.Known() && elsewhere[l[b].result].Known() {
					continue // nearly all: apart where it is known at once
				}
				p := [2]int{int(min(l[a].result, l[b].result)), int(max(l[a].result, l[b].result))}
				if !seen[p] && f.closeEverywhere(p[0], p[1]) {
					seen[p] = true
					pairs = append(pairs, p)
				}
			}
		}
	}
	return pairs
}

// fewCrowded are the least crowded splits, up to the second of those that half of the most
// crowded list has reached: one that few have reached is not crowded, and finds few.
func fewCrowded(lists [][]arrival) []int {
	type crowd struct{ split, pairs int }
	var crowds []crowd
	most := 0
	for k, l := range lists {
		if most = max(most, len(l)); len(l) < 2 {
			continue
		}
		n := 0
		for a, b := 0, 0; a < len(l); a++ {
			for b < len(l) && l[b].at <= l[a].at.Add(carriedReach) {
				b++
			}
			n += b - a - 1
		}
		// Fewer seen means fewer pairs found, so what counts is the crowd a head.
		crowds = append(crowds, crowd{k, n * 1000 / len(l)})
	}
	slices.SortStableFunc(crowds, func(a, b crowd) int { return cmp.Compare(a.pairs, b.pairs) })
	var splits []int
	for taken := 0; taken < 2 && len(splits) < len(crowds); {
		k := crowds[len(splits)].split
		splits = append(splits, k)
		taken += tally(2*len(lists[k]) >= most)
	}
	return splits
}

// farFrom is the split of n that is furthest from another: whoever is close at one by chance
// is hardly so at both.
func farFrom(k, n int) int {
	if 2*k < n {
		return n - 1
	}
	return 0
}

// timesAt are a course's times at one split, per result.
func (f *field) timesAt(x *onCourse, k int) []race.Instant {
	at := make([]race.Instant, len(f.times))
	for _, i := range x.results {
		if at[i] = race.NoInstant; k < len(f.times[i]) {
			at[i] = f.times[i][k]
		}
	}
	return at
}

// closeEverywhere tells whether two athletes were close wherever both were read, at four
// crossings at least.
func (f *field) closeEverywhere(i, j int) bool {
	n, lapped := 0, false
	for k := min(len(f.times[i]), len(f.times[j])) - 1; k >= 0; k-- {
		a, b := f.times[i][k], f.times[j][k]
		if !a.Known() || !b.Known() {
			continue
		}
		if d := a - b; d > race.Instant(carriedReach) || d < -race.Instant(carriedReach) {
			return false
		}
		// A bunch crosses the line of its laps together a hundred times: that is one line.
		if f.st.Results[i].Splits[k].Lap > 0 {
			if lapped {
				continue
			}
			lapped = true
		}
		n++
	}
	return n >= carriedLines
}

// carried weighs one body against two friends by what the lines that read both tell.
func (f *field) carried(i, j int, noise *bodyNoise) (race.Suspect, bool) {
	a, b := f.st.Results[i], f.st.Results[j]
	var ds, sds []float64
	worst, alone := 0.0, 0
	for k := range min(len(f.times[i]), len(f.times[j])) {
		s, t := f.times[i][k], f.times[j][k]
		if !s.Known() || !t.Known() {
			if s.Known() != t.Known() {
				alone++
			}
			continue
		}
		d, sd := noise.between(&a.Passings[a.Filled[k]], &b.Passings[b.Filled[k]])
		ds, sds = append(ds, d), append(sds, sd)
		worst = math.Max(worst, math.Abs(s.Sub(t).Seconds()))
	}
	n := len(ds)
	if n < carriedLines || alone > n/3 || oneNotTwo(ds, sds, f.friendsApart(i)) < carriedNats {
		return race.Suspect{}, false
	}
	id, bibs := pairID(race.CarriedTogether, a.Bib, b.Bib)
	s := race.Suspect{ID: id, Kind: race.CarriedTogether, Weight: race.Look, Bibs: bibs}
	last := min(f.last(i), f.last(j))
	s.At = f.times[i][max(last, 0)]
	s.Says = fmt.Sprintf("%s and %s crossed all %d lines together, never more than %.2f s apart: one person may carry both chips. Ask; the referee decides.", bibs[0], bibs[1], n, worst)
	s.Proposes = accept(id)
	s.Others = []string{setStatus(bibs[0], race.DSQ), setStatus(bibs[1], race.DSQ)}
	s.Evidence = fmt.Sprintf("together at %d", n)
	return s, true
}

// friendsApart is the spread, in seconds, of how friends at this one's pace come over a line.
func (f *field) friendsApart(i int) float64 {
	from, to := -1, f.last(i)
	for k, t := range f.times[i] {
		if t.Known() && from < 0 {
			from = k
		}
	}
	if from < 0 || from == to {
		return friendsSD
	}
	splits := f.st.Results[i].Splits
	pace := f.times[i][to].Sub(f.times[i][from]).Seconds() / (splits[to].At - splits[from].At)
	return math.Max(friendsSD, friendsMetres*pace)
}

// oneNotTwo is how much likelier one body is than two friends by the differences of two
// chips' times, in nats. One body's are N(0, sd²), but that one in ten is loose: a chip that
// was read late at the one antenna. All of them may be twice as wide, where the chips are
// worn apart. Friends' are N(m, apart²) with m itself N(0, apart²), as they keep their sides.
func oneNotTwo(ds, sds []float64, apart float64) float64 {
	const wide = 2
	var near, far, sum, squares float64
	for n, d := range ds {
		near, far = near+math.Log(bodyDensity(d, sds[n], apart)), far+math.Log(bodyDensity(d, wide*sds[n], apart))
		sum, squares = sum+d, squares+d*d
	}
	one := math.Max(near, far) + math.Log1p(math.Exp(-math.Abs(near-far))) - math.Ln2
	// The friends' density with m integrated out: variance I + 11', of n values.
	m := float64(len(ds))
	two := -(squares-sum*sum/(1+m))/(2*apart*apart) - m*math.Log(apart) - math.Log(1+m)/2
	return one - two
}

// bodyDensity is that of the difference of two chips on one body at a line.
func bodyDensity(d, sd, loose float64) float64 {
	tight := (1 - looseShare) / sd * math.Exp(-d*d/(2*sd*sd))
	return tight + looseShare/loose*math.Exp(-d*d/(2*loose*loose))
}
