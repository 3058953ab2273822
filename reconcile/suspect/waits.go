package suspect

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// likeThem is how many of the field, nearest in pace, a prediction rests on.
	likeThem = 100
	// likeStep is by how many, at the least, the nearest of one athlete differ from those of the
	// next, and likeWindows about how many different nearest a great field has.
	likeStep    = 10
	likeWindows = 200
	// likeEnough who came tell a curve; of fewer, likeFew at least, only their middle is taken.
	likeEnough = 8
	likeFew    = 3
)

// wait is how long somebody who reached a split takes to the next.
type wait struct {
	pace   float64      // log of it up to the split; 0: none is known
	took   float64      // log of the stretch's seconds, of who came
	from   race.Instant // since when, of who is still on their way; NoInstant: they came
	result int32
}

func (a wait) compare(b wait) int {
	return cmp.Or(cmp.Compare(a.pace, b.pace), cmp.Compare(a.result, b.result))
}

// waits are those of the asked of a course, per split where they end, in order of pace.
type waits struct {
	inOrder lists[wait]
	ahead   map[int]race.Instant // results that were read, by their clock, later than now: their wait begins then
}

// renewWaits makes a course's waits what they are by now. Those who are still on their way are
// censored, not left out: without them the rest would look faster than the field is.
func (f *field) renewWaits(c int) {
	x := &f.courses[c].waits
	for i, from := range x.ahead {
		if f.st.Now > from {
			delete(x.ahead, i)
			x.inOrder.changed(i, len(f.st.Results))
		}
	}
	if !x.inOrder.due() {
		return
	}
	if x.ahead == nil {
		x.ahead = map[int]race.Instant{}
	}
	x.inOrder.renew(f, len(f.courses[c].splits), nil, wait.compare, func(a wait) int { return int(a.result) }, func(i int, add func(k int, a wait)) {
		if r := f.st.Results[i]; r.Course == c && f.in.tells(i) && !uncounted(r) {
			f.waitsOf(i, x, add)
		}
	})
}

// waitsOf are one athlete's.
func (f *field) waitsOf(i int, x *waits, add func(k int, a wait)) {
	delete(x.ahead, i)
	last := f.last(i)
	for k := 0; last >= 0 && k <= last+1 && k < len(f.times[i]); k++ {
		from, to := f.st.Results[i].Gun, f.times[i][k]
		if k > 0 {
			from = f.times[i][k-1]
		}
		switch {
		case !from.Known():
		case to.Known() && to > from:
			add(k, wait{f.upTo(i, k-1), math.Log(to.Sub(from).Seconds()), race.NoInstant, int32(i)})
		case k <= last:
		case f.st.Now > from:
			add(k, wait{f.upTo(i, k-1), 0, from, int32(i)})
		default:
			x.ahead[i] = from
		}
	}
}

// waitsTo are those that end at one split, in windows by pace.
type waitsTo struct {
	all     []wait
	came    int       // of those, how many came
	moves   int       // of the list, when the windows were laid
	windows []*window // the first is that of whoever has no pace, and of all where few came
}

// lay divides them.
func (x *waitsTo) lay(all []wait, moves int) {
	x.all, x.moves, x.came = all, moves, 0
	for n := range all {
		x.came += tally(!all[n].from.Known())
	}
	x.windows = []*window{{to: x, noPace: true}}
	if x.came < likeEnough {
		return
	}
	x.windows[0].lo = x.place(0) * x.step()
	for n := 0; n <= x.last()/x.step(); n++ {
		w := &window{to: x, lo: n * x.step(), above: math.Inf(-1), upTo: math.Inf(1)}
		if n > 0 {
			w.above = all[w.lo+likeThem/2-1].pace
		}
		if to := w.lo + x.step(); to <= x.last() {
			w.upTo = all[to+likeThem/2-1].pace
		}
		x.windows = append(x.windows, w)
	}
}

// last is the last place that a window can begin at.
func (x *waitsTo) last() int { return max(0, len(x.all)-likeThem) }

// step is by how many one window begins after another.
func (x *waitsTo) step() int { return max(likeStep, len(x.all)/likeWindows) }

// place is the number of the window of those nearest to a pace.
func (x *waitsTo) place(pace float64) int {
	at, _ := slices.BinarySearchFunc(x.all, pace, func(a wait, p float64) int { return cmp.Compare(a.pace, p) })
	return max(0, min(at-likeThem/2, x.last())) / x.step()
}

// of is the window that tells of somebody of a pace.
func (x *waitsTo) of(pace float64) *window {
	if pace == 0 || x.came < likeEnough {
		return x.windows[0]
	}
	return x.windows[1+x.place(pace)]
}

// guess is the middle and the spread of a log wait; not ok: nothing tells.
type guess struct {
	mid, sd float64
	ok      bool
}

// window is what those of about one pace tell, and who is told by it.
type window struct {
	to      *waitsTo
	lo      int     // the place of the first of them
	noPace  bool    // it tells of who has none
	above   float64 // it tells of whose pace is above that,
	upTo    float64 // and no more than that
	known   bool
	byPace  bool      // waits are told less the pace before: in a small field the nearest are not near
	near    []wait    // those that it holds
	came    []float64 // log waits, in order
	still   []still   // about in order, as they were last
	g       guess
	until   race.Instant // as long as now is before that, the guess is the same
	out     []out
	told    int     // of out, those who know what it guesses
	overdue []int32 // results out of which are overdue
	next    race.Instant
}

// still is the wait of one who is on their way.
type still struct {
	from       race.Instant
	pace, took float64
}

