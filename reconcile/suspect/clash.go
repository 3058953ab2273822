package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

const (
	// weakDB, in tenths of a dBm below the line's usual peak, is a weak read: a tenth of the
	// power, a chip read past the edge of the antenna's field.
	weakDB = 100
	// halfWidths of 95 % are so many standard deviations.
	halfWidths = 1.96
	// strayReach is how far before main's passing another of backup's can be the same
	// crossing: somebody who stood near the finish and was read by main only then.
	strayReach = 10 * 60000 * race.Millis(1)
)

// compared is how the systems saw one split.
type compared struct {
	apart race.Millis // main less backup; NoMillis: not both saw it, or nothing tells
	peaks [2]int16    // main's and backup's, NoRSSI: none
	sure  bool        // backup's time can be trusted
	thin  bool        // each that saw it read them too seldom for one who crosses
	ruled bool
	keyed bool // a person keyed it, and no system read it

	filled bool
	by     [race.Systems]bool // which systems' logs saw it
}

// both tells whether main and backup saw it.
func (x *compared) both() bool { return x.by[race.Main] && x.by[race.Backup] }

func compare(p *race.Passing) compared {
	x := compared{apart: race.NoMillis, peaks: noPeaks, thin: thin(p), ruled: p.Ruling > 0, keyed: keyedOnly(p), filled: true}
	for s := range x.by {
		if x.by[s] = seenBy(p, race.System(s)); x.by[s] && s < len(x.peaks) {
			x.peaks[s] = p.Bursts[s].Peak
		}
	}
	if x.both() {
		x.apart, x.sure = p.Seen[race.Main].Sub(p.Seen[race.Backup]), p.Unsure(race.Backup) == ""
	}
	return x
}

// clash: main and corrected backup are further apart than the line's tolerance. It holds if
// main is the later one, or a lone weak read.
func clash(f *field) []race.Suspect {
	x := &f.agreement
	another := x.renew(f)
	return x.clashes.again(f, another, f.news.changed, f.clashesOf)
}

// clashesOf finds a result's.
func (f *field) clashesOf(i int, add func(race.Suspect)) {
	a, stood := &f.agreement, f.stoodNear(i, add)
	if f.wide[i].Seconds() <= a.least && f.hints[i]&(backupBy|keyedFill) == 0 {
		return
	}
	r := f.st.Results[i]
	for k := range f.both[i] {
		x := &f.both[i][k]
		if x.keyed {
			p := &r.Passings[r.Filled[k]]
			if q := readSoon(r, k, p); q != nil {
				add(f.keyedFirst(r, k, p, q))
			}
			continue
		}
		if !x.by[race.Main] || x.ruled || x.both() && !x.apart.Known() || slices.Contains(stood, k) {
			continue
		}
		if x.both() {
			line := r.Splits[k].Line
			if d := math.Abs(x.apart.Seconds()); x.sure && d > a.limits[line] && d > a.limits[line]+a.apart(r.Course, k) {
				if p := &r.Passings[r.Filled[k]]; p.Unsure(race.Main) == "" && !(a.told[line] && within(x.apart, p)) {
					add(f.clashAt(r, k, p, x.apart, a.limits[line], a.peaks[race.Main][line]))
				}
			}
			continue
		}
		if f.hints[i]&backupBy == 0 {
			continue
		}
		p := &r.Passings[r.Filled[k]]
		if q := f.earlierTwin(r, k, p); q != nil {
			add(f.lateMain(r, k, p, q))
		}
	}
}

// within tells whether both intervals explain a difference, as far off as chance goes in a field of
// thousands: an interval holds 95 of 100, and of whoever crossed at a speed that nothing tells it is wide.
func within(d race.Millis, p *race.Passing) bool {
	a, b := p.PM[race.Main], p.PM[race.Backup]
	if !b.Known() {
		return false
	}
	if !a.Known() {
		a = 0
	}
	// Main's own interval is the chips' resolution, which both systems share.
	return math.Abs(d.Seconds()) <= clashZ/halfWidths*math.Hypot(a.Seconds(), b.Seconds())
}

