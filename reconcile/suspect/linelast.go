package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// lastMost is how much more or less a field takes over its last stretch, log, before a clock
	// can be why, lastToo where another system's clock says so as well: a hard climb takes a
	// fifth more (common practice), and a course as rough as others of its stretches is, lastRough
	// times that.
	lastMost  = 0.3
	lastToo   = 0.12
	lastRough = 1.5
	// bendRough is how many times as far apart as any others two neighbouring stretches must be
	// before a distance is why: a course has a few stretches, and the steepest two are somewhere.
	bendRough = 1.75
	// bendScatter is how many times as far apart as an athlete's own pace strays on them the two must
	// be, too: a climb and the way down fan a field as they slow and speed it, 6 to 7 times that in
	// invented mountain races; a mark that stands elsewhere fans nobody.
	bendScatter = 8
	// alikeShare of what a stretch takes too long or too short must be the same for fast and slow:
	// a hill, a wind, fading and a wrong distance take their share of everybody's time, a wrong
	// clock takes as much from each. alikeSpread is how far, log, the field's spread over the
	// stretch may then still be from that of its usual times.
	alikeShare  = 0.5
	alikeSpread = 0.35
	// sameClock seconds, or sameShare of it, is how near what another clock says must be to
	// what the field says that a clock is off.
	sameClock = 60
	sameShare = 0.1
)

// against is what a field took over a stretch against its own pace over others of that sport.
type against struct {
	n     int
	off   float64 // log, of the middle of the field; NaN: nothing tells
	late  float64 // seconds, likewise
	ratio float64 // log of the spread of times over the stretch by that of the usual times
	sure  float64 // standard error of ratio
}

// alike is which part of what a stretch is off is as many seconds for everybody: none of a hill,
// all of a wrong clock.
func (a *against) alike() float64 { return 1 - a.ratio/a.off }

// againstOthers compares a field's times over stretch k with those that its pace over the
// stretches other than not tells.
func (f *field) againstOthers(c, k int, not ...int) against {
	x := &f.courses[c]
	var others []int
	for j := range x.splits {
		if j != k && !slices.Contains(not, j) && x.splits[j].Sport == x.splits[k].Sport && x.stretches[j] >= 2*offLeast {
			others = append(others, j)
		}
	}
	return f.besides(c, k, others, lateBy{})
}

// besideOff tells whether a stretch begins or ends at a line that is off.
func (f *field) besideOff(c, j int) bool {
	return f.lineOff[[2]int{c, j}] || j > 0 && f.lineOff[[2]int{c, j - 1}]
}

func compareTimes(took, want, off, late []float64) against {
	a := against{n: len(off), off: robust.Median(slices.Clone(off)), late: robust.Median(slices.Clone(late))}
	if a.n < 2*offLeast {
		a.off = math.NaN()
		return a
	}
	_, t := robust.Spread(took)
	_, w := robust.Spread(want)
	_, rest := robust.Spread(late)
	a.ratio = math.Log(t / w)
	// A median absolute deviation tells as much as a standard deviation of 37 in a hundred would.
	a.sure = math.Min(1, rest/math.Max(t, w)) / math.Sqrt(0.37*float64(a.n))
	return a
}

// rough is how far apart a course's other stretches of a sport lie, log: its hills and the
// field's fading; NaN where fewer than two others tell.
func (f *field) rough(c int, sport string, not ...int) float64 {
	x := &f.courses[c]
	low, high, n := math.Inf(1), math.Inf(-1), 0
	for j := range x.splits {
		if !slices.Contains(not, j) && x.splits[j].Sport == sport && x.stretches[j] >= 2*offLeast && !math.IsNaN(x.effect[j]) {
			low, high, n = math.Min(low, x.effect[j]), math.Max(high, x.effect[j]), n+1
		}
	}
	if n < 2 {
		return math.NaN()
	}
	return high - low
}

// lastLine finds a clock that is wrong at the finish all day: the whole field took too long or
// too short over the last stretch, and fast and slow by as many seconds. No stretch after it
// makes up for that.
func (f *field) lastLine(c int) []race.Suspect {
	x := &f.courses[c]
	k := len(x.splits) - 1
	if k < 1 || x.stretches[k] < 2*offLeast || x.splits[k].Lap > 0 || x.splits[k].Sport == "change" || f.lineOff[[2]int{c, k}] || f.lineOff[[2]int{c, k - 1}] || f.steppedAbout(c, k) ||
		slices.ContainsFunc(x.splits[:k], func(s race.Split) bool { return s.Line == x.splits[k].Line }) {
		return nil
	}
	a := f.againstOthers(c, k)
	if math.IsNaN(a.off) || math.Abs(a.late) < sameClock || math.Abs(a.ratio) > alikeSpread+2*a.sure || !(a.alike() >= alikeShare) {
		return nil
	}
	d, other := f.clockSays(x.splits[k].Line, a.late)
	need := lastMost
	if other != "" {
		need = lastToo
	} else if (a.alike()-alikeShare)*math.Abs(a.off) < 2*a.sure {
		return nil
	}
	if r := lastRough * f.rough(c, x.splits[k].Sport, k); other == "" && r > need {
		need = r
	}
	if sport := x.splits[k].Sport; sport == "bike" || sport == "ski" {
		need *= offRolls
	}
	if math.Abs(a.off) < need {
		return nil
	}
	f.unequal[c] = true
	if mid := f.onlyBetween(c, k); mid >= 0 && other == "" {
		return []race.Suspect{f.eitherOff(c, mid, k, &a)}
	}
	return []race.Suspect{f.lastOff(c, k, &a, d, other)}
}

