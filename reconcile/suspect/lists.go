package suspect

import (
	"slices"

	"twinmat/reconcile/ordered"
)

// lists are entries of results in order, kept from search to search: what changed results
// had is taken out, and what they have now is put in.
type lists[T comparable] struct {
	lists [][]T
	had   [][]entryOf[T] // per result: its entries in them
	stale []bool         // per result: its entries are no longer right; nil: none
	some  []int          // those results
	all   bool           // the lists are as the results are
	moves []int          // per list: another number each time that it became another

	// moment is that of an entry, nil: they have none. A result's entries are told in order, so
	// that those of a moment, being taken result by result, are in order too.
	moment func(*T) int64
}

// entryOf is an entry of a list.
type entryOf[T comparable] struct {
	list int
	e    T
}

// due tells whether anything is to be done before the lists can be read.
func (x *lists[T]) due() bool { return !x.all || len(x.some) > 0 }

// changed notes that a result's entries are no longer right; n is how many results there are.
func (x *lists[T]) changed(i, n int) {
	if !x.all {
		return
	}
	if x.stale == nil {
		x.stale = make([]bool, n)
	}
	if !x.stale[i] {
		x.stale[i], x.some = true, append(x.some, i)
	}
}

const (
	// fewChanged of the results, at the most one in so many, are cheaper to look at again one by one
	// than all are.
	fewChanged = 16
	// fewMoved of them, likewise, are cheaper to take out of lists and put in than all are to sort.
	fewMoved = 3
	// fewEntries of a list, at the most, are cheaper to look for one by one than all are to go through.
	fewEntries = 16
	// shelfRoom entries stand on one shelf: a few are lost at its end.
	shelfRoom = 4096
)

// renew makes n lists as the results are; room is about how long each is, of tells whose an
// entry is, entries gives a result's.
func (x *lists[T]) renew(f *field, n int, room []int, compare func(a, b T) int, of func(T) int, entries func(i int, add func(l int, e T))) {
	if x.had != nil && fewMoved*len(x.some) < len(f.st.Results) {
		x.exchange(f, n, compare, of, entries)
	} else {
		x.anew(f, n, room, compare, entries)
	}
	for _, i := range x.some {
		x.stale[i] = false
	}
	x.some, x.all = x.some[:0], true
}

// exchange takes out what results that changed had, and puts in what they have now.
func (x *lists[T]) exchange(f *field, n int, compare func(a, b T) int, of func(T) int, entries func(i int, add func(l int, e T))) {
	gone, came, more := make([][]T, n), make([][]T, n), make([][]T, n)
	next := x.moved() + 1
	for _, i := range x.some {
		var now []entryOf[T]
		entries(i, func(l int, e T) {
			now, more[l] = append(now, entryOf[T]{l, e}), append(more[l], e)
		})
		left := slices.Clone(x.had[i])
		for _, a := range now {
			if k := slices.Index(left, a); k >= 0 {
				left = slices.Delete(left, k, k+1)
			} else {
				came[a.list] = append(came[a.list], a.e)
			}
		}
		for _, a := range left {
			gone[a.list] = append(gone[a.list], a.e)
		}
		x.had[i] = now
	}
	f.in.each(n, func(l int) {
		switch many := len(gone[l]) + len(came[l]); {
		case many == 0:
			return
		case many <= fewEntries:
			x.lists[l] = exchanged(x.lists[l], gone[l], came[l], compare)
		default:
			slices.SortFunc(more[l], compare)
			stay := slices.DeleteFunc(x.lists[l], func(e T) bool { return x.stale[of(e)] })
			x.lists[l] = ordered.Merge(stay, more[l], compare)
		}
		x.moves[l] = next
	})
}

// anew makes the lists of all results.
func (x *lists[T]) anew(f *field, n int, room []int, compare func(a, b T) int, entries func(i int, add func(l int, e T))) {
	x.lists, x.moves, x.had = make([][]T, n), slices.Repeat([]int{x.moved() + 1}, n), nil
	for l := range min(n, len(room)) {
		x.lists[l] = make([]T, 0, room[l])
	}
	if f.in.Memory != nil { // there will be another search
		x.had = make([][]entryOf[T], len(f.st.Results))
	}
	var shelf []entryOf[T] // many results' entries, one after the other,
	from := 0              // and where those of one begin
	add := func(l int, e T) {
		if x.lists[l] = append(x.lists[l], e); x.had == nil {
			return
		}
		if len(shelf) == cap(shelf) {
			more := make([]entryOf[T], len(shelf)-from, shelfRoom+2*(len(shelf)-from))
			copy(more, shelf[from:])
			shelf, from = more, 0
		}
		shelf = append(shelf, entryOf[T]{l, e})
	}
	for i := range f.st.Results {
		from = len(shelf)
		entries(i, add)
		if x.had != nil {
			x.had[i] = shelf[from:len(shelf):len(shelf)]
		}
	}
	f.in.each(n, func(l int) {
		if x.moment != nil {
			ordered.ByNumber(x.lists[l], x.moment)
		} else {
			slices.SortFunc(x.lists[l], compare)
		}
	})
}

// exchanged is a list without some of its entries and with others.
func exchanged[T comparable](list, gone, came []T, compare func(a, b T) int) []T {
	for _, e := range gone {
		at, _ := slices.BinarySearchFunc(list, e, compare)
		for list[at] != e && at+1 < len(list) && compare(list[at+1], e) == 0 {
			at++
		}
		list = slices.Delete(list, at, at+1)
	}
	for _, e := range came {
		at, _ := slices.BinarySearchFunc(list, e, compare)
		list = slices.Insert(list, at, e)
	}
	return list
}

// moved is another number, and a greater one, each time that any list became another.
func (x *lists[T]) moved() int {
	last := 0
	for _, m := range x.moves {
		last = max(last, m)
	}
	return last
}
