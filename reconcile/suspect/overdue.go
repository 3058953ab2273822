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
	// overdueSpreads past the middle of those like them, in robust spreads of log time, is
	// when an athlete is overdue: one in some thousands of a normal field comes later.
	overdueSpreads = 4.0
	// overdueLeast is the least wait past the middle, so that a short stretch between two
	// lines isn't a matter of seconds.
	overdueLeast = 120 * 1000 * race.Millis(1)
	// likeThem is how many of the field, nearest in pace, a prediction rests on.
	likeThem = 100
	// likeStep is by how many, at the least, the nearest of one athlete differ from those of the
	// next, and likeWindows about how many different nearest a great field has.
	likeStep    = 10
	likeWindows = 200
	// likeEnough who came tell a curve; of fewer, likeFew at least, only their middle is taken.
	likeEnough = 8
	likeFew    = 3
	// raceOver: when all but this share of those who set out are in or out, those who are
	// left are mostly those who won't come, and half the spreads do: overEnough.
	raceOver   = 0.03
	overEnough = 1.5
	// overNoPace: of whoever was only read at the start no pace is known, and the last few of
	// a field are its slowest; so many spreads past the middle are few.
	overNoPace = 2.6
)

// overdue: should have reached the next split by now. Once the course is closed, whoever
// set out and has neither a finish nor a status is, and it holds. On the way it notes when
// everybody who is out is expected.
func overdue(f *field) []race.Suspect {
	var found []race.Suspect
	f.st.Expected = slices.Repeat([]race.Instant{race.NoInstant}, len(f.st.Results))
	if !f.st.Now.Known() {
		return nil
	}
	for c := range f.courses {
		course := &f.plan.Courses[c]
		closed := c < len(f.st.Closed) && f.st.Closed[c]
		waits := f.waits(c)
		over := f.over(c)
		for _, i := range f.courses[c].results {
			r := f.st.Results[i]
			if r.Finish >= 0 || uncounted(r) || !f.setOut(i) || f.last(i)+1 >= len(r.Splits) {
				continue
			}
			w := waits.of(i, over)
			f.st.Expected[i] = w.likely
			switch {
			case w.last+1 >= len(r.Splits) || f.otherCourse[i] || f.flew[i] && !closed || f.moved[[2]int{c, w.last + 1}]:
			case (course.TimeLimit > 0 || course.Open) && !closed: // they rest as long as they like; the limit ends their race, not a wait
			case closed || w.due.Known() && f.st.Now > w.due:
				found = append(found, f.overdueAt(i, w, closed, over))
			}
		}
	}
	return found
}

// awaited is when somebody last read at a split is likeliest at the next, and when they are
// overdue there; NoInstant where nothing tells.
type awaited struct {
	last        int
	at          race.Instant // when they were read there
	likely, due race.Instant
}

// of is when somebody who is out should come; over: nearly everybody else is in.
func (w *waits) of(i int, over bool) awaited {
	f, r := w.f, w.f.st.Results[i]
	x := awaited{f.last(i), r.Gun, race.NoInstant, race.NoInstant}
	spreads := overdueSpreads
	switch {
	case over && (x.last < 0 || r.Splits[x.last].At == 0):
		spreads = overNoPace
	case over:
		spreads = overEnough
	}
	if early := f.beganEarly(i); x.last < 0 && early.Known() {
		x.last, x.at = 0, early
	} else if x.last >= 0 {
		x.at = f.times[i][x.last]
	} else {
		return x
	}
	x.due, x.likely = w.due(f, i, x.last, x.at, spreads)
	return x
}

// setOut tells whether an athlete is on the course: read at a split, or on their way after
// an early start. Whoever was never read is unseen, not overdue.
func (f *field) setOut(i int) bool {
	return f.last(i) >= 0 || f.st.Results[i].State == race.Running
}

func (f *field) overdueAt(i int, w awaited, closed, over bool) race.Suspect {
	r := f.st.Results[i]
	weight := race.Look
	if closed {
		weight = race.Hold
	}
	s := suspect(race.Overdue, weight, r.Bib)
	next := &r.Splits[w.last+1]
	s.Line, s.Split = f.line(next.Line), next.ID
	place := "the gun"
	if w.last >= 0 {
		place = r.Splits[w.last].ID
	}
	s.At = w.at
	s.Says = fmt.Sprintf("%s was last read at %s at %s, %s ago", r.Bib, place, f.clock(w.at), short(f.st.Now.Sub(w.at)))
	if w.likely.Known() {
		s.Says += fmt.Sprintf("; expected at %s about %s", next.ID, f.clock(w.likely))
		if w.due.Known() && w.due > w.likely {
			s.Says += fmt.Sprintf(", %s at the latest", f.clock(w.due))
		}
	}
	switch {
	case closed:
		s.Says += "; the course is closed"
	case over:
		s.Says += "; nearly everybody else is in"
	}
	s.Says += ". A chip that isn't read says nothing about where a person is."
	s.Proposes = setStatus(r.Bib, race.DNF)
	if w.last < 0 {
		s.Proposes = setStatus(r.Bib, race.DNS)
		s.Others = append(s.Others, setStatus(r.Bib, race.DNF))
	}
	s.Others = append(s.Others, setStatus(r.Bib, race.DSQ), accept(s.ID))
	s.Evidence = fmt.Sprintf("last %s %s", place, f.mark(i, w.at))
	return s
}

