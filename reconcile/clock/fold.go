package clock

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// Fold is where main's clock was set, and told some times twice or left some out: the other log's
// clock, which went on, tells what was before and what after. Within this package main's times
// are unfolded, as if its clock had gone on too; what comes out is on the clock as it was.
type Fold struct {
	At race.Instant // on the other log's clock
	By race.Millis  // main was set back; negative: on
}

func (f *Fold) equal(o *Fold) bool { return f == o || f != nil && o != nil && *f == *o }

const (
	foldLeast = 6000 // ms: what is set by less, a fit finds among the few crossings that it interleaves
	foldShare = 10   // of its crossings at the most one in so many is mixed up by the other's order
	foldMixed = 2    // crossings more that main's order mixes up
	foldUnit  = 100  // ms: what is finer a fit finds beside the fold
	foldClear = 3    // times as long must nobody have come by main's order as by the other's,
	foldRare  = 200  // and so long but once in so many crossings: between two laps of a bunch nobody comes
)

// byMain and byOther are the two clocks.
func byMain(d difference) race.Instant  { return d.main }
func byOther(d difference) race.Instant { return d.main.Add(d.by) }

// times are those of a mode on one of the clocks, sorted.
func (m mode) times(ds []difference, clock func(difference) race.Instant) []race.Instant {
	at := make([]race.Instant, 0, m.votes)
	for _, d := range ds[m.from:m.to] {
		at = append(at, clock(d))
	}
	slices.Sort(at)
	return at
}

// gap is the time between two sorted lists, one before the other but for so many.
func gap(before, after []race.Instant, odd int) race.Millis {
	k := min(odd, len(before)-1, len(after)-1)
	return after[k].Sub(before[len(before)-1-k])
}

// foldOf finds where main was set: two offsets hold one after the other by the other log's clock,
// which goes on between them, while main's mixes up who came first, has the later ones first,
// or leaves a time out.
func foldOf(ds []difference, modes []mode) (Fold, bool) {
	var first onBoth
	most, tags := 0, 0 // votes, and tags, of an offset of its own beside the first
	for _, m := range modes[1:] {
		if m.votes < voteLeast || 2*m.votes < most {
			break
		}
		if first.offset = modes[0].offset(ds); max(m.offset(ds)-first.offset, first.offset-m.offset(ds)) < foldLeast {
			continue
		}
		if first.main == nil {
			first = modes[0].onBoth(ds)
		}
		if 2*len(lonely(ds[m.from:m.to], ds, []held{{offset: first.offset}})) < m.votes {
			continue
		}
		of := m.tags(ds)
		if 2*of < tags {
			continue
		}
		most, tags = max(most, m.votes), max(tags, of)
		other := m.onBoth(ds)
		f, ok := foldBetween(first, other)
		if !ok {
			f, ok = foldBetween(other, first)
		}
		if ok {
			return f, true
		}
	}
	return Fold{}, false
}

// tags counts those that give a mode its votes.
func (m mode) tags(ds []difference) int {
	of := map[int32]bool{}
	for _, d := range ds[m.from:m.to] {
		of[d.tag] = true
	}
	return len(of)
}

// onBoth is a mode's times on the two clocks, sorted.
type onBoth struct {
	offset      race.Millis
	main, other []race.Instant
}

func (m mode) onBoth(ds []difference) onBoth {
	return onBoth{m.offset(ds), m.times(ds, byMain), m.times(ds, byOther)}
}

// foldBetween is the fold between an offset and one that holds after it, if there is one.
func foldBetween(early, late onBoth) (Fold, bool) {
	at, odd := parted(early.other, late.other)
	if foldShare*odd > min(len(early.other), len(late.other)) {
		return Fold{}, false
	}
	f := Fold{at, roundTo(late.offset-early.offset, foldUnit)}
	_, mixed := parted(early.main, late.main)
	goesOn := gap(early.other, late.other, odd)
	if f.By < 0 { // set on: nobody comes by main
		none := gap(early.main, late.main, mixed)
		return f, mixed <= odd && none > foldClear*max(goesOn, 0) &&
			foldRare*(pauses(early.main, none)+pauses(late.main, none)) <= len(early.main)+len(late.main)
	}
	if fills(early, late, goesOn) || fills(late, early, goesOn) {
		return Fold{}, false
	}
	_, odder := parted(late.main, early.main)
	turned := gap(late.main, early.main, odder) // by main the later ones came first, so long before
	return f, mixed >= odd+foldMixed && (turned <= 0 || turned >= foldClear*goesOn)
}

// fills tells whether by main one offset holds just as long as another, which holds before and after,
// doesn't: the other log was set, and set right again. Main, set back, would hardly tell again
// the very times at which nobody had come, and go on as soon.
func fills(in, out onBoth, goesOn race.Millis) bool {
	h := hold(mode{votes: len(in.main)}, in.offset, in.main)
	from, to, ok := about(out.main, h)
	return ok && foldClear*max(h.since.Sub(out.main[from-1]), out.main[to].Sub(h.until)) <= goesOn
}

// pauses counts the times between sorted moments that are as long as this.
func pauses(at []race.Instant, long race.Millis) (n int) {
	for i := 1; i < len(at); i++ {
		if at[i].Sub(at[i-1]) >= long {
			n++
		}
	}
	return n
}

// unfolded are the differences with main's times unfolded.
func unfolded(ds []difference, f Fold) []difference {
	out := slices.Clone(ds)
	for i := range out {
		by := shift(&f, byOther(out[i]))
		out[i].main, out[i].by = out[i].main.Add(by), out[i].by-by
	}
	sortBySize(out)
	return out
}

func compareDifferences(a, b difference) int {
	return cmp.Or(cmp.Compare(a.by, b.by), cmp.Compare(a.main, b.main), cmp.Compare(a.tag, b.tag))
}

// shift is by how much main's clock had been set back when the other log's told this time.
func shift(f *Fold, other race.Instant) race.Millis {
	if f == nil || other < f.At {
		return 0
	}
	return f.By
}

func roundTo(d, unit race.Millis) race.Millis { return floorDiv(d+unit/2, unit) * unit }

// unfold is a time of main's, known to be about when the other log's clock told another.
func (m *Model) unfold(main, other race.Instant) race.Instant {
	if !main.Known() {
		return main
	}
	return main.Add(shift(m.c.Fold, other))
}

// folded is main's own time at an unfolded one, in part k or at one of its ends.
func (m *Model) folded(t race.Instant, k int) race.Instant {
	if !t.Known() {
		return t
	}
	return t.Add(-m.setBack(k))
}

// setBack is by how much main had been set back when part k began.
func (m *Model) setBack(k int) race.Millis {
	for ; k > 0; k-- {
		if m.parts[k].folded {
			return m.c.Fold.By
		}
	}
	return 0
}

// foldAt is where main was set if part k begins there, else nil.
func (m *Model) foldAt(k int) *Fold {
	if !m.parts[k].folded {
		return nil
	}
	return m.c.Fold
}
