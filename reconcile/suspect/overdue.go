package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

const (
	// overdueSpreads past the middle of those like them, in robust spreads of log time, is
	// when an athlete is overdue: one in some thousands of a normal field comes later.
	overdueSpreads = 4.0
	// overdueLeast is the least wait past the middle, so that a short stretch between two
	// lines isn't a matter of seconds.
	overdueLeast = 120 * 1000 * race.Millis(1)
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
	if !f.st.Now.Known() {
		f.out, f.st.Expected = nil, slices.Repeat([]race.Instant{race.NoInstant}, len(f.st.Results))
		return nil
	}
	u := f.whoIsOut()
	f.st.Expected = u.expected
	var found []race.Suspect
	for c := range f.courses {
		course := &f.plan.Courses[c]
		closed := c < len(f.st.Closed) && f.st.Closed[c]
		if (course.TimeLimit > 0 || course.Open) && !closed {
			continue // they rest as long as they like; the limit ends their race, not a wait
		}
		late := u.late(f, c, closed)
		found = slices.Grow(found, len(late))
		for _, i := range late {
			w := u.awaits(f, i)
			if w.last+1 < len(f.st.Results[i].Splits) && !f.otherCourse[i] && (!f.flew[i] || closed) && !f.moved[[2]int{c, w.last + 1}] {
				found = append(found, u.overdueAt(f, i, overdueNow{w, short(f.st.Now.Sub(w.at)), closed, u.on[c].over}))
			}
		}
	}
	return found
}

// overdueNow is all that is told of somebody overdue but what their result tells.
type overdueNow struct {
	awaited
	ago          string
	closed, over bool
}

// saidOf is what was said of it last.
type saidOf struct {
	of overdueNow
	s  race.Suspect
}

// overdueAt says it again, or anew where it is another.
func (u *underWay) overdueAt(f *field, i int, x overdueNow) race.Suspect {
	if was, ok := u.said[i]; ok && was.of == x {
		return was.s
	}
	s := f.overdueAt(i, x)
	u.said[i] = saidOf{x, s}
	return s
}

// awaited is when somebody last read at a split is likeliest at the next, and when they are
// overdue there; NoInstant where nothing tells.
type awaited struct {
	last        int
	at          race.Instant // when they were read there
	likely, due race.Instant
}

// awaits is when somebody who is out should come.
func (u *underWay) awaits(f *field, i int) awaited {
	if w := u.by[i]; w != &u.begun {
		o := &w.out[u.place[i]]
		return awaited{f.last(i), o.from, u.expected[i], o.due}
	}
	r := f.st.Results[i]
	x, at := &u.on[r.Course], f.beganEarly(i)
	if !at.Known() {
		return awaited{-1, r.Gun, race.NoInstant, race.NoInstant}
	}
	y := awaited{0, at, race.NoInstant, race.NoInstant}
	if len(r.Splits) > 1 {
		w := x.to[1].of(0) // nobody has a pace at the start
		w.ask(u.now)
		y.due, y.likely = f.due(w, i, 0, 0, at, x.over)
	}
	return y
}

func (f *field) overdueAt(i int, w overdueNow) race.Suspect {
	r := f.st.Results[i]
	weight := race.Look
	if w.closed {
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
	s.Says = fmt.Sprintf("%s was last read at %s at %s, %s ago", r.Bib, place, f.clock(w.at), w.ago)
	if w.last < 0 {
		s.Says = fmt.Sprintf("%s was read at no split since the gun at %s, %s ago%s", r.Bib, f.clock(w.at), w.ago, f.lastSeen(r))
	}
	if w.likely.Known() {
		s.Says += fmt.Sprintf("; expected at %s about %s", next.ID, f.clock(w.likely))
		if w.due.Known() && w.due > w.likely {
			s.Says += fmt.Sprintf(", %s at the latest", f.clock(w.due))
		}
	}
	switch {
	case w.closed:
		s.Says += "; the course is closed"
	case w.over:
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

// lastSeen says where somebody who was read at no split was read at all.
func (f *field) lastSeen(r *race.Result) string {
	for k := len(r.Passings) - 1; k >= 0; k-- {
		if p := &r.Passings[k]; p.Fate != race.Voided {
			return fmt.Sprintf(", last at %s at %s", f.line(p.Line), f.dayAndClock(r, p.At))
		}
	}
	return ""
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
// likeliest there; NoInstant where nothing tells. over: nearly everybody else is in.
func (f *field) due(w *window, i, last int, pace float64, from race.Instant, over bool) (due, likely race.Instant) {
	mid, sd, ok := w.of(pace)
	if !ok {
		mid, sd, ok = f.unseenNext(i, last)
	}
	switch {
	case !ok && over: // the next line's log isn't there, or tells of nobody: that all others are in does
		return from.Add(overdueLeast), race.NoInstant
	case !ok:
		return race.NoInstant, race.NoInstant
	}
	spreads := overdueSpreads
	if over {
		spreads = overEnough
		if f.st.Results[i].Splits[last].At == 0 {
			spreads = overNoPace
		}
	}
	likely = from.Add(race.Millis(1000 * math.Exp(mid)))
	return max(from.Add(race.Millis(1000*math.Exp(math.Min(mid+float64(spreads*sd), 20)))), likely.Add(overdueLeast)), likely
}

// riegel is the exponent of time over distance (Riegel 1981), before anybody has arrived.
const riegel = 1.06

// longer is the time for a distance from the time for another.
func longer(seconds, metres, to float64) float64 { return seconds * math.Pow(to/metres, riegel) }

// unseenNext predicts a stretch that too few have come over: from the athlete's own pace,
// twice that at the slow end.
func (f *field) unseenNext(i, last int) (mid, sd float64, ok bool) {
	r := f.st.Results[i]
	if last < 0 || last+1 >= len(r.Splits) || r.Splits[last].At <= 0 || r.Splits[last+1].Sport != r.Splits[last].Sport || r.Splits[last+1].At <= r.Splits[last].At {
		return 0, 0, false
	}
	so := math.Exp(f.upTo(i, last)) * r.Splits[last].At
	to := longer(so, r.Splits[last].At, r.Splits[last+1].At)
	return math.Log(to - so), math.Ln2 / overdueSpreads, true
}
