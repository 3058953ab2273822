package tui

import (
	"cmp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// latest is the newest passings at any line, stray chips' too, newest first.
func latest(s *race.State) []cross {
	l := make([]cross, 0, 2*latestKept)
	floor := race.NoInstant
	put := func(c cross) {
		if l = append(l, c); len(l) == cap(l) {
			slices.SortFunc(l, newer)
			l = l[:latestKept]
			floor = l[latestKept-1].at
		}
	}
	for i := range s.Results {
		ps := s.Results[i].Passings // in order of time
		for k := len(ps) - 1; k >= 0 && ps[k].At > floor; k-- {
			put(cross{result: i, stray: -1, passing: k, at: ps[k].At})
		}
	}
	for i := range s.Strays {
		ps := s.Strays[i].Passings
		for k := len(ps) - 1; k >= 0 && ps[k].At > floor && !s.Strays[i].Ignored; k-- {
			put(cross{result: -1, stray: i, passing: k, at: ps[k].At})
		}
	}
	slices.SortFunc(l, newer)
	l = l[:min(len(l), latestKept)]
	running(s, l)
	return l
}

func newer(a, b cross) int {
	return cmp.Or(cmp.Compare(b.at, a.at), cmp.Compare(a.result, b.result), cmp.Compare(a.stray, b.stray), cmp.Compare(a.passing, b.passing))
}

// running counts the running ranks of the latest crossings: who of the same course, and
// of the same sex on it, came to that split in less time.
func running(s *race.State, l []cross) {
	type key struct {
		course, split int
		sex           string
	}
	times := map[key][]race.Millis{}
	each := func(r *race.Result, i int, f func(key, race.Millis)) {
		if k := r.Filled[i]; k >= 0 && k < len(r.Passings) {
			if t := r.Passings[k].At.Sub(began(s, r)); t.Known() {
				f(key{r.Course, i, ""}, t)
				f(key{r.Course, i, strings.ToUpper(r.Sex)}, t)
			}
		}
	}
	for _, c := range l {
		if c.result >= 0 {
			r := &s.Results[c.result]
			if i := r.Passings[c.passing].Split; i >= 0 && i < len(r.Filled) {
				each(r, i, func(k key, _ race.Millis) { times[k] = nil })
			}
		}
	}
	for i := range s.Results {
		r := &s.Results[i]
		if r.State == "dsq" || r.State == "dns" {
			continue
		}
		for k := range r.Filled {
			if _, asked := times[key{r.Course, k, ""}]; asked {
				each(r, k, func(k key, t race.Millis) { times[k] = append(times[k], t) })
			}
		}
	}
	for _, t := range times {
		slices.Sort(t)
	}
	for n := range l {
		c := &l[n]
		if c.result < 0 {
			continue
		}
		r := &s.Results[c.result]
		i := r.Passings[c.passing].Split
		if i < 1 || i >= len(r.Filled) || r.State == "dsq" || r.State == "dns" { // no ranks at the start
			continue
		}
		each(r, i, func(k key, t race.Millis) {
			at, _ := slices.BinarySearch(times[k], t)
			if k.sex == "" {
				c.rank = at + 1
			} else {
				c.rankSex = at + 1
			}
		})
	}
}

// stillOut lists who was seen and hasn't come in, who should have come longest ago first.
func stillOut(s *race.State) []outRow {
	var out []outRow
	for i := range s.Results {
		r := &s.Results[i]
		if r.Finish >= 0 || r.State != "running" && r.State != "held" {
			continue
		}
		out = append(out, outOf(s, i, r))
	}
	slices.SortFunc(out, func(a, b outRow) int {
		return cmp.Or(cmp.Compare(dueOr(a), dueOr(b)), cmp.Compare(a.result, b.result))
	})
	return out
}

func dueOr(o outRow) race.Instant {
	if o.expected.Known() {
		return o.expected
	}
	return o.last
}

func outOf(s *race.State, i int, r *race.Result) outRow {
	o := outRow{result: i, last: race.NoInstant, expected: race.NoInstant}
	at, when := reached(r)
	o.last = when
	if at >= 0 && at < len(r.Splits) {
		o.place = r.Splits[at].ID
	}
	if at+1 >= len(r.Splits) {
		return o
	}
	next := &r.Splits[at+1]
	o.next = next.ID
	if at < 0 {
		return o
	}
	from := r.StartAt
	if !from.Known() {
		from = r.Gun
	}
	if gone := when.Sub(from); gone.Known() && gone > 0 && r.Splits[at].At > 0 {
		o.expected = from.Add(race.Millis(float64(gone) / r.Splits[at].At * next.At))
	}
	return o
}
