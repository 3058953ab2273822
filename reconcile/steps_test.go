package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"twinmat/reconcile/race"
)

// step is one of any kind: mostly of reads, the seldomer the rarer it is in a race.
func (b *stepper) step() {
	k := b.rng.IntN(100)
	if b.calm && k >= 50 && b.rng.IntN(5) > 0 {
		k = b.rng.IntN(40)
	}
	switch {
	case k < 61:
		b.stepReads(k, b.rng.IntN(len(b.whole)))
	case k < 71:
		b.stepLists(k)
	default:
		b.rule()
	}
}

// stepReads changes what log s holds.
func (b *stepper) stepReads(k, s int) {
	rng, x := b.rng, b.in.Reads[s]
	switch {
	case k < 30:
		b.share[s] = min(1, b.share[s]+0.006*rng.Float64())
		b.set(s, grownTo(x, b.whole[s], b.share[s]))
		b.note("grow %d", s)
	case k < 36:
		b.share[s] = min(1, b.share[s]+0.06*rng.Float64())
		b.set(s, grownTo(x, b.whole[s], b.share[s]))
		b.note("growmuch %d", s)
	case k < 40:
		if x != nil && x.Tags.Len() > 0 {
			b.set(s, lingering(x, rng))
			b.note("linger %d", s)
		}
	case k < 43:
		b.share[s] = max(0.1, b.share[s]-0.2*rng.Float64())
		b.set(s, grownTo(nil, b.whole[s], b.share[s]))
		b.note("cut %d", s)
	case k < 46:
		if x != nil && x.Tags.Len() > 0 { // a read in the middle, or before all, appears
			b.set(s, edit(x, func(l *race.TagEdit, y *race.Reads) {
				t := l.At(rng.IntN(l.Len()))
				if len(t.Reads) == 0 {
					return
				}
				r := t.Reads[rng.IntN(len(t.Reads))]
				r.At += race.Instant(rng.IntN(40000) - 20000)
				rs := append(slices.Clone(t.Reads), r)
				slices.SortStableFunc(rs, race.CompareReads)
				t.Reads = rs
				y.Kept++
			}))
			b.note("appear %d", s)
		}
	case k < 49:
		if x != nil && x.Tags.Len() > 0 { // a read in the middle vanishes
			b.set(s, edit(x, func(l *race.TagEdit, y *race.Reads) {
				t := l.At(rng.IntN(l.Len()))
				if len(t.Reads) < 2 {
					return
				}
				i := rng.IntN(len(t.Reads))
				t.Reads = slices.Delete(slices.Clone(t.Reads), i, i+1)
				y.Kept--
			}))
			b.note("vanish %d", s)
		}
	case k < 51:
		b.set(s, nil)
		b.note("nil %d", s)
	case k < 55:
		if len(b.older) > 0 {
			y := b.older[rng.IntN(len(b.older))]
			b.set(y.Source, y)
			b.note("older %d", y.Source)
		}
	case k < 57: // twin
		l := b.in.Plan.Logs[s].Line
		for _, o := range b.in.Plan.Lines[l].Logs {
			if o != s && b.in.Reads[o] != nil {
				b.set(s, part(b.in.Reads[o], s, 1, 0, rng))
				b.note("twin %d", s)
				break
			}
		}
	default: // a tag unknown, or other
		if x == nil || x.Tags.Len() == 0 {
			return
		}
		tag := []string{"STRAY1", "STRAY2", "0STRAY1", "77777", fmt.Sprint(9000 + rng.IntN(3))}[rng.IntN(5)]
		if rng.IntN(3) == 0 {
			if c := b.in.Chips; len(c) > 0 {
				tag = c[rng.IntN(len(c))].Tag
				if rng.IntN(3) == 0 {
					tag = "0" + tag
				}
			}
		}
		b.set(s, edit(x, func(l *race.TagEdit, y *race.Reads) {
			src := l.Peek(rng.IntN(l.Len()))
			if len(src.Reads) == 0 {
				return
			}
			r := src.Reads[rng.IntN(len(src.Reads))]
			r.At += race.Instant(rng.IntN(5000))
			y.Kept++
			for i := range l.Len() {
				if l.Peek(i).Tag == tag {
					rs := append(slices.Clone(l.Peek(i).Reads), r)
					slices.SortStableFunc(rs, race.CompareReads)
					l.At(i).Reads = rs
					return
				}
			}
			l.Grow(l.Len() + 1)
			*l.At(l.Len() - 1) = race.TagReads{Tag: tag, Reads: []race.Read{r}}
		}))
		b.note("tag %s %d", tag, s)
	}
}

