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
	// carriedSD, in seconds, is the least noise of the difference of two chips' times, at a run,
	carriedSD = 0.15
	// and carriedMetres what that is there.
	carriedMetres = 0.45
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
	carriedNats   = 4.7
	togetherShare = 0.05
)

// carriedTogether: the chips of two bibs pass every line together, four at least.
func carriedTogether(f *field) []race.Suspect {
	var found []race.Suspect
	noise, same := f.noiseOfBodies()
	for c := range f.courses {
		anew := f.keepCompany(c)
		found = append(found, f.courses[c].company.weigh(f, anew || !same, noise)...)
	}
	return found
}

// bodyNoise is how far apart two chips on one body are read.
type bodyNoise struct {
	kept   []float64 // per line: spread of the difference of two kept times, seconds
	centre []float64 // per log: of the difference of two bursts' centres; 0: nothing tells
}

// centreApart is how a burst's two centres differ, seconds.
type centreApart struct {
	d      float64
	result int32
}

func (a centreApart) compare(b centreApart) int {
	return cmp.Or(cmp.Compare(a.d, b.d), cmp.Compare(a.result, b.result))
}

// centres are those of the asked, per log, kept from search to search.
type centres struct {
	inOrder lists[centreApart]
	noise   bodyNoise
	at      []int // per log: moves of its list when its noise was told
}

// noiseOfBodies is how far apart two chips on one body are read; same: as it was in the search before.
func (f *field) noiseOfBodies() (noise *bodyNoise, same bool) {
	x := &f.centres
	for _, i := range f.news.changed {
		if f.in.tells(i) {
			x.inOrder.changed(i, len(f.st.Results))
		}
	}
	was := x.noise
	x.noise = bodyNoise{f.noise(), f.centreNoise()}
	return &x.noise, slices.Equal(was.kept, x.noise.kept) && slices.Equal(was.centre, x.noise.centre)
}

// centreNoise is, per log, the spread of the difference of two centres of one body's bursts. A
// burst has two of them, its middle and its strongest read; how they differ over the field tells
// how well both together, half and half, are one.
func (f *field) centreNoise() []float64 {
	x, n := &f.centres, len(f.plan.Logs)
	if !x.inOrder.due() {
		return x.noise.centre
	}
	x.inOrder.renew(f, n, nil, centreApart.compare, func(a centreApart) int { return int(a.result) }, f.centresOf)
	if x.at == nil {
		x.at, x.noise.centre = make([]int, n), make([]float64, n)
	}
	out := slices.Clone(x.noise.centre)
	for s, l := range x.inOrder.lists {
		if x.at[s] == x.inOrder.moves[s] {
			continue
		}
		if x.at[s], out[s] = x.inOrder.moves[s], 0; len(l) < groupEnough {
			continue
		}
		ds := make([]float64, len(l))
		for k, a := range l {
			ds[k] = a.d
		}
		_, sd := robust.Spread(ds)
		out[s] = sd / math.Sqrt2
	}
	return out
}

// centresOf are those of one who is asked.
func (f *field) centresOf(i int, add func(log int, a centreApart)) {
	r := f.st.Results[i]
	if r.Course < 0 || !f.in.tells(i) {
		return
	}
	for k := range r.Passings {
		for _, b := range r.Passings[k].Bursts {
			if b != nil && b.Source >= 0 && b.Peak != race.NoRSSI && r.Passings[k].Split >= 0 {
				add(int(b.Source), centreApart{middle(b) - b.Strongest().Sub(b.First).Seconds(), int32(i)})
			}
		}
	}
}

// middle is that of a burst, seconds after its first read.
func middle(b *race.Burst) float64 { return b.Last().Sub(b.First).Seconds() / 2 }

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
		sum, weight = sum+float64(w*(mid+a.Strongest().Sub(b.Strongest()).Seconds())/2), weight+w
	}
	d, sd = p.At.Sub(q.At).Seconds(), n.kept[p.Line]
	if weight > 0 && (1/math.Sqrt(weight) < sd || sd == carriedSD) { // which is the least, and told by nothing where no clock was fitted
		d, sd = sum/weight, 1/math.Sqrt(weight)
	}
	return d, sd
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

// carried weighs one body against two friends by what the lines that read both tell.
func (f *field) carried(i, j int, noise *bodyNoise, bar float64) (race.Suspect, bool) {
	a, b := f.st.Results[i], f.st.Results[j]
	var ds, sds []float64
	worst, alone := 0.0, 0
	pace := f.paceOf(i)
	for k := range min(len(f.times[i]), len(f.times[j])) {
		s, t := f.cameTo(i, k), f.cameTo(j, k)
		if !s.Known() || !t.Known() {
			if s.Known() != t.Known() {
				alone++
			}
			continue
		}
		d, sd := noise.between(f.crossingOf(i, k), f.crossingOf(j, k))
		ds, sds = append(ds, d), append(sds, math.Max(sd, bodySD(a.Splits[k].At, pace)))
		worst = math.Max(worst, math.Abs(s.Sub(t).Seconds()))
	}
	n := len(ds)
	if n < carriedLines || alone > n/3 || oneNotTwo(ds, sds, math.Max(friendsSD, friendsMetres*pace)) < bar {
		return race.Suspect{}, false
	}
	id, bibs := pairID(race.CarriedTogether, a.Bib, b.Bib)
	s := race.Suspect{Finding: &race.Finding{ID: id, Kind: race.CarriedTogether, Weight: race.Look, Bibs: bibs}}
	last := min(f.last(i), f.last(j))
	s.At = f.cameTo(i, max(last, 0))
	s.Says = fmt.Sprintf("%s and %s crossed all %d lines together, never more than %.2f s apart: one person may carry both chips. Ask; the referee decides.", bibs[0], bibs[1], n, worst)
	s.Proposes = accept(id)
	s.Others = []string{setStatus(bibs[0], race.DSQ), setStatus(bibs[1], race.DSQ)}
	s.Evidence = fmt.Sprintf("together at %d", n)
	return s, true
}

// bodySD is the least noise at a split, in seconds, of who came there so many seconds a metre: chips
// on one body are centimetres apart, and who rides fast is over them in no time. At a start nobody
// is fast yet.
func bodySD(at, pace float64) float64 {
	if at == 0 || pace == 0 {
		return carriedSD
	}
	return math.Min(carriedSD, carriedMetres*pace)
}

// crossingOf is the passing in which somebody came to a split.
func (f *field) crossingOf(i, k int) *race.Passing {
	if r := f.st.Results[i]; r.Filled[k] >= 0 {
		return &r.Passings[r.Filled[k]]
	}
	return f.setOutAt(i)
}

// paceOf is how many seconds a metre somebody took from their first split to their last; 0: nothing tells.
func (f *field) paceOf(i int) float64 {
	from, to := -1, f.last(i)
	for k := range f.times[i] {
		if f.cameTo(i, k).Known() && from < 0 {
			from = k
		}
	}
	if from < 0 || from == to {
		return 0
	}
	splits := f.st.Results[i].Splits
	return f.times[i][to].Sub(f.cameTo(i, from)).Seconds() / (splits[to].At - splits[from].At)
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
