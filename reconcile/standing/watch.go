package standing

import (
	"reflect"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// Watch is what onlookers ask of one state, kept for the next: of a race that goes on only
// the results that are others are looked at again.
type Watch struct {
	Boards  []Board
	Latest  []Crossing // newest first
	Tally   [][]int    // per course, per race.States; the last row: whom no course has, a bib that isn't listed
	In, Out int        // who has a finish, held ones too; who was seen and hasn't come in
	Changed []int      // results that are others than at their places in the state before; none where their number is another
	Whole   bool       // all was looked at: the plan or the athletes are others, or there is none before

	st    *race.State
	kept  int    // crossings
	times *times // nil: they went on to a later watch
	out   waiting
}

// Look is the watch of a state, from that of the one before, which it uses up: nobody may look on
// from that again, though it can still be read. nil: there is none. So many of the latest crossings are kept.
func Look(s *race.State, kept int, before *Watch) *Watch {
	w := &Watch{st: s, kept: kept, Whole: true}
	if before != nil && len(s.Results) == len(before.st.Results) {
		for i, r := range s.Results {
			if r != before.st.Results[i] {
				w.Changed = append(w.Changed, i)
			}
		}
		if before.kept == kept && before.times != nil && w.samePeople(before.st) {
			w.Whole, w.times, before.times = false, before.times, nil
		}
	}
	if w.Whole {
		w.times = &times{by: make([][]map[string]*sorted, len(s.Plan.Courses))}
		w.Boards, w.Latest = allLeaders(s), latest(s, kept)
		w.tallyAll()
	} else {
		w.times.renew(s, before.st, w.Changed)
		w.Boards, w.Latest = w.leaders(before), w.latest(before)
		w.tally(before)
	}
	w.lookOut(before)
	w.times.rank(s, w.Latest)
	return w
}

// samePeople tells whether the state has the plan of the one before, and its athletes at the same places.
func (w *Watch) samePeople(before *race.State) bool {
	if w.st.Plan != before.Plan && !reflect.DeepEqual(w.st.Plan, before.Plan) {
		return false
	}
	return !slices.ContainsFunc(w.Changed, func(i int) bool {
		a, b := w.st.Results[i], before.Results[i]
		return a.Bib != b.Bib || a.Course != b.Course || a.Sex != b.Sex
	})
}

func (w *Watch) tallyAll() {
	w.Tally = make([][]int, len(w.st.Plan.Courses)+1)
	for i := range w.Tally {
		w.Tally[i] = make([]int, len(race.States))
	}
	for _, r := range w.st.Results {
		w.count(r, 1)
	}
}

func (w *Watch) tally(before *Watch) {
	w.Tally, w.In, w.Out = make([][]int, len(before.Tally)), before.In, before.Out
	for i := range w.Tally {
		w.Tally[i] = slices.Clone(before.Tally[i])
	}
	for _, i := range w.Changed {
		w.count(before.st.Results[i], -1)
		w.count(w.st.Results[i], 1)
	}
}

func (w *Watch) count(r *race.Result, n int) {
	none := len(w.Tally) - 1
	if s := slices.Index(race.States, r.State); s >= 0 && r.Course < none {
		k := r.Course
		if k < 0 {
			k = none
		}
		w.Tally[k][s] += n
	}
	switch {
	case r.Finish >= 0:
		w.In += n
	case isOut(r):
		w.Out += n
	}
}

// leaders are the boards, of those that led before and of those who changed: all others were
// behind the leaders, and still are. Where a leader changed, somebody else may have come to lead.
func (w *Watch) leaders(before *Watch) []Board {
	best := firstThree{}
	changed := make(map[int]bool, len(w.Changed))
	for _, i := range w.Changed {
		changed[i] = true
	}
	for n := range before.Boards {
		for _, i := range before.Boards[n].First {
			if changed[i] {
				return allLeaders(w.st)
			}
			if p, ok := placeOf(w.st, i); ok {
				best.put(among{before.Boards[n].Course, before.Boards[n].Sex}, p)
			}
		}
	}
	for _, i := range w.Changed {
		best.take(w.st, i)
	}
	return best.boards(w.st)
}

// latest are the latest crossings, of those of before and of those who changed, as far back as
// both are known; where those are too few, all are looked at.
func (w *Watch) latest(before *Watch) []Crossing {
	if w.kept == 0 || len(before.Latest) < w.kept {
		return latest(w.st, w.kept)
	}
	last := before.Latest[len(before.Latest)-1]
	changed := make(map[int]bool, len(w.Changed))
	for _, i := range w.Changed {
		changed[i] = true
	}
	l := make([]Crossing, 0, w.kept+len(w.Changed))
	for _, c := range before.Latest {
		if c.Result >= 0 && !changed[c.Result] {
			c.Rank, c.RankSex = 0, 0
			l = append(l, c)
		}
	}
	put := func(c Crossing) {
		if newer(c, last) <= 0 {
			l = append(l, c)
		}
	}
	for _, i := range w.Changed {
		passed(w.st, i, last.At, put)
	}
	for i := range w.st.Strays {
		strayed(w.st, i, last.At, put)
	}
	if len(l) < w.kept {
		return latest(w.st, w.kept)
	}
	slices.SortFunc(l, newer)
	return l[:w.kept]
}

// times are how long everybody took to each split that was asked for, by course, split and
// sex ("" : all), in order.
type times struct {
	by [][]map[string]*sorted
}

// sorted are times in order.
type sorted struct{ of []race.Millis }

// renew takes the times of those who changed out, and what they are now in.
func (x *times) renew(s, before *race.State, changed []int) {
	for _, i := range changed {
		was, is := before.Results[i], s.Results[i]
		if is.Course < 0 {
			continue
		}
		for k, of := range x.by[is.Course] {
			if of == nil {
				continue
			}
			a, had := counted(before, was, k)
			b, has := counted(s, is, k)
			if had == has && a == b {
				continue
			}
			for _, sex := range sexesOf(is) {
				of[sex].move(a, had, b, has)
			}
		}
	}
}

// move takes a time out, if it was there, and puts another in, if there is one.
func (y *sorted) move(a race.Millis, had bool, b race.Millis, has bool) {
	if had {
		at, _ := slices.BinarySearch(y.of, a)
		y.of = slices.Delete(y.of, at, at+1)
	}
	if has {
		at, _ := slices.BinarySearch(y.of, b)
		y.of = slices.Insert(y.of, at, b)
	}
}

// rank counts the running ranks of the latest crossings: how many of the same course, and of
// the same sex on it, came to that split in less time.
func (x *times) rank(s *race.State, l []Crossing) {
	for n := range l {
		c := &l[n]
		if c.Result < 0 {
			continue
		}
		r := s.Results[c.Result]
		k := r.Passings[c.Passing].Split
		if k < 0 || k >= len(r.Splits) || r.Splits[k].At <= 0 { // no ranks at the start
			continue
		}
		t, ok := counted(s, r, k)
		if !ok { // out, or their gun hasn't fired
			continue
		}
		of := x.at(s, r.Course, k)
		for _, sex := range sexesOf(r) {
			sooner, _ := slices.BinarySearch(of[sex].of, t)
			if sex == "" {
				c.Rank = sooner + 1
			} else {
				c.RankSex = sooner + 1
			}
		}
	}
}

// at are a split's times, gathered when first asked for.
func (x *times) at(s *race.State, course, split int) map[string]*sorted {
	for len(x.by[course]) <= split {
		x.by[course] = append(x.by[course], nil)
	}
	of := x.by[course][split]
	if of != nil {
		return of
	}
	of = map[string]*sorted{}
	for _, r := range s.Results {
		if r.Course != course {
			continue
		}
		t, ok := counted(s, r, split)
		for _, sex := range sexesOf(r) {
			y := of[sex]
			if y == nil {
				y = &sorted{}
				of[sex] = y
			}
			if ok {
				y.of = append(y.of, t)
			}
		}
	}
	for _, y := range of {
		slices.Sort(y.of)
	}
	x.by[course][split] = of
	return of
}

// sexesOf are the lists that somebody stands on: all, and their sex.
func sexesOf(r *race.Result) []string {
	if r.Sex == "" {
		return []string{""}
	}
	return []string{"", strings.ToUpper(r.Sex)}
}

// counted is an athlete's time up to a split where it counts among others; false: there is none.
func counted(s *race.State, r *race.Result, split int) (race.Millis, bool) {
	if r.Course < 0 || r.State == race.DSQ || r.State == race.DNS || split >= len(r.Filled) {
		return 0, false
	}
	k := r.Filled[split]
	if k < 0 || k >= len(r.Passings) {
		return 0, false
	}
	t := r.Passings[k].At.Sub(s.Began(r))
	return t, t.Known()
}