// stepLists changes the lists, the plan, or takes rulings back.
func (b *stepper) stepLists(k int) {
	rng := b.rng
	switch {
	case k < 64:
		b.in.Athletes = slices.Clone(b.in.Athletes)
		if n := len(b.in.Athletes); n > 1 {
			i, j := rng.IntN(n), rng.IntN(n)
			switch rng.IntN(5) {
			case 0:
				b.in.Athletes = slices.Delete(b.in.Athletes, i, i+1)
			case 1:
				b.in.Athletes[i].Wave = rng.IntN(len(b.in.Plan.Waves))
				b.in.Athletes[j].Wave = rng.IntN(len(b.in.Plan.Waves))
			case 2:
				b.in.Athletes[i].Status = []string{"", "dnf", "dns", "dsq"}[rng.IntN(4)]
			case 3:
				a := b.in.Athletes[i]
				a.Bib = fmt.Sprint(9000 + rng.IntN(3))
				if !slices.ContainsFunc(b.in.Athletes, func(x race.Athlete) bool { return x.Bib == a.Bib }) {
					b.in.Athletes[i] = a
				}
			}
		}
		b.note("athletes")
	case k < 66:
		b.in.Chips = slices.Clone(b.in.Chips)
		if n := len(b.in.Chips); n > 1 {
			i := rng.IntN(n)
			switch rng.IntN(5) {
			case 0:
				b.in.Chips = slices.Delete(b.in.Chips, i, i+1)
			case 1:
				c := b.in.Chips[i]
				if b.st != nil && b.st.Now.Known() {
					b.in.Chips[i].To = b.st.Now.Add(-race.Millis(rng.IntN(3000000)))
					c.From, c.Bib = b.in.Chips[i].To.Add(1), b.bib()
					b.in.Chips = append(b.in.Chips, c)
				}
			case 2:
				c := b.in.Chips[i]
				c.Tag = []string{"STRAY1", "STRAY2"}[rng.IntN(2)]
				b.in.Chips = append(b.in.Chips, c)
			}
		}
		b.note("chips")
	case k < 67:
		b.in.ZerosDropped = !b.in.ZerosDropped
		b.note("zeros")
	case k < 69:
		b.in.Plan = b.plans[rng.IntN(len(b.plans))]
		if rng.IntN(3) == 0 {
			b.in.Plan = clonePlan(b.in.Plan)
		}
		b.note("plan")
	default:
		if n := len(b.in.Rulings); n > 0 {
			b.in.Rulings = slices.Clone(b.in.Rulings[:rng.IntN(n)])
			b.note("fewer")
		}
	}
}

// part is a log's reads, each with a chance, some ms later.
func part(x *race.Reads, source int, share float64, later race.Instant, rng *rand.Rand) *race.Reads {
	y := *x
	y.Source, y.Kept = source, 0
	var tags []race.TagReads
	for t := range x.Tags.All() {
		var rs []race.Read
		for _, r := range t.Reads {
			if rng.Float64() < share {
				r.At += later
				rs = append(rs, r)
			}
		}
		if len(rs) > 0 {
			tags = append(tags, race.TagReads{Tag: t.Tag, Reads: rs})
			y.Kept += len(rs)
		}
	}
	y.Tags = race.TagsOf(tags...)
	y.Lines = y.Kept + y.Repeated + y.BadLines + y.Waiting
	return &y
}

// setFrom is a log whose clock is set by so much after a share of its reads.
func setFrom(x *race.Reads, share float64, by race.Millis) *race.Reads {
	var all []race.Instant
	for t := range x.Tags.All() {
		for _, r := range t.Reads {
			all = append(all, r.At)
		}
	}
	if len(all) == 0 {
		return x
	}
	slices.Sort(all)
	from := all[int(share*float64(len(all)))]
	y := *x
	var tags []race.TagReads
	for t := range x.Tags.All() {
		rs := slices.Clone(t.Reads)
		for i := range rs {
			if rs[i].At >= from {
				rs[i].At = rs[i].At.Add(by)
			}
		}
		slices.SortStableFunc(rs, race.CompareReads)
		tags = append(tags, race.TagReads{Tag: t.Tag, Reads: rs})
	}
	y.Tags = race.TagsOf(tags...)
	return &y
}

// set puts other reads in a log's place.
func (b *stepper) set(s int, x *race.Reads) {
	b.in.Reads = slices.Clone(b.in.Reads)
	if b.in.Reads[s] != nil && b.rng.IntN(4) == 0 {
		b.older = append(b.older, b.in.Reads[s])
	}
	b.in.Reads[s] = x
}

// nameAntennas lets every log name its antennas as the one does that has the most: what one log read
// may come to stand in another.
func (b *stepper) nameAntennas() {
	var most []string
	for _, x := range b.whole {
		if len(x.Antennas) > len(most) {
			most = x.Antennas
		}
	}
	for s, x := range b.whole {
		y := *x
		y.Antennas = most
		b.whole[s] = &y
	}
}

// edit is a log with tags edited.
func edit(x *race.Reads, f func(list *race.TagEdit, y *race.Reads)) *race.Reads {
	y := *x
	list := x.Tags.Edit()
	f(&list, &y)
	y.Tags = list.List()
	y.Lines = y.Kept + y.Repeated + y.BadLines + y.Waiting
	return &y
}

// bib is somebody's of the list, or of none.
func (b *stepper) bib() string {
	if b.rng.IntN(12) == 0 {
		return fmt.Sprint(9000 + b.rng.IntN(3))
	}
	if len(b.in.Athletes) == 0 {
		return "1"
	}
	return b.in.Athletes[b.rng.IntN(len(b.in.Athletes))].Bib
}

// grownTo is grown, of a log that may hold nothing.
func grownTo(before, whole *race.Reads, share float64) *race.Reads {
	if whole.Tags.Len() == 0 {
		return whole
	}
	return grown(before, whole, share)
}
