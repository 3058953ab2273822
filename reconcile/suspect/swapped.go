package suspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

const (
	swapMargin  = 5    // nats by which two stories must be better exchanged
	swapEach    = 1.5  // of them, what each must have by wave, course and splits
	swapByLevel = 5.0  // or by the level alone
	oddLevel    = 3.0  // spreads off the own group's level that make somebody worth trying
	mostSwaps   = 150  // candidates; beyond, the odd ones are a field of their own
	levelCap    = 10.0 // nats that a level alone may speak with

	swapFirst = 4.0 // or by the first stretch, where no line tells of the start: some swim well and run badly

	// swapShare of a field wear the chip of another (common practice: a pair in two hundred).
	swapShare = 0.01
	// swapTold is the least chance that a pair is told with, swapRuled one that proposes the
	// exchange: of several that fit as well none is likelier than not. swapSure is strong.
	swapTold  = 0.08
	swapRuled = 0.5
	swapSure  = 0.99
)

// swapPair is two who may have worn each other's chips.
type swapPair struct {
	a, b   int     // results, a before b
	gain   float64 // nats by which both stories are better exchanged
	odds   float64 // nats for the exchange, against two who each went astray by themselves
	guess  bool    // no line tells with which gun they started
	chance float64 // among all pairs that either of them may belong to, and none
}

// swapped: two bibs whose stories both fit better exchanged: by wave, by course, by the
// level of their sex and category. What wave, sex and level don't tell apart can't be seen
// from times at all.
func swapped(f *field) []race.Suspect {
	x, odd, slots := &f.swaps, f.strayed(), f.slotsOf()
	if x.exchanged == nil || x.oddAt != x.odd.moves || x.slotsAt != slots.moves {
		x.found = f.swappedOf(append(f.swapPairs(odd), f.slotSwaps(slots)...))
		x.exchanged, x.oddAt, x.slotsAt = f.exchanged, x.odd.moves, slots.moves
	}
	f.exchanged = x.exchanged
	return x.found
}

// swaps are what was told of exchanged chips, and of whom.
type swaps struct {
	odd            kept[astray]
	slots          slots
	oddAt, slotsAt int         // their moves, when
	exchanged      map[int]int // the word that was left; nil: nothing was told yet
	found          []race.Suspect
}

// swappedOf tells of pairs, and leaves word of those who are likelier exchanged than not.
func (f *field) swappedOf(pairs []swapPair) []race.Suspect {
	slices.SortStableFunc(pairs, func(x, y swapPair) int { return cmp.Compare(y.odds, x.odds) })
	chances(pairs)
	var found []race.Suspect
	told := map[int]bool{}
	for n, p := range pairs {
		if told[p.a] || told[p.b] || p.chance < swapTold || p.guess && p.chance < swapRuled {
			continue
		}
		told[p.a], told[p.b] = true, true
		s := f.tellSwap(p)
		swap, accepted := swapBibs(f.st.Results[p.a].Bib, f.st.Results[p.b].Bib), accept(s.ID)
		if p.chance >= swapRuled {
			f.exchanged[p.a], f.exchanged[p.b] = p.b, p.a
			s.Proposes, s.Strong = swap, p.chance >= swapSure && p.gain > 2*swapMargin
		} else {
			s.Proposes = accepted
			s.Others = append(s.Others, swap)
		}
		// Who else either of them may have exchanged with, likeliest first.
		for m, q := range pairs {
			if m != n && q.shares(p) && len(s.Others) < 3 {
				s.Others = append(s.Others, swapBibs(f.st.Results[q.a].Bib, f.st.Results[q.b].Bib))
			}
		}
		if s.Proposes != accepted {
			s.Others = append(s.Others, accepted)
		}
		found = append(found, s)
	}
	return found
}

// shares tells whether two pairs have somebody in common.
func (p swapPair) shares(q swapPair) bool {
	return p.a == q.a || p.a == q.b || p.b == q.a || p.b == q.b
}

// chances gives each pair its chance among those it shares somebody with, and none of them.
func chances(pairs []swapPair) {
	of, odds := map[int][]int{}, make([]float64, len(pairs)) // per result: the pairs with them, in order
	for n, p := range pairs {
		odds[n] = math.Exp(math.Min(p.odds, 50))
		of[p.a], of[p.b] = append(of[p.a], n), append(of[p.b], n)
	}
	for n, p := range pairs {
		all, x, y := 1.0, of[p.a], of[p.b]
		for len(x) > 0 || len(y) > 0 {
			switch {
			case len(y) == 0 || len(x) > 0 && x[0] < y[0]:
				all, x = all+odds[x[0]], x[1:]
			case len(x) == 0 || y[0] < x[0]:
				all, y = all+odds[y[0]], y[1:]
			default: // the pair itself
				all, x, y = all+odds[x[0]], x[1:], y[1:]
			}
		}
		pairs[n].chance = odds[n] / all
	}
}