// ask makes the guess what it is by now; true where it is another, which whoever asks must tell
// those who are out: tell asks first in every search, and later ones get the answer that it had.
func (w *window) ask(now race.Instant) bool {
	if w.known && now < w.until {
		return false
	}
	was, known := w.g, w.known
	if !known {
		w.gather()
	}
	if w.to.came < likeEnough {
		w.g, w.until = fewLike(w.to.all), never
	} else {
		w.g, w.until = w.middle(now)
	}
	return !known || w.g != was
}

// never is later than any moment of a race.
const never race.Instant = math.MaxInt64

// holds are the waits of a window. Equal paces (nobody has one at the start) come all or not at
// all: else those on the edge would tell by chance.
func (w *window) holds() []wait {
	all, lo, hi := w.to.all, w.lo, min(len(w.to.all), w.lo+likeThem)
	for lo > 0 && all[lo-1].pace == all[lo].pace {
		lo--
	}
	for hi < len(all) && all[hi].pace == all[hi-1].pace {
		hi++
	}
	return all[lo:hi]
}

// takeUp goes on with what another window worked out, where that held the same waits.
func (w *window) takeUp(was *window) bool {
	if !was.known || was.near == nil || w.to.came < likeEnough || !slices.Equal(was.near, w.holds()) {
		return false
	}
	w.known, w.byPace, w.near, w.came, w.still, w.g, w.until = true, was.byPace, was.near, was.came, was.still, was.g, was.until
	return true
}

// covers tells whether it tells of somebody of a pace.
func (w *window) covers(pace float64) bool {
	if w.noPace || pace == 0 {
		return w.noPace && pace == 0
	}
	return pace > w.above && pace <= w.upTo
}

// gather takes the waits of a window.
func (w *window) gather() {
	w.known, w.byPace = true, true
	if w.to.came < likeEnough {
		return
	}
	w.near = slices.Clone(w.holds())
	w.byPace = !w.noPace && (w.near[0].pace != 0 || w.near[len(w.near)-1].pace != 0) // else they are the whole field, as long as it has but started
	for _, a := range w.near {
		if !w.byPace {
			a.pace = 0
		}
		if a.from.Known() {
			w.still = append(w.still, still{from: a.from, pace: a.pace})
		} else {
			w.came = append(w.came, a.took-a.pace)
		}
	}
	slices.Sort(w.came)
}

// middle is the middle and the spread by the product-limit estimate, and until when it stands:
// the spread from the slow half, the middle of which dropouts hardly move.
func (w *window) middle(now race.Instant) (g guess, until race.Instant) {
	for n := range w.still {
		w.still[n].took = math.Log(now.Sub(w.still[n].from).Seconds()) - w.still[n].pace
	}
	slices.SortFunc(w.still, func(a, b still) int { return cmp.Compare(a.took, b.took) })
	n := len(w.came) + len(w.still)
	times, happened := make([]float64, 0, n), make([]bool, 0, n)
	came := w.came
	for _, s := range w.still {
		for len(came) > 0 && came[0] <= s.took {
			times, happened, came = append(times, came[0]), append(happened, true), came[1:]
		}
		times, happened = append(times, s.took), append(happened, false)
	}
	for _, t := range came {
		times, happened = append(times, t), append(happened, true)
	}
	q, has := kaplanMeier(times, happened, 0.5, 0.75, 0.9)
	last := math.Inf(1)
	if has[2] {
		last = q[2]
	}
	until = w.stands(last)
	if !has[0] || !has[1] {
		return w.whoCame(), until
	}
	sd := (q[1] - q[0]) / 0.6745
	if has[2] {
		sd = math.Max(sd, (q[2]-q[0])/1.2816)
	}
	return guess{q[0], math.Max(sd, 0.03), true}, until
}

// whoCame is what the few who came tell where most don't, as behind a cut-off: whoever comes takes about
// as long as they did, the slowest twice that. Of who has no pace nobody knows how much slower they are.
func (w *window) whoCame() guess {
	if !w.byPace || len(w.came) < likeFew {
		return guess{}
	}
	return aboutTwice(slices.Clone(w.came))
}

// passesWithin is how sure it is, in time, when somebody's wait becomes longer than another's
// was: logarithms of waits are rounded, by far less.
const passesWithin = 2 * race.Millis(1)

// stands is until when none of those on their way will have waited longer than the next of
// those who came took: the estimate asks for nothing but that order, up to the last that it
// tells of.
func (w *window) stands(last float64) race.Instant {
	until, came := never, w.came
	for _, s := range w.still {
		for len(came) > 0 && came[0] <= s.took {
			came = came[1:]
		}
		if len(came) == 0 || came[0] > last {
			break
		}
		until = min(until, s.from.Add(race.Millis(1000*math.Exp(came[0]+s.pace))-passesWithin))
	}
	return until
}

// of is what it guesses of somebody of a pace.
func (w *window) of(pace float64) (mid, sd float64, ok bool) {
	if !w.byPace {
		pace = 0
	}
	return w.g.mid + pace, w.g.sd, w.g.ok
}

// fewLike predicts from too few to tell a spread: their middle, as far as they keep their
// pace from stretch to stretch, and twice that at the slow end; of somebody of pace 0.
func fewLike(all []wait) guess {
	var took []float64
	for n := range all {
		if !all[n].from.Known() {
			took = append(took, all[n].took-all[n].pace)
		}
	}
	if len(took) < likeFew {
		return guess{}
	}
	return aboutTwice(took)
}

// aboutTwice is the middle of some log waits, which are reordered, and twice that at the slow end.
func aboutTwice(took []float64) guess {
	mid, sd := robust.Spread(took)
	return guess{mid, math.Max(sd, math.Ln2/overdueSpreads), true}
}
