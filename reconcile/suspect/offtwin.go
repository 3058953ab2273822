package suspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// twinLeast seconds, at least, stand the two clocks of a line apart before a field is asked
	// which of them is off: less is lost among what people set by hand, and bends no course.
	twinLeast = 20
	// twinWeight nats for main's clock being off, over backup's: it isn't the one that people
	// set by hand before a race, so it takes more than even odds, seven to one.
	twinWeight = 2
	// twinSame is how near, as a share of that, all other clocks of the line must be to the one
	// that speaks against main; twinFleet seconds how near another line's backup is to this one's
	// where both were set wrong together.
	twinSame  = 0.25
	twinFleet = 5
	// evenHills is how far a field's pace on a stretch lies from that on others, log, before
	// the course's own tell; evenShare how far the spread of its times over the stretch is from
	// growing with them: a climb costs the slow a little more. Both count as evenKnown stretches.
	evenHills = 0.06
	evenShare = 0.03
	evenKnown = 3
	evenTail  = 3
	// usualSpreads of the field about its middle are as most run; who stopped, or fell back, isn't.
	usualSpreads = 3
)

// lateBy is a line's clock that is taken to be late by so many seconds.
type lateBy struct {
	split int
	s     float64
}

// told is what speaks for that.
type told struct {
	lateBy
	weight float64
	system race.System // whose clock says so
}

