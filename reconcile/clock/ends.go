package clock

import (
	"cmp"
	"iter"
	"slices"

	"twinmat/reconcile/race"
)

const (
	endFewest = 3    // tags that show a clock to have been set beside the first or last crossings
	endClear  = 5    // times those who speak against it
	endWidth  = 1000 // ms within which they agree
	endApart  = 6000 // ms: who walks needs less from one antenna to the other
)

// atTheEnds finds a clock that was set shortly before the last crossings, or shortly after the
// first: so few then tell of it that their pile is lost among coincidences. What tells is that
// from there on nobody's crossings, or but one's, agree with what held before, and that nearly
// all agree with each other: bursts that have no partner under the offsets that are kept.
func atTheEnds(ds []difference, kept []held) []held {
	var out []held
	for _, sign := range []race.Instant{-1, 1} {
		for against, edge := range outermost(ds, kept, sign) {
			var beyond []difference
			for _, d := range ds {
				if !d.thin && sign*d.main > sign*edge {
					beyond = append(beyond, d)
				}
			}
			if len(beyond) < endFewest {
				continue
			}
			if h, ok := agreed(lonely(beyond, ds, kept), against); ok && farFrom(h.offset, kept) {
				out = append(out, h)
				break
			}
		}
	}
	return out
}

// outermost are the last of the crossings that the kept offsets explain, the first where sign is
// -1, and the last but for that tag's.
func outermost(ds []difference, kept []held, sign race.Instant) [2]race.Instant {
	one := difference{tag: -1}
	two := one
	for d := range explained(ds, kept) {
		switch {
		case one.tag < 0 || sign*d.main > sign*one.main:
			if d.tag != one.tag {
				two = one
			}
			one = d
		case d.tag != one.tag && (two.tag < 0 || sign*d.main > sign*two.main):
			two = d
		}
	}
	if two.tag < 0 {
		two = one
	}
	return [2]race.Instant{one.main, two.main}
}

// explained yields the differences that one of the kept offsets explains.
func explained(ds []difference, kept []held) iter.Seq[difference] {
	return func(yield func(difference) bool) {
		for _, k := range kept {
			from, _ := slices.BinarySearchFunc(ds, k.offset-voteReach, func(d difference, by race.Millis) int { return cmp.Compare(d.by, by) })
			for ; from < len(ds) && ds[from].by <= k.offset+voteReach; from++ {
				if !yield(ds[from]) {
					return
				}
			}
		}
	}
}

// lonely are those of some differences whose two bursts have no other partner under the kept offsets.
func lonely(some, ds []difference, kept []held) []difference {
	type burst struct {
		tag  int32
		main bool
		at   race.Instant
	}
	of := func(d difference) [2]burst {
		return [2]burst{{d.tag, true, d.main}, {d.tag, false, d.main.Add(d.by)}}
	}
	partnered := map[burst]bool{}
	for _, d := range some {
		for _, b := range of(d) {
			partnered[b] = false
		}
	}
	for d := range explained(ds, kept) {
		for _, b := range of(d) {
			if _, asked := partnered[b]; asked {
				partnered[b] = true
			}
		}
	}
	var out []difference
	for _, d := range some {
		if b := of(d); !partnered[b[0]] && !partnered[b[1]] {
			out = append(out, d)
		}
	}
	return out
}

// agreed is the offset that three in four tags of an end agree on, against so many who agree with
// what held before; its differences are sorted.
func agreed(end []difference, against int) (held, bool) {
	all, in := map[int32]bool{}, map[int32]int{}
	for _, d := range end {
		all[d.tag] = true
	}
	most, best, from := 0, end[:0], 0
	for i, d := range end {
		for in[d.tag]++; d.by-end[from].by > endWidth; from++ {
			if t := end[from].tag; in[t] == 1 {
				delete(in, t)
			} else {
				in[t]--
			}
		}
		if len(in) > most {
			most, best = len(in), end[from:i+1]
		}
	}
	if most < endFewest || most < endClear*against || 4*most < 3*len(all) {
		return held{}, false
	}
	at := make([]race.Instant, len(best))
	for i, d := range best {
		at[i] = d.main
	}
	slices.Sort(at)
	return hold(mode{votes: most}, best[len(best)/2].by, at), true
}

func farFrom(offset race.Millis, kept []held) bool {
	return !slices.ContainsFunc(kept, func(k held) bool { return max(k.offset-offset, offset-k.offset) < endApart })
}
