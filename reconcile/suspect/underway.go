package suspect

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// out is somebody who is under way.
type out struct {
	result int32
	pace   float64      // log of it up to where they were read last, 0 where there is none
	from   race.Instant // when that was
	due    race.Instant // when they are overdue at the next split; NoInstant: nothing tells
}

// underWay is who is out, and when each should come, kept from search to search.
type underWay struct {
	now      race.Instant
	on       []outOn
	by       []*window // per result: what tells of them; nil: they aren't out
	place    []int32   // per result: where they stand among those of whom it tells
	begun    window    // of whom nothing was read but an early start, if that
	stage    []stage   // per result
	expected []race.Instant
	said     map[int]saidOf // by result
	given    bool           // the state before has that too: it isn't written any more
}

// outOn is the same of a course.
type outOn struct {
	to   []waitsTo // per split
	set  int       // who set out
	in   int       // of them, who are in, or out for good
	over bool      // nearly all
}

// stage is how far an athlete's race has come.
type stage uint8

const (
	notSeen stage = iota
	hasSetOut
	hasEnded
)

// whoIsOut makes what is kept of those who are out what it is by now.
func (f *field) whoIsOut() *underWay {
	u, some := f.out, f.news.changed
	anew := u == nil || f.st.Now < u.now // a guess stands only until a moment that is to come
	if anew {
		u, some = f.newUnderWay(), make([]int, len(f.st.Results))
		for i := range some {
			some[i] = i
		}
		f.out = u
	}
	u.now, u.given = f.st.Now, true
	for _, i := range some {
		u.leave(i)
		u.reach(f, i)
	}
	for c := range u.on {
		f.renewWaits(c)
		u.layAgain(f, c)
	}
	for _, i := range some {
		u.enter(f, i)
	}
	for c := range u.on {
		over := u.on[c].overBy()
		for k := range u.on[c].to {
			for _, w := range u.on[c].to[k].windows {
				if over != u.on[c].over {
					w.told = 0
				}
				u.tell(f, w, over)
			}
		}
		u.on[c].over = over
	}
	for _, x := range u.begun.out {
		i := int(x.result)
		u.expect(i, u.awaits(f, i).likely)
	}
	return u
}

func (f *field) newUnderWay() *underWay {
	n := len(f.st.Results)
	u := &underWay{on: make([]outOn, len(f.courses)), by: make([]*window, n), place: make([]int32, n), stage: make([]stage, n),
		said: map[int]saidOf{}, expected: slices.Repeat([]race.Instant{race.NoInstant}, n)}
	for c := range f.courses {
		f.courses[c].waits = waits{}
		u.on[c].to = make([]waitsTo, len(f.courses[c].splits))
	}
	return u
}

// reach notes how far an athlete has come.
func (u *underWay) reach(f *field, i int) {
	r := f.st.Results[i]
	if r.Course < 0 {
		return
	}
	x := &u.on[r.Course]
	count := func(s stage, by int) {
		x.set += by * tally(s >= hasSetOut)
		x.in += by * tally(s >= hasEnded)
	}
	count(u.stage[i], -1)
	switch {
	case f.last(i) < 0:
		u.stage[i] = notSeen
	case r.Finish >= 0 || uncounted(r):
		u.stage[i] = hasEnded
	default:
		u.stage[i] = hasSetOut
	}
	count(u.stage[i], 1)
}

// overBy tells whether a course's race is as good as over: nearly everybody who set out is in
// or out.
func (x *outOn) overBy() bool {
	return x.set >= 3 && float64(x.set-x.in) <= math.Max(1, raceOver*float64(x.set))
}

// leave takes an athlete from among those who are out.
func (u *underWay) leave(i int) {
	w := u.by[i]
	if w == nil {
		return
	}
	u.by[i] = nil
	delete(u.said, i)
	at, last := int(u.place[i]), len(w.out)-1
	if at < w.told { // those who were told stay in front
		w.told--
		w.move(u, w.told, at)
		at = w.told
	}
	if at < last {
		w.move(u, last, at)
	}
	w.out = w.out[:last]
	w.overdue = slices.DeleteFunc(w.overdue, func(k int32) bool { return int(k) == i })
}

