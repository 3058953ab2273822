package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// shiftLeast seconds: no wrong clock that breaks the order of lines is nearer; shiftSpreads of
	// those who speak for it it must lie off, too.
	shiftLeast   = 60
	shiftSpreads = 4
	// asTight is how many times as far as those of any other passing there the passings that are
	// taken for a start may lie apart.
	asTight = 3
)

// apart is by how many seconds a passing at a line is late for a split that it doesn't fill.
type apart struct {
	s  float64
	of *race.Passing
}

// shifted finds a line whose passings fit no split for most of the field, but would if all
// of them were moved by the same length of time: its clock is off by an hour or a day.
func (f *field) shifted(c int) []race.Suspect {
	x := &f.courses[c]
	var found []race.Suspect
	for k := range x.splits {
		if x.splits[k].Lap > 1 {
			continue // its line has another lap to fill: the first tells of its clock
		}
		if at := f.reaches().at[c][k]; (at.loose < offLeast || at.loose <= at.filled) && !(k == 0 && f.unsureAt(x.splits[0].Line)) {
			continue
		}
		off, there := f.offAndThere(c, k)
		if len(off) < offLeast || len(off) <= there {
			continue
		}
		if slices.ContainsFunc(found, func(s race.Suspect) bool { return s.Line == f.line(x.splits[k].Line) }) || f.steppedAbout(c, k) {
			f.moved[[2]int{c, k}], f.lineOff[[2]int{c, k}] = true, true
			continue // another passing of that line has told of its clock, or a step is told that no one offset puts right
		}
		d, sd := robust.Spread(seconds(off))
		if math.Abs(d) < shiftLeast || math.Abs(d) < shiftSpreads*sd || k == 0 && (f.startsElsewhere(c) >= len(off) || !f.startClock(c, d)) {
			continue
		}
		found = append(found, f.shiftedBy(c, k, off, there))
	}
	return found
}

// shiftedBy tells of a line whose passings are late for split k by as much.
func (f *field) shiftedBy(c, k int, off []apart, there int) race.Suspect {
	x := &f.courses[c]
	line := x.splits[k].Line
	d, sure, other := f.clockOff(line, k, off)
	s := suspect(race.LineOff, race.Hold, "", x.splits[k].ID)
	s.Says = fmt.Sprintf("%d athletes were read at %s about %s %s for their own race, %d in time: the clock of that line is off%s.",
		len(off), x.splits[k].ID, short(race.Millis(math.Abs(d)*1000)), lateOrEarly(d), there, other)
	moves := f.moveClock(line, d)
	if source := f.unknownClock(off); source >= 0 {
		moves = f.moveUnknown(source, d)
	}
	s.Proposes, s.Others = accept(s.ID), moves
	if sure && moves != nil {
		s.Proposes, s.Others = moves[0], []string{accept(s.ID)}
	}
	s.Evidence = "shift " + coarsely(d)
	f.moved[[2]int{c, k}] = true
	return f.offAt(c, k, &s)
}

// clockOff is by how many seconds a line's clock is late, and whether that is known well enough to
// set it by: a whole number of hours, what another clock says, or when the first were over the
// start. A clock that is held against nothing was set by hand: of it the start tells the seconds too,
// if its gun is right.
func (f *field) clockOff(line, k int, off []apart) (d float64, sure bool, other string) {
	d, sd := robust.Spread(seconds(off))
	first, rushed := 0.0, false
	if k == 0 {
		first, rushed = firstOver(seconds(off))
	}
	source, guess := f.unknownClock(off), 0.0
	if source >= 0 {
		guess = f.guessed(source)
	}
	h := float64(3600*math.Round((guess+d)/3600)) - guess
	ifGun := ", if the gun went when the plan says"
	switch {
	case source >= 0 && rushed && (first-h > hourLate || first-h < -hourEarly):
		late := guess + first
		return first, late < 0 || late > gunMost, ifGun
	case h != -guess && math.Abs(d-h) < math.Max(shiftLeast, 2*sd):
		return h, true, ""
	case source < 0:
		if by, says := f.clockSays(line, d); says != "" {
			return by, true, says
		}
	}
	if rushed {
		return first, false, ifGun // or it went by so much earlier
	}
	return d, false, ""
}

