package standing

import (
	"cmp"
	"slices"
	"sync"
	"sync/atomic"

	"twinmat/reconcile/ordered"
	"twinmat/reconcile/race"
)

// waiting is who was seen and hasn't come in, kept from watch to watch.
type waiting struct {
	seen []race.Instant // per result: when they were read last, NoInstant: they aren't out
	once sync.Once
	all  []dueAt     // who should have come longest ago first; nil: not put in order yet
	want atomic.Bool // somebody asked: of the next watch they are put in order with it
}

// dueAt is when a result is expected, or was read last where that can't be said.
type dueAt struct {
	at     race.Instant
	result int32
}

func (a dueAt) compare(b dueAt) int {
	return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.result, b.result))
}

// isOut tells whether somebody was seen and hasn't come in.
func isOut(r *race.Result) bool {
	return r.Finish < 0 && (r.State == race.Running || r.State == race.Held)
}

// StillOut calls f for the results of who was seen and hasn't come in, who should have come
// longest ago first, until f has enough.
func (w *Watch) StillOut(f func(result int) bool) {
	w.out.want.Store(true)
	for _, x := range w.ordered(nil) {
		if !f(int(x.result)) {
			return
		}
	}
}

// ordered are those who are out, put in order when first asked for; it may be by a screen while
// the next watch is made.
func (w *Watch) ordered(before []dueAt) []dueAt {
	w.out.once.Do(func() { w.out.all = w.inOrder(before) })
	return w.out.all
}

// lookOut finds who is out, from the watch before.
func (w *Watch) lookOut(before *Watch) {
	if w.Whole {
		w.out.seen = make([]race.Instant, len(w.st.Results))
		for i, r := range w.st.Results {
			w.out.seen[i] = seenLast(r)
		}
		return
	}
	w.out.seen = before.out.seen
	if len(w.Changed) > 0 {
		w.out.seen = slices.Clone(w.out.seen)
	}
	for _, i := range w.Changed {
		w.out.seen[i] = seenLast(w.st.Results[i])
	}
	if before.out.want.Load() {
		w.ordered(before.ordered(nil))
	}
}

// seenLast is when somebody who is out was read last; of whom that isn't known it is the least
// moment there is. NoInstant: they aren't out.
func seenLast(r *race.Result) race.Instant {
	if !isOut(r) {
		return race.NoInstant
	}
	_, _, at := lastSeen(r)
	return max(at, race.NoInstant+1)
}

// lastSeen is the last split that somebody filled, and where and when they were read last: at another
// line after it, or where they fill none, that may be a passing which fills no split. Whoever looks for
// them needs the place all the same. split and line are -1 where there is none.
func lastSeen(r *race.Result) (split, line int, at race.Instant) {
	split, at = r.Reached()
	line = -1
	if split >= 0 && split < len(r.Splits) {
		line = r.Splits[split].Line
	}
	filled := line
	for i := range r.Passings {
		if p := &r.Passings[i]; p.Fate != race.Voided && p.Line != filled && p.At.Known() && p.At > at {
			line, at = p.Line, p.At
		}
	}
	return split, line, at
}

// inOrder puts who is out in order, from that of the watch before, most of which stands.
func (w *Watch) inOrder(before []dueAt) []dueAt {
	due := func(i int) race.Instant {
		if at := w.st.Expected[i]; at.Known() {
			return at
		}
		return w.out.seen[i]
	}
	stands := make([]bool, len(w.out.seen))
	all := make([]dueAt, 0, len(before)+16)
	for _, x := range before {
		if w.out.seen[x.result].Known() && due(int(x.result)) == x.at {
			all, stands[x.result] = append(all, x), true
		}
	}
	var more []dueAt
	for i, at := range w.out.seen {
		if at.Known() && !stands[i] {
			more = append(more, dueAt{due(i), int32(i)})
		}
	}
	slices.SortFunc(more, dueAt.compare)
	return ordered.Merge(all, more, dueAt.compare)
}

// OutOf tells of a result that hasn't come in.
func OutOf(s *race.State, i int) Out {
	r := s.Results[i]
	at, line, when := lastSeen(r)
	o := Out{Result: i, Last: when, Expected: s.Expected[i]}
	switch {
	case at >= 0 && at < len(r.Splits) && r.Splits[at].Line == line:
		o.Place = r.Splits[at].ID
	case line >= 0 && line < len(s.Plan.Lines):
		o.Place = s.Plan.Lines[line].ID
	}
	if at+1 < len(r.Splits) {
		o.Next = r.Splits[at+1].ID
	}
	if late := s.Now.Sub(o.Expected); late.Known() && late > 0 {
		o.Late = late
	}
	return o
}