// wait is how long those who reached a split took to the next, in order of their log pace
// up to it: log of the stretch's seconds, and whether it happened or is only known to be
// longer.
type wait struct {
	pace float64
	took float64
	came bool
}

type waits struct {
	f      *field
	course int
	after  []waitsTo // per split; index 0 is after the gun
}

// waitsTo are those from one split to the next, worked out when first asked for.
type waitsTo struct {
	known bool
	all   []wait        // ordered by pace
	came  int           // of those, how many came
	few   *guess        // what fewLike tells of somebody of pace 0
	equal *guess        // what those without a pace tell of one another
	near  map[int]guess // by the place of the first of them: what those of about one pace tell, of somebody of pace 0
}

// guess is the middle and the spread of a log wait; not ok: nothing tells.
type guess struct {
	mid, sd float64
	ok      bool
}

func (f *field) waits(c int) *waits {
	return &waits{f: f, course: c, after: make([]waitsTo, len(f.courses[c].splits)+1)}
}

// to gathers the times to split k, from the one before it or from the gun, of those who tell
// of the field. Those who are still on their way are censored, not left out: without them the
// rest would look faster than the field is.
func (w *waits) to(k int) *waitsTo {
	x := &w.after[k]
	if x.known {
		return x
	}
	x.known = true
	f, c := w.f, &w.f.courses[w.course]
	for k >= len(c.waited) {
		c.waited = append(c.waited, nil)
	}
	came := c.waited[k] != nil
	still := make([]wait, 0, len(c.asked))
	for _, i := range c.asked {
		last := f.last(i)
		if last < 0 && k == 0 || k > last+1 || k >= len(f.times[i]) || came && k <= last || uncounted(f.st.Results[i]) {
			continue
		}
		from := f.st.Results[i].Gun
		if k > 0 {
			from = f.times[i][k-1]
		}
		to := f.times[i][k]
		switch {
		case !from.Known() || k <= last && !to.Known():
		case to.Known() && to > from:
			c.waited[k] = append(c.waited[k], wait{f.upTo(i, k-1), math.Log(to.Sub(from).Seconds()), true})
		case !to.Known() && f.st.Now > from:
			still = append(still, wait{f.upTo(i, k-1), math.Log(f.st.Now.Sub(from).Seconds()), false})
		}
	}
	if !came {
		slices.SortFunc(c.waited[k], wait.compare)
	}
	slices.SortFunc(still, wait.compare)
	x.came, x.all = len(c.waited[k]), mergedWaits(c.waited[k], still)
	return x
}

// compare orders by pace, then by what was taken; of equal ones those who came are first.
func (a wait) compare(b wait) int {
	switch {
	case a.pace != b.pace:
		return cmp.Compare(a.pace, b.pace)
	case a.took != b.took:
		return cmp.Compare(a.took, b.took)
	}
	return tally(b.came) - tally(a.came)
}