func (f *field) clashAt(r *race.Result, k int, p *race.Passing, d race.Millis, limit, peak float64) race.Suspect {
	sp := &r.Splits[k]
	m := p.Bursts[race.Main]
	weak := m.Count == 1 && (m.Peak == race.NoRSSI && p.Bursts[race.Backup].Count > 2 || m.Peak != race.NoRSSI && float64(m.Peak) < peak-weakDB)
	weight := race.Look
	if (d > 0 || weak) && !uncounted(r) {
		weight = race.Hold
	}
	s := suspect(race.Clash, weight, r.Bib, sp.ID)
	s.Line, s.Split, s.At = f.line(p.Line), sp.ID, p.At
	which := "earlier"
	if d > 0 {
		which = "later"
	}
	s.Says = fmt.Sprintf("Main has %s at %s %.2f s %s than backup on main's clock (%s against %d; the line allows %.2f s", r.Bib, sp.ID, math.Abs(d.Seconds()), which, race.Counted(int(m.Count), "read", "reads"), p.Bursts[race.Backup].Count, limit)
	if weak {
		s.Says += "; main's is a lone weak read"
	}
	s.Says += ")."
	use := fmt.Sprintf("use-system --bib %s --split %s --system backup", arg(r.Bib), arg(sp.ID))
	if d > 0 || weak {
		s.Proposes, s.Others, s.Strong = use, []string{accept(s.ID)}, weak
	} else {
		s.Proposes, s.Others = accept(s.ID), []string{use}
	}
	s.Evidence = fmt.Sprintf("%s main%d backup%d", which, int64(m.First), int64(p.Bursts[race.Backup].First))
	return s
}

// earlierTwin is backup's passing at the same line that came so shortly before main's that
// both are one crossing, main's the read of somebody who stayed near. Where the line is
// passed again and again, half a way round is another crossing: off the grid, a lap missed.
func (f *field) earlierTwin(r *race.Result, split int, p *race.Passing) *race.Passing {
	reach := min(strayReach, wayRound(r, split, p)/2)
	for n := range r.Passings {
		q := &r.Passings[n]
		if q.Line == p.Line && q.Split < 0 && q.Bursts[race.Main] == nil && q.Bursts[race.Backup] != nil && (q.Fate == race.Extra || q.Fate == race.StayedNear) {
			if d := p.At.Sub(q.At); d > 0 && d < reach && !between(r, p.Line, q.At, p.At) {
				return q
			}
		}
	}
	return nil
}

// wayRound is how long the athlete took, since the line was last seen to be passed or since
// the gun, from one split at it to the next.
func wayRound(r *race.Result, split int, p *race.Passing) race.Millis {
	since, ways := r.Gun, race.Millis(1)
	for s := split - 1; s >= 0; s-- {
		if r.Splits[s].Line != p.Line {
			continue
		}
		if n := r.Filled[s]; n >= 0 {
			since = r.Passings[n].At
			break
		}
		ways++
	}
	if !since.Known() || p.At <= since {
		return strayReach
	}
	return p.At.Sub(since) / ways
}

// between tells whether another split was filled at the line between two moments: then what
// came before it is another crossing.
func between(r *race.Result, line int, from, to race.Instant) bool {
	return slices.ContainsFunc(r.Passings, func(p race.Passing) bool { return p.Line == line && p.Split >= 0 && p.At > from && p.At < to })
}

// clashWith begins the clash of a split with what else tells of it.
func (f *field) clashWith(r *race.Result, k int, p *race.Passing) race.Suspect {
	sp := &r.Splits[k]
	s := suspect(race.Clash, holds(r), r.Bib, sp.ID)
	s.Line, s.Split, s.At = f.line(p.Line), sp.ID, p.At
	return s
}

func (f *field) lateMain(r *race.Result, k int, p, q *race.Passing) race.Suspect {
	sp := &r.Splits[k]
	s := f.clashWith(r, k, p)
	s.Says = fmt.Sprintf("Main first read %s at %s at %s; backup read them %.1f s before that.", r.Bib, sp.ID, f.clock(p.At), p.At.Sub(q.At).Seconds())
	s.Proposes = voidPassing(r.Bib, f.line(p.Line), f.when(p.At))
	s.Others = []string{fmt.Sprintf("set-time --bib %s --split %s --at %s", arg(r.Bib), arg(sp.ID), f.when(q.At)), accept(s.ID)}
	if stayedOn(r, p) {
		s.Proposes, s.Others[0] = s.Others[0], s.Proposes
	}
	s.Evidence = mark(p) + " after " + mark(q)
	return s
}

// stayedOn tells whether main read an athlete again after a passing, and that fills nothing: then
// without this passing the next one stands in its place, as late.
func stayedOn(r *race.Result, p *race.Passing) bool {
	return slices.ContainsFunc(r.Passings, func(x race.Passing) bool {
		return x.Line == p.Line && x.Split < 0 && x.Fate != race.Voided && x.Bursts[race.Main] != nil && x.At > p.At && x.At.Sub(p.At) < strayReach && !between(r, p.Line, p.At, x.At)
	})
}

