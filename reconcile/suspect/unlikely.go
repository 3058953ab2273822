package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// unlikelyZ is how many robust spreads off the athlete's own level a stretch must be:
	// 97 % of stretches a quarter too fast are found at two false in a thousand (measured
	// on made races with the same median polish).
	unlikelyZ = 4.5
	// askedOften: who is asked lap after lap is odd once by chance. Past so many stretches the
	// bound rises by the logarithm of how many times as many there are: the tails of real fields
	// fall about as e^-z, so that an athlete's own chance to be listed stays what it was. Road races have no more.
	askedOften = 12
	// tailShare: real fields have longer tails than the normal curve (stops, cramps). The
	// spread is widened, each way by itself, until no more than this share of the field
	// lies where the normal curve has it, so that a race of stops isn't a list of stops.
	tailShare = 0.01
	tailZ     = 2.326 // qnorm(1 - tailShare)
	// unlikelyField is the smallest field that can speak of itself, unlikelyLeast the smallest
	// change worth a look, log: a twentieth is a hill more or less.
	unlikelyField = 20
	unlikelyLeast = 0.10
	// Of smallField or more nobody knows how far they stray, but what fields stray by: they are never taken to
	// be closer together than smallSpread, log. Who takes half as long again as their others tell stands out of eight.
	smallField  = 8
	smallSpread = 0.10
	// leastWell stretches outvote the two beside a line that is off.
	leastWell = 4
)

// unlikelyPace: an athlete against himself. A stretch far off what his other stretches and
// the field's share of hills and fading tell.
func unlikelyPace(f *field) []race.Suspect {
	few := make([]bool, len(f.courses))
	for c := range f.courses {
		few[c] = f.fewBesideOff(c)
	}
	return f.kept.unlikely.again(f, !f.news.sameWord || f.news.learnt(), f.news.changed, func(i int, add func(race.Suspect)) {
		if k := f.classes.class[i]; k >= 0 && f.ends[i] >= 0 {
			if c := f.st.Results[f.classes.of[k]].Course; !few[c] {
				f.unlikelyOf(c, i, add)
			}
		}
	})
}

// unlikelyOf are an athlete's stretches that are, on a course whose clocks let that be told.
func (f *field) unlikelyOf(c, i int, add func(race.Suspect)) {
	x := &f.courses[c]
	bound := unlikelyZ + math.Max(0, math.Log(float64(len(x.splits))/askedOften))
	for k := range x.splits {
		d := x.off[k][x.place[i]]
		if !(math.Abs(d) > unlikelyLeast) || x.stretches[k] < smallField || f.besideOff(c, k) {
			continue
		}
		sd := x.tails[k][tally(d >= 0)]
		if course := &f.plan.Courses[c]; d >= 0 && (course.TimeLimit > 0 || course.Open) {
			continue // a rest in a race of hours is nobody's business
		}
		z := d / sd
		if !(math.Abs(z) > bound) || f.otherCourse[i] || uncounted(f.st.Results[i]) {
			continue
		}
		// Who rides every lap in another time is odd to the field and not to themselves.
		if math.Abs(d) > bound*f.ownSpread(x, i, k) {
			add(f.unlikely(i, k, d, z))
		}
	}
}

// fewBesideOff tells whether a clock is off on a course whose other stretches are too few to tell
// anybody's own pace in spite of it. A wrong distance is the same share of each one's.
func (f *field) fewBesideOff(c int) bool {
	x := &f.courses[c]
	well := 0
	for k := range x.splits {
		well += tally(!f.besideOff(c, k) && x.stretches[k] >= smallField)
	}
	return f.unequal[c] && well < leastWell
}

// allOffOwnPace finds them on all courses.
func (f *field) allOffOwnPace() {
	f.in.each(len(f.courses), func(c int) { f.offOwnPace(&f.courses[c]) })
}

// offOwnPace finds, per split and per result of a course, the log pace of the stretch less the
// athlete's level from the other stretches and the field's effect; NaN where nothing tells.
func (f *field) offOwnPace(x *onCourse) {
	room := x.offRoom()
	own := func(i int) {
		n := x.place[i]
		for k, d := range room.off(x, f.paces[i]) {
			x.off[k][n] = d
		}
	}
	switch {
	case x.off == nil || fewChanged*len(x.offStale) > len(x.results):
		x.off = make([][]float64, len(x.splits))
		for k := range x.off {
			x.off[k] = make([]float64, len(x.results))
		}
		for _, i := range x.results {
			own(i)
		}
	default:
		for _, i := range x.offStale {
			own(i)
		}
	}
	x.offStale = x.offStale[:0]
	if x.tails == nil {
		x.tails = make([][2]float64, len(x.splits))
		by := x.offTaught()
		f.in.each(len(x.splits), func(k int) { x.tails[k][0], x.tails[k][1] = tails(by[k]) })
	}
}

// offTaught are, per split, those by which the asked teach.
func (x *onCourse) offTaught() [][]float64 {
	by, room := make([][]float64, len(x.splits)), x.offRoom()
	for n := range x.asked {
		for k, d := range room.off(x, x.taught.paces[n]) {
			if !math.IsNaN(d) {
				by[k] = append(by[k], d)
			}
		}
	}
	return by
}