// mergedWaits are both, in order; neither is changed.
func mergedWaits(a, b []wait) []wait {
	out := make([]wait, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if a[0].compare(b[0]) <= 0 {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}

// upTo is an athlete's log pace from their start to split k, 0 where there is none.
func (f *field) upTo(i, k int) float64 {
	r := f.st.Results[i]
	if k < 0 || r.Splits[k].At <= 0 {
		return 0
	}
	from := r.Gun
	if startSplit(r.Splits) == 0 && f.times[i][0].Known() {
		from = f.times[i][0]
	}
	d := f.times[i][k].Sub(from)
	if !from.Known() || d <= 0 {
		return 0
	}
	return math.Log(d.Seconds() / r.Splits[k].At)
}

// due is when an athlete last read at a split is overdue at the next, and when they are
// likeliest there; NoInstant where nothing tells.
func (w *waits) due(f *field, i, last int, from race.Instant, spreads float64) (due, likely race.Instant) {
	mid, sd, ok := w.like(f.upTo(i, last), last+1)
	if !ok {
		mid, sd, ok = w.unseenNext(i, last)
	}
	if !ok {
		return race.NoInstant, race.NoInstant
	}
	likely = from.Add(race.Millis(1000 * math.Exp(mid)))
	return max(from.Add(race.Millis(1000*math.Exp(math.Min(mid+float64(spreads*sd), 20)))), likely.Add(overdueLeast)), likely
}

// like is the middle and the spread of the log waits of those nearest in pace, by the
// product-limit estimate: the spread from the slow half, the middle of which dropouts
// hardly move.
func (w *waits) like(pace float64, k int) (mid, sd float64, ok bool) {
	x := w.to(k)
	all := x.all
	if x.came < likeEnough {
		if x.few == nil {
			x.few = new(fewLike(all))
		}
		return x.few.mid + pace, x.few.sd, x.few.ok
	}
	at, _ := slices.BinarySearchFunc(all, pace, func(x wait, p float64) int { return cmp.Compare(x.pace, p) })
	lo := max(0, min(at-likeThem/2, len(all)-likeThem))
	lo -= lo % max(likeStep, len(all)/likeWindows)
	hi := min(len(all), lo+likeThem)
	// Equal paces (nobody has one at the start) come all or not at all: they are in order of
	// what they took, and a part of them would be the fast part.
	for lo > 0 && all[lo-1].pace == all[lo].pace {
		lo--
	}
	for hi < len(all) && all[hi].pace == all[hi-1].pace {
		hi++
	}
	if all[lo].pace == 0 && all[hi-1].pace == 0 { // the whole field, as long as it has but started
		if x.equal == nil {
			x.equal = new(middleOf(slices.Clone(all[lo:hi])))
		}
		return x.equal.mid, x.equal.sd, x.equal.ok
	}
	if pace == 0 { // none is known
		g := middleOf(slices.Clone(all[lo:hi]))
		return g.mid, g.sd, g.ok
	}
	g, ok := x.near[lo]
	if !ok {
		near := slices.Clone(all[lo:hi])
		for n := range near {
			near[n].took -= near[n].pace // in a small field the nearest are not near
		}
		if g = middleOf(near); x.near == nil {
			x.near = map[int]guess{}
		}
		x.near[lo] = g
	}
	return g.mid + pace, g.sd, g.ok
}

// middleOf is the middle and the spread of these waits, which it puts in order.
func middleOf(near []wait) guess {
	slices.SortFunc(near, func(a, b wait) int {
		return cmp.Or(cmp.Compare(a.took, b.took), tally(b.came)-tally(a.came))
	})
	times, happened := make([]float64, len(near)), make([]bool, len(near))
	for n := range near {
		times[n], happened[n] = near[n].took, near[n].came
	}
	q, has := kaplanMeier(times, happened, 0.5, 0.75, 0.9)
	if !has[0] || !has[1] {
		return guess{}
	}
	sd := (q[1] - q[0]) / 0.6745
	if has[2] {
		sd = math.Max(sd, (q[2]-q[0])/1.2816)
	}
	return guess{q[0], math.Max(sd, 0.03), true}
}

// fewLike predicts from too few to tell a spread: their middle, as far as they keep their
// pace from stretch to stretch, and twice that at the slow end; of somebody of pace 0.
func fewLike(all []wait) guess {
	var took []float64
	for n := range all {
		if all[n].came {
			took = append(took, all[n].took-all[n].pace)
		}
	}
	if len(took) < likeFew {
		return guess{}
	}
	mid, sd := robust.Spread(took)
	return guess{mid, math.Max(sd, math.Ln2/overdueSpreads), true}
}

// riegel is the exponent of time over distance (Riegel 1981), before anybody has arrived.
const riegel = 1.06

// longer is the time for a distance from the time for another.
func longer(seconds, metres, to float64) float64 { return seconds * math.Pow(to/metres, riegel) }

// unseenNext predicts a stretch that too few have come over: from the athlete's own pace,
// twice that at the slow end.
func (w *waits) unseenNext(i, last int) (mid, sd float64, ok bool) {
	r := w.f.st.Results[i]
	if last < 0 || last+1 >= len(r.Splits) || r.Splits[last].At <= 0 || r.Splits[last+1].Sport != r.Splits[last].Sport || r.Splits[last+1].At <= r.Splits[last].At {
		return 0, 0, false
	}
	so := math.Exp(w.f.upTo(i, last)) * r.Splits[last].At
	to := longer(so, r.Splits[last].At, r.Splits[last+1].At)
	return math.Log(to - so), math.Ln2 / overdueSpreads, true
}

// over tells whether a course's race is as good as over: nearly everybody who set out is in
// or out.
func (f *field) over(c int) bool {
	set, in := 0, 0
	for _, i := range f.courses[c].results {
		r := f.st.Results[i]
		if f.last(i) < 0 {
			continue
		}
		set++
		if r.Finish >= 0 || uncounted(r) {
			in++
		}
	}
	return set >= 3 && float64(set-in) <= math.Max(1, raceOver*float64(set))
}
