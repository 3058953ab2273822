package standing

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

const (
	// fieldLeast is how many must have gone on from a split before the field tells how long
	// that takes: the median of fewer is any one of them.
	fieldLeast = 5
	// fieldMost are enough for a median that is only looked at.
	fieldMost = 1000
)

// StillOut lists who was seen and hasn't come in, who should have come longest ago first.
func StillOut(s *race.State) []Out {
	var out []Out
	going := newGoing(s)
	for i := range s.Results {
		r := &s.Results[i]
		if r.Finish >= 0 || r.State != "running" && r.State != "held" {
			continue
		}
		out = append(out, going.outOf(i, r))
	}
	slices.SortFunc(out, func(a, b Out) int {
		return cmp.Or(cmp.Compare(dueOr(a), dueOr(b)), cmp.Compare(a.Result, b.Result))
	})
	return out
}

func dueOr(o Out) race.Instant {
	if o.Expected.Known() {
		return o.Expected
	}
	return o.Last
}

// A leg is the way from one split of a course to the next.
type leg struct{ course, from int }

// going is how the field goes on: per leg, the median of what it takes, as a share of the
// time up to it; after a start, where no time is gone yet, in milliseconds. Who is still on
// the leg counts with the time since: the first to come would make everybody else late.
type going struct {
	s      *race.State
	median map[leg]float64
}

func newGoing(s *race.State) *going {
	g := &going{s: s, median: map[leg]float64{}}
	took := map[leg][]took{}
	for i := range s.Results {
		if r := &s.Results[i]; r.Finish < 0 && (r.State == "running" || r.State == "held") {
			if at, _ := r.Reached(); at >= 0 {
				took[leg{r.Course, at}] = nil
			}
		}
	}
	if len(took) == 0 {
		return g
	}
	for i := range s.Results {
		r := &s.Results[i]
		for k := 0; k+1 < len(r.Filled) && k+1 < len(r.Splits); k++ {
			t, asked := took[leg{r.Course, k}]
			if !asked || len(t) == fieldMost {
				continue
			}
			if v, ok := legTook(r, k, s.Now); ok {
				took[leg{r.Course, k}] = append(t, v)
			}
		}
	}
	for l, t := range took {
		if m, ok := median(t); ok {
			g.median[l] = m
		}
	}
	return g
}

// took is what one athlete took for a leg, or, not having come yet, so far.
type took struct {
	long float64
	came bool
}

// legTook is what one athlete took from split k to the next, as going counts it.
func legTook(r *race.Result, k int, now race.Instant) (took, bool) {
	a, b := r.Filled[k], r.Filled[k+1]
	if a < 0 || a >= len(r.Passings) {
		return took{}, false
	}
	t, to := took{came: b >= 0 && b < len(r.Passings)}, now
	if t.came {
		to = r.Passings[b].At
	} else if at, _ := r.Reached(); at != k || r.Finish >= 0 || r.State != "running" && r.State != "held" {
		return took{}, false
	}
	on := to.Sub(r.Passings[a].At)
	if !on.Known() || on <= 0 {
		return took{}, false
	}
	if t.long = float64(on); r.Splits[k].At <= 0 {
		return t, true
	}
	gone := r.Passings[a].At.Sub(setOut(r))
	t.long /= float64(gone)
	return t, gone.Known() && gone > 0
}

// median is that of the product-limit curve (Kaplan and Meier 1958); false where so few have
// come that it isn't reached yet.
func median(ts []took) (float64, bool) {
	slices.SortFunc(ts, func(a, b took) int {
		if c := cmp.Compare(a.long, b.long); c != 0 || a.came == b.came {
			return c
		}
		if a.came {
			return -1
		}
		return 1
	})
	came, left := 0, 1.0
	m, found := 0.0, false
	for i, t := range ts {
		if !t.came {
			continue
		}
		came++
		if left *= 1 - 1/float64(len(ts)-i); left <= 0.5+1e-12 && !found {
			m, found = t.long, true
		}
	}
	return m, found && came >= fieldLeast
}

// setOut is when an athlete began, by their own start where that was read.
func setOut(r *race.Result) race.Instant {
	if r.StartAt.Known() {
		return r.StartAt
	}
	return r.Gun
}

func (g *going) outOf(i int, r *race.Result) Out {
	at, when := r.Reached()
	o := Out{Result: i, Last: when, Expected: race.NoInstant}
	if at >= 0 && at < len(r.Splits) {
		o.Place = r.Splits[at].ID
	}
	if at+1 >= len(r.Splits) {
		return o
	}
	o.Next = r.Splits[at+1].ID
	if at < 0 {
		return o
	}
	o.Expected = g.expected(r, at, when)
	if late := g.s.Now.Sub(o.Expected); late.Known() && late > 0 {
		o.Late = late
	}
	return o
}

// expected is when an athlete last read at a split should come to the next: as the field
// went on from there at this athlete's own level; before it has, at their own mean pace,
// as long as the sport stays the same.
func (g *going) expected(r *race.Result, at int, when race.Instant) race.Instant {
	gone := when.Sub(setOut(r))
	m, known := g.median[leg{r.Course, at}]
	switch {
	case known && r.Splits[at].At <= 0:
		return when.Add(race.Millis(m))
	case !gone.Known() || gone <= 0 || r.Splits[at].At <= 0:
		return race.NoInstant
	case known:
		return when.Add(race.Millis(float64(gone) * m))
	}
	for k := 0; k <= at; k++ {
		if r.Splits[k].Sport != r.Splits[at+1].Sport && r.Splits[k].At > 0 {
			return race.NoInstant
		}
	}
	return setOut(r).Add(race.Millis(float64(gone) / r.Splits[at].At * r.Splits[at+1].At))
}
