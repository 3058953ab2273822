package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// offLeast is the fewest athletes who can speak for a line, offShare how many of them
	// must agree: a wrong clock or distance doesn't pick its athletes.
	offLeast = 5
	offShare = 0.3
	// offMost is how much a field's pace changes on a stretch for hills, wind and fading,
	// log: a fifth is a hard climb (common practice). More than that, or offBoth over two
	// stretches together, offLess at least the other way on the stretch beside it, and as
	// many seconds lost as won (offAgree times, at the most, one or the other): then it is
	// the line between them.
	offMost  = 0.18
	offBoth  = 0.26
	offLess  = 0.06
	offAgree = 2.0
	// offRolls is how many times that it takes where people roll or glide: a climb halves a
	// cyclist's or a skier's pace, and the way down makes up for it.
	offRolls = 3.5
)

// lineOff: a whole field early or late at one line, or impossible over one stretch. A clock
// or a distance is wrong, not the athletes: it holds, but no one's row, and what follows from
// it isn't told of each of them.
func lineOff(f *field) []race.Suspect {
	f.findStepped()
	var found []race.Suspect
	for c := range f.courses {
		for _, s := range slices.Concat(f.shifted(c), f.zigzag(c), f.lastLine(c), f.twinOff(c), f.impossibleForAll(c)) {
			k := slices.IndexFunc(found, func(x race.Suspect) bool { return x.ID == s.ID })
			if k < 0 {
				found = append(found, s)
				continue
			}
			x := &found[k] // another course over that line says so too: it is one to settle
			x.Says += fmt.Sprintf(" On %s: %s", f.plan.Courses[c].ID, s.Says)
			x.Evidence += "; " + s.Evidence
		}
	}
	return found
}

func (f *field) offAt(c, k int, s *race.Suspect) race.Suspect {
	sp := &f.courses[c].splits[k]
	f.lineOff[[2]int{c, k}] = true
	s.Line, s.Split = f.line(sp.Line), sp.ID
	if s.Proposes == "" {
		s.Proposes = accept(s.ID)
	}
	return *s
}

// impossibleForAll finds stretches over which a good part of the field is impossible.
func (f *field) impossibleForAll(c int) []race.Suspect {
	x := &f.courses[c]
	n := len(x.splits)
	fast := f.reaches().fast[c]
	if len(fast) < offLeast {
		return nil
	}
	bad, all := make([]int, n), make([]int, n)
	for _, i := range fast {
		f.fast(i, func(a, b int, _ race.Millis) {
			if a == b-1 {
				bad[b]++
			}
		})
	}
	if slices.Max(bad) < offLeast {
		return nil
	}
	for _, i := range x.results {
		f.pairs(i, func(a, b int, _ race.Millis) {
			if a == b-1 {
				all[b]++
			}
		})
	}
	var found []race.Suspect
	for k := range n {
		if at := f.steppedSplit(c, k); bad[k] >= offLeast && at >= 0 {
			f.lineOff[[2]int{c, at}] = true // the step is told
			continue
		}
		if bad[k] < offLeast || float64(bad[k]) < offShare*float64(all[k]) || f.lineOff[[2]int{c, k}] || k > 0 && f.lineOff[[2]int{c, k - 1}] {
			continue
		}
		s := suspect(race.LineOff, race.Hold, "", x.splits[k].ID)
		from := "the gun"
		at := 0.0
		if k > 0 {
			from, at = x.splits[k-1].ID, x.splits[k-1].At
		}
		need, because := f.least(x.splits, k-1, k)
		s.Says = fmt.Sprintf("%d of %d athletes are impossible from %s to %s (%.0f m; %s is %s): a clock or a distance is wrong, not the athletes.",
			bad[k], all[k], from, x.splits[k].ID, x.splits[k].At-at, because, short(race.Millis(need*1000)))
		s.Evidence = fmt.Sprintf("impossible %d0 %%", 10*bad[k]/all[k])
		found = append(found, f.offAt(c, k, &s))
	}
	return found
}

