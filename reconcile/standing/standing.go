// Package standing tells how a race stands for whoever looks on: who leads, who has just
// crossed a line and as what, who is still out and when they may come. None of it is
// exported as a result; all of it is provisional.
package standing

import (
	"cmp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// Crossing is one passing, as it came.
type Crossing struct {
	Result        int // index in Results, -1: a stray chip
	Stray         int // index in Strays
	Passing       int
	At            race.Instant
	Rank, RankSex int // running rank on the course at this split, and by sex, 0: none
}

// Out is one athlete who hasn't come in.
type Out struct {
	Result   int
	Last     race.Instant // NoInstant: never seen
	Place    string       // where that was: a split's id, or the line's where the passing fills none
	Next     string
	Expected race.Instant // as those like them went on from there; NoInstant: can't be said
	Late     race.Millis  // how long ago that was, 0: it isn't yet, or can't be said
}

// Board is the first three of a course, or of one sex on it.
type Board struct {
	Course int
	Sex    string // "" : all
	Where  string // split id where nobody has finished yet, else ""
	First  []int  // indexes in Results
}

// place is where somebody stands on a course.
type place struct {
	result, rank, split int
	time                race.Millis
}

// ahead orders places, the better first: who has a rank before who is still out.
func ahead(a, b place) int {
	if (a.rank > 0) != (b.rank > 0) {
		return cmp.Compare(b.rank, a.rank)
	}
	if a.rank > 0 {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.result, b.result))
	}
	return cmp.Or(cmp.Compare(b.split, a.split), cmp.Compare(a.time, b.time), cmp.Compare(a.result, b.result))
}

// among is a course, or one sex on it.
type among struct {
	course int
	sex    string
}

// firstThree are the best places of each.
type firstThree map[among][]place

func (f firstThree) put(of among, p place) {
	l := f[of]
	if len(l) == 3 && ahead(p, l[2]) >= 0 {
		return
	}
	at, _ := slices.BinarySearchFunc(l, p, ahead)
	if l = slices.Insert(l, at, p); len(l) > 3 {
		l = l[:3]
	}
	f[of] = l
}

// take puts a result where it may lead.
func (f firstThree) take(s *race.State, i int) {
	p, ok := placeOf(s, i)
	if !ok {
		return
	}
	r := s.Results[i]
	f.put(among{r.Course, ""}, p)
	if r.Sex != "" {
		f.put(among{r.Course, strings.ToUpper(r.Sex)}, p)
	}
}

// placeOf is where a result stands; false: nowhere yet.
func placeOf(s *race.State, i int) (place, bool) {
	r, rank := s.Results[i], int(s.Ranks[i].All)
	split, at := r.Reached()
	if rank == 0 && (split < 0 || r.Splits[split].At <= 0 || r.State != race.Running) {
		return place{}, false
	}
	return place{result: i, rank: rank, split: split, time: at.Sub(s.Began(r))}, true
}

// allLeaders finds the first three of each course and of each sex on it: by rank where
// somebody has finished, else by who came first to the furthest split reached.
func allLeaders(s *race.State) []Board {
	best := firstThree{}
	for i := range s.Results {
		best.take(s, i)
	}
	return best.boards(s)
}

// boards are the first three as they are shown.
func (f firstThree) boards(s *race.State) []Board {
	var out []Board
	for of, l := range f {
		b := Board{Course: of.course, Sex: of.sex}
		for _, p := range l {
			b.First = append(b.First, p.result)
		}
		if first := s.Results[l[0].result]; l[0].rank == 0 && l[0].split < len(first.Splits) {
			b.Where = first.Splits[l[0].split].ID
		}
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b Board) int {
		return cmp.Or(cmp.Compare(a.Course, b.Course), cmp.Compare(a.Sex, b.Sex))
	})
	return out
}

// latest is the newest passings at any line, so many, stray chips' too, newest first.
func latest(s *race.State, kept int) []Crossing {
	l := make([]Crossing, 0, 2*kept)
	floor := race.NoInstant
	put := func(c Crossing) {
		if l = append(l, c); len(l) == cap(l) {
			slices.SortFunc(l, newer)
			l = l[:kept]
			floor = l[kept-1].At
		}
	}
	for i := range s.Results {
		passed(s, i, floor, put)
	}
	for i := range s.Strays {
		strayed(s, i, floor, put)
	}
	slices.SortFunc(l, newer)
	return l[:min(len(l), kept)]
}

// passed visits the passings of a result back to a moment.
func passed(s *race.State, i int, from race.Instant, f func(Crossing)) {
	ps := s.Results[i].Passings // in order of time
	for k := len(ps) - 1; k >= 0 && ps[k].At.Known() && ps[k].At >= from; k-- {
		f(Crossing{Result: i, Stray: -1, Passing: k, At: ps[k].At})
	}
}

// strayed visits those of a stray chip that isn't ignored.
func strayed(s *race.State, i int, from race.Instant, f func(Crossing)) {
	ps := s.Strays[i].Passings
	for k := len(ps) - 1; k >= 0 && ps[k].At.Known() && ps[k].At >= from && !s.Strays[i].Ignored; k-- {
		f(Crossing{Result: -1, Stray: i, Passing: k, At: ps[k].At})
	}
}

func newer(a, b Crossing) int {
	return cmp.Or(cmp.Compare(b.At, a.At), cmp.Compare(a.Result, b.Result), cmp.Compare(a.Stray, b.Stray), cmp.Compare(a.Passing, b.Passing))
}