// swapPairs are all pairs, of those who have gone astray, whose stories, or levels, are each the other's.
func (f *field) swapPairs(odd []astray) []swapPair {
	if len(odd) < 2 || len(odd) > mostSwaps {
		return nil
	}
	// How many of one wave look like another's: of none but one, half a one did so by themselves
	// (Jeffreys' prior of a count).
	ways := map[[2]int]float64{}
	for _, x := range odd {
		for w, g := range x.gain {
			if g >= swapEach {
				if way := [2]int{f.st.Results[x.result].Wave, w}; ways[way] == 0 {
					ways[way] = 0.5
				} else {
					ways[way]++
				}
			}
		}
	}
	groups, kin := f.groupLevels(), f.kinship()
	var pairs []swapPair
	for n := range odd {
		for m := range odd[n+1:] {
			p, ok := f.exchange(&odd[n], &odd[n+1+m], groups, ways)
			if !ok {
				continue
			}
			known := kin.of(f.st.Results[p.a], f.st.Results[p.b])
			if known < 0 && (p.guess || f.otherCourse[p.a] && f.otherCourse[p.b]) {
				continue // strangers took a wrong turn each, or swim better than they run
			}
			p.odds += known
			pairs = append(pairs, p)
		}
	}
	return pairs
}

// exchange weighs two who went astray as a pair that wore each other's chips. That both ran
// as the other's wave does would be explained as well if each had gone with it alone: how
// many do so tells how likely that is. What sex and level tell comes to it.
func (f *field) exchange(a, b *astray, groups groupLevels, ways map[[2]int]float64) (swapPair, bool) {
	x, y := f.st.Results[a.result], f.st.Results[b.result]
	if x.Wave == y.Wave && f.classes.class[a.result] == f.classes.class[b.result] {
		return swapPair{}, false // nothing tells them apart
	}
	sx, sy := a.gain[y.Wave], b.gain[x.Wave]
	lx, ly := f.levelGain(a, b, groups), f.levelGain(b, a, groups)
	n := float64(len(f.courses[x.Course].results))
	p := swapPair{guess: x.Course == y.Course && startSplit(x.Splits) < 0, a: a.result, b: b.result, gain: sx + sy + lx + ly}
	switch {
	case sx >= swapEach && sy >= swapEach:
		p.odds = math.Log(swapShare*n/(ways[[2]int{x.Wave, y.Wave}]*ways[[2]int{y.Wave, x.Wave}])) + lx + ly
	case sx > -1 && sy > -1 && lx >= swapByLevel && ly >= swapByLevel:
		p.odds = math.Log(swapShare/n) + lx + ly + sx + sy
	default:
		return swapPair{}, false
	}
	return p, p.gain >= swapMargin
}

// levelGain is by how many nats the level of one's passings is likelier the other's.
func (f *field) levelGain(a, b *astray, groups groupLevels) float64 {
	as := func(level float64, i int) float64 {
		z := groups.off(level, f.classes.class[i])
		return math.Min(z*z/2, levelCap)
	}
	if f.st.Results[a.result].Course == f.st.Results[b.result].Course {
		l := f.level[a.result]
		return as(l, a.result) - as(l, b.result)
	}
	// On another course they have no level of their own: a usual one there is no evidence.
	return math.Min(0, 1-as(a.level[f.st.Results[b.result].Wave], b.result))
}

func (f *field) tellSwap(p swapPair) race.Suspect {
	x, y := f.st.Results[p.a], f.st.Results[p.b]
	s := suspect(race.Swapped, race.Look, "")
	s.ID, s.Bibs = pairID(race.Swapped, x.Bib, y.Bib)
	s.Says = fmt.Sprintf("The stories of %s (wave %s, %s %s) and %s (wave %s, %s %s) both fit better exchanged, e^%.0f times likelier together: they may wear each other's bibs",
		x.Bib, f.plan.Waves[x.Wave].ID, x.Sex, x.Category, y.Bib, f.plan.Waves[y.Wave].ID, y.Sex, y.Category, math.Min(p.gain, 99))
	if p.chance < swapRuled {
		s.Says += "; others fit nearly as well, or each went astray alone: ask"
	}
	s.Says += "."
	if x.Start.Known() {
		s.Says = fmt.Sprintf("%s set out at %s, which is the start of %s, and %s at %s, which is that of %s: they may wear each other's bibs.",
			x.Bib, f.clock(setOut(x)), y.Bib, y.Bib, f.clock(setOut(y)), x.Bib)
	}
	end := func(i int) race.Instant {
		if k := f.last(i); k >= 0 {
			return f.times[i][k]
		}
		return setOut(f.st.Results[i])
	}
	if s.At = x.FinishAt; !s.At.Known() {
		s.At = end(p.a)
	}
	s.Evidence = fmt.Sprintf("%s as %s", f.mark(p.a, end(p.a)), f.mark(p.b, end(p.b)))
	return s
}