func (f *field) lastOff(c, k int, a *against, d float64, other string) race.Suspect {
	x := &f.courses[c]
	s := suspect(race.LineOff, race.Hold, "", x.splits[k].ID)
	s.Says = fmt.Sprintf("The whole field is about %s %s at %s: %.0f %% of its usual time from %s on, fast and slow by as much (%d athletes). The clock of that line is off%s.",
		short(race.Millis(math.Abs(a.late)*1000)), lateOrEarly(a.late), x.splits[k].ID, 100*math.Exp(a.off), x.splits[k-1].ID, a.n, other)
	if moves := f.moveClock(x.splits[k].Line, d); moves != nil {
		s.Proposes = moves[0]
	}
	s.Others = []string{accept(s.ID)}
	s.Evidence = "last " + coarsely(a.late)
	return f.offAt(c, k, &s)
}

func lateOrEarly(d float64) string {
	if d < 0 {
		return "early"
	}
	return "late"
}

// onlyBetween is the one split on the way of a course that has no other, -1 if it has.
func (f *field) onlyBetween(c, k int) int {
	x := &f.courses[c]
	mid := -1
	for j := range x.splits[:k] {
		if x.splits[j].At > 0 && mid >= 0 {
			return -1
		}
		if x.splits[j].At > 0 {
			mid = j
		}
	}
	return mid
}

// eitherOff tells of a course with a single split on the way: a finish that is too late for the
// first half is a first half too short for the whole. Another clock at that split tells which,
// else whether half or whole is nearer to what is usual; then it is named, and not proposed.
func (f *field) eitherOff(c, mid, k int, a *against) race.Suspect {
	x := &f.courses[c]
	var half, whole []float64
	for n := range x.asked {
		y, ok := x.taught.stretch(n, mid)
		z, there := x.taught.stretch(n, k)
		if at := x.splits[mid].At; ok && there {
			half = append(half, y)
			whole = append(whole, math.Log((float64(at*math.Exp(y))+float64((x.splits[k].At-at)*math.Exp(z)))/x.splits[k].At))
		}
	}
	h, w := robust.Median(half), robust.Median(whole)
	d := x.splits[mid].At * (math.Exp(h) - math.Exp(w))
	by, other := f.clockSays(x.splits[mid].Line, d)
	v, _ := pace.Typical(x.splits[k].Sport)
	if other == "" && math.Abs(w+math.Log(v)) >= math.Abs(h+math.Log(v)) {
		s := f.lastOff(c, k, a, a.late, fmt.Sprintf(", or that of %s by %s", x.splits[mid].ID, short(race.Millis(math.Abs(d)*1000))))
		s.Others = append([]string{s.Proposes}, f.moveClock(x.splits[mid].Line, d)...)
		s.Proposes = accept(s.ID)
		return s
	}
	s := suspect(race.LineOff, race.Hold, "", x.splits[mid].ID)
	if s.Others = f.moveClock(x.splits[mid].Line, by); other != "" && s.Others != nil {
		s.Proposes, s.Others = s.Others[0], []string{accept(s.ID)}
	} else {
		s.Others = append(s.Others, f.moveClock(x.splits[k].Line, a.late)...)
		other = fmt.Sprintf(", or that of %s by %s", x.splits[k].ID, short(race.Millis(math.Abs(a.late)*1000)))
	}
	s.Says = fmt.Sprintf("The whole field is about %s %s at %s: %.0f %% of its usual time before it, fast and slow by as much (%d athletes). The clock of that line is off%s.",
		short(race.Millis(math.Abs(d)*1000)), lateOrEarly(d), x.splits[mid].ID, 100*math.Exp(h-w), len(half), other)
	s.Evidence = "between " + coarsely(d)
	return f.offAt(c, mid, &s)
}

// clockSays finds a clock that stands as far from a line's reference as the field says that this
// one is off, d seconds: it knows by how much better than the field does.
func (f *field) clockSays(line int, d float64) (by float64, says string) {
	if h := math.Round(d / 3600); h != 0 && math.Abs(d-h*3600) < sameShare*math.Abs(d) {
		by = h * 3600
	}
	for n := range f.st.Clocks {
		x := &f.st.Clocks[n]
		if x.Line != line || x.Fixed || x.Pairs < offLeast || math.Abs(x.Offset+d) > math.Max(sameClock, sameShare*math.Abs(d)) {
			continue
		}
		way := "behind"
		if x.Offset > 0 {
			way = "ahead of"
		}
		says = fmt.Sprintf("; %s's, %s %s it, fits the field", f.plan.Logs[x.Source].System, short(race.Millis(math.Abs(x.Offset)*1000)), way)
		if by == 0 || math.Abs(x.Offset+by) > sameClock {
			by = -x.Offset
		}
		return by, says
	}
	if by == 0 {
		by = d
	}
	return by, ""
}

// bend tells whether two stretches that are off by opposite amounts, u and v, speak for the line
// between them: by as many seconds for fast and slow, or by more than a course as rough as this
// one's others bends, and than one's own strengths uphill and down come to.
func (f *field) bend(c, k int, u, v, hills float64) (clock, ok bool) {
	a, b := f.againstOthers(c, k, k+1), f.againstOthers(c, k+1, k)
	if part := (float64(u*u*a.alike()) + float64(v*v*b.alike())) / (float64(u*u) + float64(v*v)); part >= alikeShare {
		return true, true
	}
	x := &f.courses[c]
	if math.Abs(u-v) < bendScatter*math.Max(x.scale[k], x.scale[k+1]) {
		return false, false
	}
	rough := f.rough(c, x.splits[k].Sport, k, k+1)
	if math.IsNaN(rough) {
		return false, math.Abs(u-v) >= 2*hills*offBoth
	}
	return false, math.Abs(u-v) >= bendRough*rough
}