const (
	// hourLate and hourEarly seconds about whole hours, by its first over the start, a clock is off by
	// its zone alone: they need a moment, and are heard ahead of the line.
	hourLate  = 2.5
	hourEarly = 1
	// leanGap seconds, at least, before a front row come those who lean on the gun.
	leanGap = 2
	// gunMost seconds a gun may be late: a start that is read so late is as likely that.
	gunMost = 1500
)

// firstOver is when the first of those who poured over a start were there, but for who leans on the
// gun or sets out before the others; not so where they came one by one.
func firstOver(off []float64) (first float64, rushed bool) {
	slices.Sort(off)
	quarter, half := len(off)/4, len(off)/2
	if quarter == 0 {
		return 0, false
	}
	pause := math.Max(leanGap, 8*(off[half]-off[quarter])/float64(half-quarter))
	k := quarter
	for k > 0 && off[k]-off[k-1] <= pause {
		k--
	}
	return off[k], quarter > k && off[quarter]-off[k] < flowLeast*float64(quarter-k)
}

// unknownClock is the log, held against nothing or too little, whose time most of those passings
// have; -1 where clocks are known.
func (f *field) unknownClock(off []apart) int {
	n, source := 0, -1
	for _, a := range off {
		for s, b := range a.of.Bursts {
			if b != nil && clockUnknown(a.of) && a.of.From == race.FromSystem(race.System(s)) {
				n, source = n+1, int(b.Source)
			}
		}
	}
	if 2*n <= len(off) {
		return -1
	}
	return source
}

// guessed is how far such a log's clock was taken to be from its line's reference, in seconds.
func (f *field) guessed(source int) float64 {
	for n := range f.in.Unsure {
		if u := &f.in.Unsure[n]; u.Source == source && !math.IsNaN(u.OffsetS) {
			return u.OffsetS
		}
	}
	return 0
}

// moveUnknown are rulings that take d seconds off the clock of such a log.
func (f *field) moveUnknown(source int, d float64) []string {
	l := &f.plan.Logs[source]
	return []string{fmt.Sprintf("set-clock --line %s --system %s --offset %+.3f", arg(f.line(l.Line)), l.System, f.guessed(source)+d)}
}

// startsElsewhere are those of other courses who are in time over a course's start line: its clock
// is right then, and a gun isn't.
func (f *field) startsElsewhere(c int) (there int) {
	line := f.courses[c].splits[0].Line
	for o := range f.courses {
		if x := &f.courses[o]; o != c && len(x.splits) > 0 && x.splits[0].Line == line && x.splits[0].At == 0 {
			there += f.reaches().at[o][0].filled
		}
	}
	return there
}

func seconds(off []apart) []float64 {
	s := make([]float64, len(off))
	for i := range off {
		s[i] = off[i].s
	}
	return s
}

// offAndThere are by how much those whose passing at a split's line fits none are off, and how
// many filled it. Of a start whose clock nothing tells, or whose line is passed again, a passing may
// fit one all the same.
func (f *field) offAndThere(c, k int) (off []apart, there int) {
	x := &f.courses[c]
	unsure := k == 0 && f.unsureAt(x.splits[0].Line)
	nth := make([][]apart, 1)
	over := unsure || k == 0 && !passedOnce(x.splits, k)
	if over {
		nth = make([][]apart, 1+len(x.splits))
	}
	for _, i := range x.results {
		filled := f.surely(i, k)
		there += tally(filled)
		if filled || !unsure && f.hints[i]&hasLoose == 0 || f.last(i) < 0 && k > 0 || k >= len(f.times[i]) {
			continue
		}
		if over {
			f.overStart(i, nth)
		} else if a, ok := f.offBy(i, k); ok {
			nth[0] = append(nth[0], a)
		}
	}
	return tightest(nth), there
}

// surely tells whether somebody has a time at a split that rests on a clock which something tells.
func (f *field) surely(i, k int) bool {
	r := f.st.Results[i]
	return k < len(f.times[i]) && f.times[i][k].Known() && !(r.Filled[k] >= 0 && clockUnknown(&r.Passings[r.Filled[k]]))
}