// extraPassing: a passing that fits no split. Several at one line within some minutes are
// one: somebody who stayed near.
func extraPassing(f *field) []race.Suspect {
	return f.kept.extra.again(f, !f.news.sameWord, f.news.changed, func(i int, add func(race.Suspect)) {
		if f.hints[i]&hasExtra == 0 {
			return
		}
		r := f.st.Results[i]
		if f.otherCourse[i] || f.disordered[r.Bib] || f.flew[i] || r.Course < 0 {
			return
		}
		for n := 0; n < len(r.Passings); n++ {
			p := &r.Passings[n]
			if p.Fate != race.Extra || p.Split >= 0 || f.offLine(r.Course, p.Line) {
				continue
			}
			more, last := 0, p.At
			for m := n + 1; m < len(r.Passings); m++ {
				if q := &r.Passings[m]; q.Line == p.Line && q.Fate == race.Extra && q.At.Sub(last) < strayReach {
					more, last = more+1, q.At
				}
			}
			if f.told(r, p, n) || f.hints[i]&keyedFill != 0 && toldByKeyed(r, p) {
				continue
			}
			add(f.extra(r, p, more, last))
		}
	})
}

// told tells whether an earlier extra passing at the line speaks for this one.
func (f *field) told(r *race.Result, p *race.Passing, n int) bool {
	at := p.At
	for m := n - 1; m >= 0; m-- {
		if q := &r.Passings[m]; q.Line == p.Line && q.Fate == race.Extra && q.Split < 0 {
			return at.Sub(q.At) < strayReach
		}
	}
	return false
}

func (f *field) extra(r *race.Result, p *race.Passing, more int, last race.Instant) race.Suspect {
	line := f.line(p.Line)
	s := suspect(race.ExtraPassing, race.Look, r.Bib, line+"@"+f.clock(p.At))
	s.Line, s.At = line, p.At
	s.Says = fmt.Sprintf("%s was read at %s at %s, which fits no split of its course", r.Bib, line, f.clock(p.At))
	if more > 0 {
		s.Says += fmt.Sprintf(", and %d times more until %s", more, f.clock(last))
	}
	for k, n := range r.Filled {
		if n >= 0 && r.Passings[n].Line == p.Line {
			s.Says += fmt.Sprintf("; its %s there is %s", r.Splits[k].ID, f.clock(r.Passings[n].At))
		}
	}
	s.Says += "."
	s.Proposes = voidPassing(r.Bib, line, f.when(p.At))
	s.Others = []string{accept(s.ID)}
	if more > 0 {
		s.Proposes, s.Others[0] = s.Others[0], s.Proposes // they stood there; one void would leave the rest
	}
	s.Evidence = mark(p)
	return s
}

// outOfOrder: passings in an order that the course can't give. It holds.
func outOfOrder(f *field) []race.Suspect {
	var found []race.Suspect
	for _, bib := range f.in.OutOfOrder {
		i, ok := f.st.ByBib[bib]
		if !ok || f.otherCourse[i] {
			continue
		}
		r := f.st.Results[i]
		var marks []string
		var first *race.Passing
		step := true // all that is out of order was read where main was set
		for n := range r.Passings {
			if p := &r.Passings[n]; p.Split < 0 && p.Fate == race.Extra {
				if first == nil {
					first = p
				}
				marks = append(marks, mark(p))
				step = step && f.mainStepped(p.Line)
			}
		}
		if first == nil {
			continue
		}
		f.disordered[bib] = true
		if step || r.Course >= 0 && f.follows(r.Course, first.Line) {
			continue // the step, or the line, tells it
		}
		s := suspect(race.OutOfOrder, holds(r), bib)
		s.Line, s.At = f.line(first.Line), first.At
		s.Says = fmt.Sprintf("%s was read at %s at %s, where its course can't have brought it then: %s.", bib, f.line(first.Line), f.dayAndClock(r, first.At), f.order(r))
		s.Proposes = voidPassing(bib, s.Line, f.when(first.At))
		s.Others = []string{accept(s.ID)}
		slices.Sort(marks)
		s.Evidence = fmt.Sprint(marks)
		found = append(found, s)
	}
	return found
}

// offLine tells whether a line's clock is off for a course.
func (f *field) offLine(c, line int) bool {
	for k := range f.courses[c].splits {
		if f.courses[c].splits[k].Line == line && f.moved[[2]int{c, k}] {
			return true
		}
	}
	return false
}

// follows tells whether passings at a line can be out of order for a clock alone: its own, or
// that of a line beside it.
func (f *field) follows(c, line int) bool {
	x := &f.courses[c]
	for k := range x.splits {
		if x.splits[k].Line == line && (f.besideOff(c, k) || k+1 < len(x.splits) && f.lineOff[[2]int{c, k + 1}]) {
			return true
		}
	}
	return false
}

// order writes the lines in the order read, at most eight.
func (f *field) order(r *race.Result) string {
	text := ""
	for n := range r.Passings {
		if n == 8 {
			return text + " …"
		}
		if n > 0 {
			text += ", "
		}
		text += f.line(r.Passings[n].Line) + " " + f.dayAndClock(r, r.Passings[n].At)
	}
	return text
}