// move has somebody stand elsewhere among those of whom a window tells.
func (w *window) move(u *underWay, from, to int) {
	w.out[to] = w.out[from]
	u.place[w.out[to].result] = int32(to)
}

// enter puts an athlete among them who is out.
func (u *underWay) enter(f *field, i int) {
	r, last := f.st.Results[i], f.last(i)
	switch {
	case r.Course < 0 || r.Finish >= 0 || uncounted(r) || last+1 >= len(r.Splits) || last < 0 && r.State != race.Running:
		u.expect(i, race.NoInstant)
	case last < 0:
		u.join(&u.begun, out{result: int32(i)})
	default:
		x := out{int32(i), f.upTo(i, last), f.times[i][last], race.NoInstant}
		u.join(u.on[r.Course].to[last+1].of(x.pace), x)
	}
}

func (u *underWay) join(w *window, x out) {
	u.by[x.result], u.place[x.result] = w, int32(len(w.out))
	w.out = append(w.out, x)
}

// layAgain lays the windows anew of those waits of a course that are others.
func (u *underWay) layAgain(f *field, c int) {
	for k := range u.on[c].to {
		x, list := &u.on[c].to[k], &f.courses[c].waits.inOrder
		if x.moves == list.moves[k] {
			continue
		}
		were := x.windows
		x.lay(list.lists[k], list.moves[k])
		u.stay(x, were)
		for _, w := range were {
			for _, o := range w.out {
				if u.by[o.result] == w {
					u.join(x.of(o.pace), o)
				}
			}
		}
	}
}

// stay leaves those where they are whose window is laid where it was and has the same waits: they
// know what it guesses.
func (u *underWay) stay(x *waitsTo, were []*window) {
	for n := range min(len(x.windows), len(were)) {
		w, was := x.windows[n], were[n]
		if !w.takeUp(was) {
			continue
		}
		for _, o := range was.out[:was.told] {
			if w.covers(o.pace) {
				u.join(w, o)
			}
		}
		w.told, w.next = len(w.out), was.next
		for _, i := range was.overdue {
			if u.by[i] == w {
				w.overdue = append(w.overdue, i)
			}
		}
	}
}

// tell tells those what a window guesses who don't know it yet.
func (u *underWay) tell(f *field, w *window, over bool) {
	if len(w.out) == 0 {
		return
	}
	if w.ask(u.now) || w.told == 0 {
		w.told, w.next, w.overdue = 0, never, w.overdue[:0]
	}
	for n := w.told; n < len(w.out); n++ {
		o := &w.out[n]
		i := int(o.result)
		due, likely := f.due(w, i, f.last(i), o.pace, o.from, over)
		u.expect(i, likely)
		if o.due = due; due.Known() {
			w.next = min(w.next, due)
		}
	}
	if w.told = len(w.out); u.now > w.next {
		w.findOverdue(u.now)
	}
}

// findOverdue finds who is overdue, and who will be next.
func (w *window) findOverdue(now race.Instant) {
	w.next, w.overdue = never, w.overdue[:0]
	for _, o := range w.out {
		switch {
		case !o.due.Known():
		case now > o.due:
			w.overdue = append(w.overdue, o.result)
		default:
			w.next = min(w.next, o.due)
		}
	}
}

// expect notes when somebody is likeliest to come.
func (u *underWay) expect(i int, t race.Instant) {
	if u.expected[i] == t {
		return
	}
	if u.given {
		u.expected, u.given = slices.Clone(u.expected), false
	}
	u.expected[i] = t
}

// late are the results of a course that are overdue, in order.
func (u *underWay) late(f *field, c int, closed bool) []int {
	var some []int
	for k := range u.on[c].to {
		for _, w := range u.on[c].to[k].windows {
			if closed {
				for _, o := range w.out {
					some = append(some, int(o.result))
				}
				continue
			}
			for _, i := range w.overdue {
				some = append(some, int(i))
			}
		}
	}
	for _, o := range u.begun.out {
		i := int(o.result)
		if f.st.Results[i].Course != c {
			continue
		}
		if x := u.awaits(f, i); closed || x.due.Known() && u.now > x.due {
			some = append(some, i)
		}
	}
	slices.Sort(some)
	return some
}