// two tells whether a course has but two stretches that tell a pace.
func (x *onCourse) two() bool {
	n := 0
	for k := range x.splits {
		n += tally(!math.IsNaN(x.effect[k]) && x.splits[k].Sport != "change")
	}
	return n == 2
}

// offRoom is room to work out in how far an athlete's stretches are off.
type offRoom struct{ out, own, sorted []float64 }

func (x *onCourse) offRoom() *offRoom {
	n := len(x.splits)
	return &offRoom{make([]float64, n), make([]float64, n), make([]float64, 0, n)}
}

// off works them out by paces, good until the next: two stretches at least must tell the level
// besides each, but on a course that has only two;
// how long somebody takes over a change tells nothing of how fast they swim or ride.
func (r *offRoom) off(x *onCourse, paces []float64) []float64 {
	r.sorted = r.sorted[:0]
	for k := range r.out {
		r.out[k], r.own[k] = math.NaN(), math.NaN()
	}
	for k, y := range paces {
		if !math.IsNaN(y) && !math.IsNaN(x.effect[k]) && x.splits[k].Sport != "change" {
			r.own[k] = y - x.effect[k]
			r.sorted = append(r.sorted, r.own[k])
		}
	}
	switch {
	case len(r.sorted) == 2 && x.two():
		r.offTwo()
	case len(r.sorted) >= 3:
		slices.Sort(r.sorted)
		for k := range paces {
			if !math.IsNaN(r.own[k]) {
				r.out[k] = r.own[k] - medianWithout(r.sorted, r.own[k])
			}
		}
	}
	return r.out
}

// offTwo works them out on a course of two stretches: the later against the
// earlier. Which of the two is odd nobody can tell; what a field's later ones scatter by holds
// both, and it is told once.
func (r *offRoom) offTwo() {
	first := math.NaN()
	for k := range r.own {
		switch {
		case math.IsNaN(r.own[k]):
		case math.IsNaN(first):
			first = r.own[k]
		default:
			r.out[k] = r.own[k] - first
		}
	}
}

// medianWithout is the median of sorted values but for one of them.
func medianWithout(sorted []float64, one float64) float64 {
	at, _ := slices.BinarySearch(sorted, one)
	other := func(k int) float64 {
		if k >= at {
			k++
		}
		return sorted[k]
	}
	n := len(sorted) - 1
	if n%2 == 1 {
		return other(n / 2)
	}
	return (other(n/2-1) + other(n/2)) / 2
}

// ownSpread is the spread of an athlete's other stretches about their level, 0 where they
// are too few to tell.
func (f *field) ownSpread(x *onCourse, i, k int) float64 {
	var buf [16]float64
	others := buf[:0]
	for j := range f.times[i] {
		if o, ok := f.stretch(i, j); ok && j != k && !math.IsNaN(x.effect[j]) {
			others = append(others, o-x.effect[j])
		}
	}
	if len(others) < 6 {
		return 0
	}
	_, sd := robust.Spread(others)
	return sd
}

// tails are the spreads of a stretch's residuals below and above the middle; ds is put in order.
func tails(ds []float64) (fast, slow float64) {
	slices.Sort(ds)
	if len(ds) < smallField { // many passed here and few have gone on: their levels rest on nothing
		return math.Inf(1), math.Inf(1)
	}
	_, sd := robust.Spread(slices.Clone(ds))
	if len(ds) < unlikelyField {
		sd = math.Max(sd, smallSpread)
	}
	// In a small field the outermost few are the question, not the measure.
	share := math.Max(tailShare, 3/float64(len(ds)))
	z := tailZ
	if share > tailShare {
		z = math.Sqrt2 * math.Erfinv(1-2*share)
	}
	if !(z > 0.5) {
		return sd, sd
	}
	return math.Max(sd, -quantile(ds, share)/z), math.Max(sd, quantile(ds, 1-share)/z)
}

func (f *field) unlikely(i, k int, d, z float64) race.Suspect {
	r := f.st.Results[i]
	s := suspect(race.UnlikelyPace, race.Look, r.Bib, r.Splits[k].ID)
	s.Line, s.Split, s.At = f.line(r.Splits[k].Line), r.Splits[k].ID, f.times[i][k]
	from, start := "the gun", r.Gun
	if k > 0 {
		from, start = r.Splits[k-1].ID, f.times[i][k-1]
	}
	took := s.At.Sub(start)
	want := race.Millis(float64(took) / math.Exp(d))
	way := "slower"
	if d < 0 {
		way = "faster"
	}
	spreads := fmt.Sprintf(", %.1f spreads of the field", math.Abs(z))
	if math.IsInf(z, 0) {
		spreads = "" // nobody else strays at all
	}
	s.Says = fmt.Sprintf("%s took %s from %s to %s where their other stretches tell %s: %.0f %% %s%s.",
		r.Bib, short(took), from, r.Splits[k].ID, short(want), 100*math.Abs(math.Exp(d)-1), way, spreads)
	s.Evidence = fmt.Sprintf("%s %s", way, f.mark(i, s.At))
	s.Proposes = accept(s.ID)
	s.Others = []string{setStatus(r.Bib, race.DSQ)}
	return s
}