// zigzag finds a line between two stretches of which one is too fast for the whole field
// and the other too slow by as many seconds. It comes before what is impossible over one
// stretch, which would name the line after it.
func (f *field) zigzag(c int) []race.Suspect {
	x := &f.courses[c]
	var found []race.Suspect
	for k := range len(x.splits) - 1 {
		if x.stretches[k] < 2*offLeast || x.stretches[k+1] < 2*offLeast || x.splits[k].Sport != x.splits[k+1].Sport || x.splits[k].Sport == "change" ||
			f.lineOff[[2]int{c, k}] || f.lineOff[[2]int{c, k + 1}] || f.steppedAbout(c, k) {
			continue
		}
		base := f.baseline(x, k)
		if math.IsNaN(base) {
			continue
		}
		u, v := x.effect[k]-base, x.effect[k+1]-base
		hills := 1.0
		if sport := x.splits[k].Sport; sport == "bike" || sport == "ski" {
			hills = offRolls
		}
		if u*v >= 0 || math.Max(math.Abs(u), math.Abs(v)) < hills*offMost && math.Abs(u-v) < hills*offBoth || math.Min(math.Abs(u), math.Abs(v)) < offLess {
			continue
		}
		pace := math.Exp(base + f.middle(x))
		before, after := x.metres(k)*pace, x.metres(k+1)*pace
		early, late := before*(1-math.Exp(u)), after*(math.Exp(v)-1)
		clock, ok := f.bend(c, k, u, v, hills)
		if r := early / late; !ok || r < 1/offAgree || r > offAgree {
			continue
		}
		f.unequal[c] = f.unequal[c] || clock
		found = append(found, f.bent(c, k, (early+late)/2, u, v, clock))
	}
	return found
}

// metres is how long the stretch is that ends at a split.
func (c *onCourse) metres(k int) float64 {
	if k == 0 {
		return c.splits[0].At
	}
	return c.splits[k].At - c.splits[k-1].At
}

// bent tells of a line where the field is d seconds early, clock: by as much for fast and slow.
func (f *field) bent(c, k int, d, u, v float64, clock bool) race.Suspect {
	x := &f.courses[c]
	s := suspect(race.LineOff, race.Hold, "", x.splits[k].ID)
	by, other := f.clockSays(x.splits[k].Line, -d)
	what := "The clock of that line is off"
	if !clock || other == "" {
		by, other, what = -d, "", "A clock or a distance is wrong there"
	}
	s.Says = fmt.Sprintf("The whole field is about %.0f s %s at %s: %.0f %% of its usual time before it and %.0f %% after (%d athletes). %s%s.",
		math.Abs(d), lateOrEarly(-d), x.splits[k].ID, 100*math.Exp(u), 100*math.Exp(v), x.stretches[k], what, other)
	s.Evidence = "off " + coarsely(d)
	s.Others = f.moveClock(x.splits[k].Line, by)
	if other != "" && s.Others != nil {
		s.Proposes, s.Others = s.Others[0], []string{accept(s.ID)}
	}
	return f.offAt(c, k, &s)
}

// baseline is the middle of the effects of the same sport's other stretches, and of the two
// beside line k together where there are no others.
func (f *field) baseline(x *onCourse, k int) float64 {
	var others []float64
	for j := range x.splits {
		if j != k && j != k+1 && x.splits[j].Sport == x.splits[k].Sport && x.stretches[j] >= 2*offLeast && !math.IsNaN(x.effect[j]) {
			others = append(others, x.effect[j])
		}
	}
	return robust.Median(others)
}

// middle is the field's middle level.
func (f *field) middle(x *onCourse) float64 {
	var ls []float64
	for _, i := range x.results {
		if l := f.level[i]; !math.IsNaN(l) {
			ls = append(ls, l)
		}
	}
	return robust.Median(ls)
}

// moveClock are rulings that take d seconds off a line's reference clock; off that of a log
// whose clock is held against nothing, where the reference read nobody.
func (f *field) moveClock(line int, d float64) []string {
	for n := range f.in.Unsure {
		u := &f.in.Unsure[n]
		if u.Line != line || u.Pairs > 0 || f.readBy(line, race.Main) {
			continue
		}
		if !math.IsNaN(u.OffsetS) {
			d += u.OffsetS
		}
		return []string{fmt.Sprintf("set-clock --line %s --system %s --offset %+.3f", arg(f.line(line)), f.plan.Logs[u.Source].System, d)}
	}
	for _, s := range f.plan.Lines[line].Logs {
		l := &f.plan.Logs[s]
		if l.System != race.Main {
			continue
		}
		now := 0.0
		if !l.Offset.Auto {
			now = l.Offset.Fixed.Seconds()
		}
		return []string{fmt.Sprintf("set-clock --line %s --system %s --offset %+.3f", arg(f.line(line)), l.System, now+d)}
	}
	return nil
}

// readBy tells whether a system read anybody at a line.
func (f *field) readBy(line int, system race.System) bool {
	for i := range f.st.Results {
		for k := range f.st.Results[i].Passings {
			p := &f.st.Results[i].Passings[k]
			if b := p.Bursts[system]; p.Line == line && b != nil && b.Witness == 0 {
				return true
			}
		}
	}
	return false
}

// coarsely writes how far a clock is off as evidence keeps it, to a power of two of seconds and its
// sign: what was looked at isn't opened again because one more athlete moves the middle of a field.
func coarsely(seconds float64) string {
	return fmt.Sprintf("%+.0f", math.Copysign(math.Exp2(math.Round(math.Log2(math.Max(1, math.Abs(seconds))))), seconds))
}