// unsureAt tells whether a line has a log whose clock nothing tells.
func (f *field) unsureAt(line int) bool {
	return slices.ContainsFunc(f.in.Unsure, func(u ClockUnsure) bool { return u.Line == line })
}

// overStart adds the first, second … passing of an athlete at their start's line to those of others,
// whatever it fills: of a line that a course passes again a wrong clock has the start fill a later split.
func (f *field) overStart(i int, nth [][]apart) {
	r := f.st.Results[i]
	n := 0
	for j := range r.Passings {
		p := &r.Passings[j]
		if p.Line != r.Splits[0].Line || p.Fate == race.Voided || !r.Gun.Known() || n == len(nth) {
			continue
		}
		nth[n] = append(nth[n], apart{p.At.Sub(r.Gun).Seconds(), p})
		n++
	}
}

// tightest are the earliest of those lists whose passings lie about as near each other as any's: a
// field starts together, and comes back one by one.
func tightest(nth [][]apart) []apart {
	least := math.Inf(1)
	spread := make([]float64, len(nth))
	for n := range nth {
		spread[n] = math.Inf(1)
		if len(nth[n]) >= offLeast && 2*len(nth[n]) > len(nth[0]) {
			_, spread[n] = robust.Spread(seconds(nth[n]))
			least = math.Min(least, spread[n])
		}
	}
	for n := range nth {
		if spread[n] <= asTight*least {
			return nth[n]
		}
	}
	return nth[0]
}

// offBy is how far an athlete's passing at a split's line lies from where the course would
// have it.
func (f *field) offBy(i, k int) (apart, bool) {
	r := f.st.Results[i]
	a, b := k-1, k+1
	for a >= 0 && !f.surely(i, a) {
		a--
	}
	for b < len(f.times[i]) && !f.surely(i, b) {
		b++
	}
	from, at := r.Gun, 0.0
	if a >= 0 {
		from, at = f.times[i][a], r.Splits[a].At
	}
	if !from.Known() {
		return apart{}, false
	}
	want := from
	switch {
	case b < len(f.times[i]):
		want = from.Add(race.Millis(float64(f.times[i][b].Sub(from)) * (r.Splits[k].At - at) / (r.Splits[b].At - at)))
	case k > 0 && at > 0:
		want = from.Add(race.Millis(float64(from.Sub(r.Gun)) * (r.Splits[k].At - at) / at))
	case k > 0:
		return apart{}, false
	}
	if b >= len(f.times[i]) && f.st.Now.Known() && want > f.st.Now {
		return apart{}, false // still on the way there
	}
	best := apart{s: math.Inf(1)}
	for j := range r.Passings {
		p := &r.Passings[j]
		if p.Line != r.Splits[k].Line || p.Split >= 0 || p.Fate == race.Voided {
			continue
		}
		if d := p.At.Sub(want).Seconds(); math.Abs(d) < math.Abs(best.s) {
			best = apart{d, p}
		}
	}
	return best, best.of != nil
}

// startClock tells whether a start line's passings, d seconds off the guns, are a clock's
// fault and not the guns': timed from the gun, the first stretch is as fast as the others,
// timed from those passings it isn't.
func (f *field) startClock(c int, d float64) bool {
	x := &f.courses[c]
	var first, rest []float64
	for _, i := range x.results {
		r := f.st.Results[i]
		if len(f.times[i]) > 1 && f.times[i][1].Known() && r.Gun.Known() && r.Splits[1].At > 0 {
			first = append(first, f.times[i][1].Sub(r.Gun).Seconds()/r.Splits[1].At)
		}
		for k := 2; k < len(f.times[i]); k++ {
			if y, ok := f.stretch(i, k); ok {
				rest = append(rest, math.Exp(y))
			}
		}
	}
	if len(first) < offLeast || len(rest) < offLeast {
		return math.Abs(d) > gunMost
	}
	m, usual := robust.Median(first), robust.Median(rest)
	moved := m - d/x.splits[1].At
	if moved <= 0 {
		return true
	}
	return math.Abs(math.Log(m/usual)) < math.Abs(math.Log(moved/usual))
}