// twinOff finds a main clock that is off all day by less than hills may be: backup's stands as far
// from it as the field's paces before and after the line, and who lost how much, would have it.
func (f *field) twinOff(c int) []race.Suspect {
	x := &f.courses[c]
	var all []told
	for k := range x.splits {
		if t, ok := f.twinApart(c, k); ok {
			w, known := x.weights[t.lateBy]
			if !known {
				w = f.speaksFor(c, t.lateBy)
				x.weights[t.lateBy] = w
			}
			if t.weight = w; t.weight >= twinWeight {
				all = append(all, t)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b told) int { return cmp.Compare(b.weight, a.weight) })
	var found []race.Suspect
	for _, t := range all {
		if !f.besideOff(c, t.split) && !(t.split+1 < len(x.splits) && f.lineOff[[2]int{c, t.split + 1}]) {
			found = append(found, f.byTwin(c, t))
		}
	}
	return found
}

// twinApart is by how much main is late at a split's line if the other clocks there are right, where
// they are one about it, and no other line's backup stands apart alike.
func (f *field) twinApart(c, k int) (told, bool) {
	x := &f.courses[c]
	sp := &x.splits[k]
	if sp.At <= 0 || f.steppedAbout(c, k) || !passedOnce(x.splits, k) {
		return told{}, false
	}
	best := -1
	for n := range f.st.Clocks {
		if y := &f.st.Clocks[n]; y.Line == sp.Line && !y.Fixed && y.Pairs >= 2*offLeast && (best < 0 || y.Pairs > f.st.Clocks[best].Pairs) {
			best = n
		}
	}
	if best < 0 || math.Abs(f.st.Clocks[best].Offset) < twinLeast {
		return told{}, false
	}
	b := &f.st.Clocks[best]
	system := f.plan.Logs[b.Source].System
	for n := range f.st.Clocks {
		y := &f.st.Clocks[n]
		d := math.Abs(y.Offset - b.Offset)
		if y.Line == sp.Line && d > twinSame*math.Abs(b.Offset) || y.Line != sp.Line && f.plan.Logs[y.Source].System == system && d < twinFleet {
			return told{}, false
		}
	}
	return told{lateBy: lateBy{k, -b.Offset}, system: system}, true
}

// passedOnce tells whether a split's line is no other's of a course.
func passedOnce(splits []race.Split, k int) bool {
	return !slices.ContainsFunc(splits, func(s race.Split) bool { return s.Line == splits[k].Line && s.ID != splits[k].ID })
}

// speaksFor weighs, in nats, a line's clock being late against its being right: how even the
// course is either way, and how much the same share of everybody's time its unevenness takes.
func (f *field) speaksFor(c int, late lateBy) float64 {
	x := &f.courses[c]
	var even, alike float64
	for _, k := range [...]int{late.split, late.split + 1} {
		if k >= len(x.splits) || x.splits[k].Sport == "change" || x.stretches[k] < 2*offLeast {
			continue
		}
		others, pair := f.restOf(c, k, late.split), false
		if len(others) == 0 {
			others, pair = f.neighbour(c, k, late.split)
		}
		if len(others) == 0 {
			continue
		}
		is, were := f.besides(c, k, others, lateBy{}), f.besides(c, k, others, late)
		if math.IsNaN(is.off) || math.IsNaN(were.off) {
			return math.Inf(-1)
		}
		hills, share := f.usualHills(c, k, others, pair)
		g, sure := f.fanned(c, k, others, lateBy{})
		h, _ := f.fanned(c, k, others, late)
		share += sure
		even += likelier(were.off, is.off, hills)
		alike += likelier(h, g, share)
		if pair {
			return even + alike // the two stretches were held against each other
		}
	}
	if even < 0 {
		return math.Inf(-1)
	}
	return even + alike
}

// likelier is how much likelier, in nats, one deviation is than another where a variance was told by
// a few (Student's t, of evenTail degrees).
func likelier(a, than, variance float64) float64 {
	return (evenTail + 1) / 2.0 * (math.Log1p(than*than/(evenTail*variance)) - math.Log1p(a*a/(evenTail*variance)))
}

// restOf are a course's stretches of the same sport as k that don't touch the line at split m.
func (f *field) restOf(c, k, m int) (others []int) {
	x := &f.courses[c]
	for j := range x.splits {
		if j != m && j != m+1 && x.splits[j].Sport == x.splits[k].Sport && x.stretches[j] >= 2*offLeast && !math.IsNaN(x.effect[j]) {
			others = append(others, j)
		}
	}
	return others
}

// neighbour is the other of the stretches about the line at split m, where it is of k's sport.
func (f *field) neighbour(c, k, m int) ([]int, bool) {
	x := &f.courses[c]
	j := 2*m + 1 - k
	if j >= len(x.splits) {
		j = m - 1
	}
	if j < 0 || x.splits[j].Sport != x.splits[k].Sport || x.stretches[j] < 2*offLeast {
		return nil, false
	}
	return []int{j}, true
}

// usualHills are the variances of a stretch's log pace against others', and of what the spread of
// its times is off from growing with them, as the others are among one another.
func (f *field) usualHills(c, k int, others []int, pair bool) (hills, share float64) {
	x := &f.courses[c]
	roll := 1.0
	if sport := x.splits[k].Sport; sport == "bike" || sport == "ski" {
		roll = offRolls
	}
	hills, share = evenKnown*float64(evenHills*evenHills)*float64(roll*roll), evenKnown*float64(evenShare*evenShare)
	if pair {
		return 2 * hills / evenKnown, share / evenKnown
	}
	var effects []float64
	for _, j := range others {
		effects = append(effects, x.effect[j])
	}
	mid, n := robust.Median(slices.Clone(effects)), evenKnown
	for _, e := range effects {
		hills += float64((e - mid) * (e - mid))
	}
	if len(others) < 2 {
		return 1.5 * hills / evenKnown, share / evenKnown
	}
	for _, j := range others {
		if g, sure := f.fanned(c, j, slices.DeleteFunc(slices.Clone(others), func(o int) bool { return o == j }), lateBy{}); !math.IsNaN(g) {
			share += math.Max(0, float64(g*g)-sure)
			n++
		}
	}
	return hills / float64(evenKnown+len(others)-1) * (1 + 1/float64(len(others))), share / float64(n)
}

// stretchAgainst is a stretch that is compared with others, if a clock is late.
type stretchAgainst struct {
	k      int
	others string
	late   lateBy
}

// besides compares a field's times over stretch k with those that its pace over others tells, if a
// clock is late. It rests on what those who are asked tell, and is worked out once as long as that
// is the same.
func (f *field) besides(c, k int, others []int, late lateBy) against {
	known, key := f.courses[c].against, stretchAgainst{k, fmt.Sprint(others), late}
	a, ok := known[key]
	if !ok {
		a = f.comparedBesides(c, k, others, late)
		known[key] = a
	}
	return a
}

func (f *field) comparedBesides(c, k int, others []int, late lateBy) against {
	x := &f.courses[c]
	var effects []float64
	for _, j := range others {
		effects = append(effects, x.effect[j])
	}
	base := robust.Median(effects)
	metres := x.metres(k)
	var took, want, off, lost, row []float64
	for n := range x.asked {
		y, ok := x.stretchIf(n, k, late)
		row = row[:0]
		for _, j := range others {
			if z, ok := x.stretchIf(n, j, late); ok {
				row = append(row, z-x.effect[j]+base)
			}
		}
		if !ok || len(row) == 0 {
			continue
		}
		own := robust.Median(row)
		took, want = append(took, metres*math.Exp(y)), append(want, metres*math.Exp(own))
		off, lost = append(off, y-own), append(lost, metres*(math.Exp(y)-math.Exp(own)))
	}
	return compareTimes(took, want, off, lost)
}

// fanned is by how much further apart a field's log paces over stretch k lie than over others, log:
// not at all for what takes its share of everybody's time, less where a clock added as many seconds
// to all. With the variance that as few athletes leave.
func (f *field) fanned(c, k int, others []int, late lateBy) (by, sure float64) {
	n := 0
	for _, j := range others {
		if g, v := f.fannedAgainst(c, k, j, late); !math.IsNaN(g) {
			by, sure, n = by+g, sure+v, n+1
		}
	}
	return by / float64(n), sure / float64(n)
}

// fannedAgainst is so against one other stretch, told by those who ran both as most do.
func (f *field) fannedAgainst(c, k, j int, late lateBy) (by, sure float64) {
	var ys, zs, apart []float64
	x := &f.courses[c]
	for n := range x.asked {
		y, ok := x.stretchIf(n, k, late)
		z, there := x.stretchIf(n, j, late)
		if ok && there {
			ys, zs, apart = append(ys, y), append(zs, z), append(apart, y-z)
		}
	}
	if len(ys) < 2*offLeast {
		return math.NaN(), 0
	}
	my, sy := robust.Spread(slices.Clone(ys))
	mz, sz := robust.Spread(slices.Clone(zs))
	md, sd := robust.Spread(slices.Clone(apart))
	var n, yy, zz, yz float64
	for i := range ys {
		if y, z := ys[i]-my, zs[i]-mz; math.Abs(y) <= usualSpreads*sy && math.Abs(z) <= usualSpreads*sz && math.Abs(apart[i]-md) <= usualSpreads*sd {
			n, yy, zz, yz = n+1, yy+float64(y*y), zz+float64(z*z), yz+float64(y*z)
		}
	}
	if !(yy > 0 && zz > 0) {
		return math.NaN(), 0
	}
	return math.Log(yy/zz) / 2, (1 - float64(yz*yz)/float64(yy*zz)) / n
}

// stretchIf is the log pace of the n-th of those who are asked over a stretch if a clock is late.
func (x *onCourse) stretchIf(n, k int, late lateBy) (float64, bool) {
	y, ok := x.taught.stretch(n, k)
	if !ok || late.s == 0 || k != late.split && k != late.split+1 {
		return y, ok
	}
	metres := x.metres(k)
	t := float64(metres * math.Exp(y))
	if k == late.split {
		t -= late.s
	} else {
		t += late.s
	}
	if !(t > 0) {
		return 0, false
	}
	return math.Log(t / metres), true
}

// byTwin tells of a line whose main is off by what another clock says.
func (f *field) byTwin(c int, t told) race.Suspect {
	x := &f.courses[c]
	f.unequal[c] = true
	var as, by []string
	for _, k := range [...]int{t.split, t.split + 1} {
		if k >= len(x.splits) {
			continue
		}
		others := f.restOf(c, k, t.split)
		if len(others) == 0 {
			others, _ = f.neighbour(c, k, t.split)
		}
		is := f.besides(c, k, others, lateBy{}).off
		if math.IsNaN(is) {
			continue // nobody has come so far, or nothing is like it
		}
		where := map[bool]string{true: "before it", false: "after"}[k == t.split]
		as = append(as, fmt.Sprintf("%.0f %% of its usual time %s", 100*math.Exp(is), where))
		by = append(by, fmt.Sprintf("%.0f %%", 100*math.Exp(f.besides(c, k, others, t.lateBy).off)))
	}
	s := suspect(race.LineOff, race.Hold, "", x.splits[t.split].ID)
	s.Says = fmt.Sprintf("The whole field is about %.0f s %s at %s: %s (%d athletes); by %s's clock there %s, and fast and slow alike. The clock of that line is off.",
		math.Abs(t.s), lateOrEarly(t.s), x.splits[t.split].ID, strings.Join(as, " and "), x.stretches[t.split], t.system, strings.Join(by, " and "))
	s.Evidence = "off " + coarsely(t.s)
	if moves := f.moveClock(x.splits[t.split].Line, t.s); moves != nil {
		s.Proposes, s.Others = moves[0], []string{accept(s.ID)}
	}
	return f.offAt(c, t.split, &s)
}
