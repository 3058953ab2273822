package suspect

import (
	"fmt"
	"math"

	"twinmat/reconcile/race"
)

// beganEarly is when somebody crossed the start before their gun and not again after, and
// ran from there; NoInstant for everybody else.
func (f *field) beganEarly(i int) race.Instant {
	if at := f.crossedEarly(i); at.Known() && !f.warmedUp(i, at) {
		return at
	}
	return race.NoInstant
}

// crossedEarly is when somebody who ran crossed the start before their gun and not again
// after, from there or warming up; NoInstant for everybody else.
func (f *field) crossedEarly(i int) race.Instant {
	r := f.st.Results[i]
	if r.Wave < 0 || startSplit(r.Splits) < 0 || f.times[i][0].Known() || !r.Gun.Known() {
		return race.NoInstant
	}
	at := race.NoInstant
	for k := range r.Passings {
		p := &r.Passings[k]
		if d := r.Gun.Sub(p.At); p.Line == r.Splits[0].Line && p.Split < 0 && p.Fate != race.Voided && !clockUnknown(p) && d > f.early(r.Wave) && d <= race.EarlyReach {
			at = max(at, p.At)
		}
	}
	if !at.Known() {
		return at
	}
	if f.last(i) < 1 {
		if f.st.Now <= r.Gun.Add(race.Millis(f.latest(r.Wave)*1000)) {
			return race.NoInstant // may come again with their own wave
		}
		if w := f.ranWith(at, r.Wave); w < 0 || w == r.Wave {
			return race.NoInstant // warming up, as far as anyone can tell by now
		}
	}
	return at
}

// clockUnknown tells whether a passing rests on clocks alone that nothing tells yet: it
// says when, for all that is known, and not whether before a gun or after. The clock is a
// suspect of its own, and holds what rests on it.
func clockUnknown(p *race.Passing) bool {
	unsure := false
	for s, b := range p.Bursts {
		if b == nil {
			continue
		}
		if p.Unsure(race.System(s)) == "" {
			return false
		}
		unsure = true
	}
	return unsure
}

// warmedUp tells whether the athlete's own level speaks for a start at the gun rather than
// at the crossing before it: the start passing was missed, and the crossing was warming up.
func (f *field) warmedUp(i int, at race.Instant) bool {
	r := f.st.Results[i]
	c := &f.courses[r.Course]
	k := 1
	for k < len(f.times[i]) && !f.times[i][k].Known() {
		k++
	}
	if k >= len(f.times[i]) || f.last(i) == k {
		return false // no second stretch to know the level from
	}
	want := c.took(f.level[i], 0, k)
	sd := math.Max(c.scale[k], ownScatter) // that of a few athletes is no measure
	if !(want > 0) || !(sd > 0) {
		return false
	}
	off := func(from race.Instant) float64 {
		d := f.times[i][k].Sub(from).Seconds()
		if d <= 0 {
			return math.Inf(1)
		}
		return math.Abs(math.Log(d/want)) / sd
	}
	// Three spreads nearer: as good as never by chance in a field of thousands.
	return off(r.Gun)+3 < off(at)
}

// ownScatter is how far one's pace over a stretch is off one's level at the least, as a
// share of it (common practice).
const ownScatter = 0.03

// ranWith is the wave whose start a crossing belongs to: the last gun before it, if that
// wave was still coming over the line; -1 for none.
func (f *field) ranWith(at race.Instant, own int) int {
	best := -1
	for w := range f.waves {
		g := f.plan.Waves[w].Gun
		if !g.Known() || at < g.Add(-f.plan.Waves[w].Early) {
			continue
		}
		if best < 0 || g > f.plan.Waves[best].Gun || g == f.plan.Waves[best].Gun && own >= 0 && f.plan.Waves[w].Course == f.plan.Waves[own].Course {
			best = w
		}
	}
	if best < 0 {
		return -1
	}
	if at.Sub(f.plan.Waves[best].Gun).Seconds() > f.latest(best) {
		return -1
	}
	return best
}

// unknownLate, in seconds, stands for how long a wave takes over its start line where too
// few of it have been read to tell: a large one takes minutes (common practice).
const unknownLate = 180

// earlyStart: crossed the start in the half hour before the own gun and not again after.
func earlyStart(f *field) []race.Suspect {
	x := &f.kept.early
	return x.again(f, !f.news.sameWord || f.news.taught(), f.news.changed, func(i int, add func(race.Suspect)) {
		if f.hints[i]&hasLoose == 0 {
			return
		}
		r := f.st.Results[i]
		if r.Course < 0 || f.otherCourse[i] || r.Wave >= 0 && f.doubtful[r.Wave] && !r.Start.Known() || r.Status == race.DNS {
			return
		}
		if r.Start.Known() && f.last(i) < 1 {
			x.waits(i) // their start is over at a moment of their own
		}
		at := f.crossedEarly(i)
		if !at.Known() {
			return
		}
		s := suspect(race.EarlyStart, race.Hold, r.Bib)
		s.Line, s.Split, s.At = f.line(r.Splits[0].Line), r.Splits[0].ID, at
		s.Says = fmt.Sprintf("%s crossed the start at %s, %.1f s before its gun, and not again after", r.Bib, f.clock(at), r.Gun.Sub(at).Seconds())
		s.Proposes, s.Strong = accept(s.ID), true
		if w := f.ranWith(at, r.Wave); w >= 0 && w != r.Wave {
			s.Says += fmt.Sprintf("; ran with wave %s, %.1f s after that gun", f.plan.Waves[w].ID, at.Sub(f.plan.Waves[w].Gun).Seconds())
			s.Others = append(s.Others, f.setWave(r.Bib, w))
		}
		if f.warmedUp(i, at) {
			s.Says += "; their pace fits a start at the gun, which no system read: a crossing to warm up"
			s.Strong, s.Others = false, append([]string{s.Proposes}, s.Others...)
			s.Proposes = voidPassing(r.Bib, s.Line, f.when(at))
		}
		s.Says += "."
		if b, ok := f.exchanged[i]; ok {
			s.Strong = false
			s.Others = append([]string{s.Proposes}, s.Others...)
			s.Proposes = swapBibs(r.Bib, f.st.Results[b].Bib)
		}
		s.Others = append(s.Others, setStatus(r.Bib, race.DSQ))
		s.Evidence = fmt.Sprintf("early %s gun %d", f.mark(i, at), int64(r.Gun))
		add(s)
	})
}

func (f *field) setWave(bib string, w int) string {
	return fmt.Sprintf("set-wave --bib %s --wave %s", arg(bib), arg(f.plan.Waves[w].ID))
}

func voidPassing(bib, line, at string) string {
	return fmt.Sprintf("void-passing --bib %s --line %s --at %s", arg(bib), arg(line), at)
}

func swapBibs(a, b string) string {
	if race.CompareBibs(a, b) > 0 {
		a, b = b, a
	}
	return fmt.Sprintf("swap-bibs --bib %s --with %s", arg(a), arg(b))
}

// mark names the passing at an instant by the reads themselves, on their log's own clock,
// which no refit of a clock moves, and where its time was ruled by that too.
func (f *field) mark(i int, at race.Instant) string {
	for k := range f.st.Results[i].Passings {
		if p := &f.st.Results[i].Passings[k]; p.At == at {
			return mark(p)
		}
	}
	return "-"
}

func mark(p *race.Passing) string {
	for s, b := range p.Bursts {
		switch {
		case b == nil:
		case p.From == race.FromRuling: // the reads stay, and another time may be ruled
			return fmt.Sprintf("%s%d as %d", race.System(s), int64(b.First), int64(p.At))
		default:
			return fmt.Sprintf("%s%d", race.System(s), int64(b.First))
		}
	}
	return fmt.Sprintf("ruling%d", p.Ruling)
}

// wrongWave: the start passing lies past the slow end of the own wave and inside a later
// one's, or inside one's more than half an hour before.
func wrongWave(f *field) []race.Suspect {
	return f.kept.wrongWave.again(f, !f.news.sameWord || f.news.taught(), f.news.changed, func(i int, add func(race.Suspect)) {
		if f.startedInTime(i) || f.hints[i]&wasRead == 0 {
			return
		}
		r := f.st.Results[i]
		w, delay := f.startedLater(i)
		if w < 0 || f.otherCourse[i] || uncounted(r) {
			return
		}
		s := suspect(race.WrongWave, race.Look, r.Bib)
		s.Line, s.Split, s.At = f.line(r.Splits[0].Line), r.Splits[0].ID, r.Gun.Add(race.Millis(delay*1000))
		s.Says = fmt.Sprintf("%s is in wave %s and crossed the start %.0f s %s its gun, when wave %s was starting (%.1f s after that gun)",
			r.Bib, f.plan.Waves[r.Wave].ID, math.Abs(delay), beforeOrAfter(delay), f.plan.Waves[w].ID, s.At.Sub(f.plan.Waves[w].Gun).Seconds())
		if late := f.waves[r.Wave].late; delay > 0 && !math.IsNaN(late) {
			s.Says += fmt.Sprintf("; its own wave was over the line after %.0f s", quantile(f.waves[r.Wave].delays, 0.9))
		}
		s.Says += "."
		s.Proposes, s.Others = f.setWave(r.Bib, w), []string{accept(s.ID)}
		if b, ok := f.exchanged[i]; ok {
			s.Others = append([]string{s.Proposes}, s.Others...)
			s.Proposes = swapBibs(r.Bib, f.st.Results[b].Bib)
		}
		s.Evidence = fmt.Sprintf("with %s %s", f.plan.Waves[w].ID, f.mark(i, s.At))
		add(s)
	})
}

func beforeOrAfter(delay float64) string {
	if delay < 0 {
		return "before"
	}
	return "after"
}

// longBefore is when somebody set out with another wave more than the half hour of an early
// start before their own gun: crossed the start in that wave's rush, and was on the course
// before their gun. NoInstant for everybody else.
func (f *field) longBefore(i int) (at race.Instant, wave int) {
	r := f.st.Results[i]
	if len(r.Passings) == 0 || r.Gun.Sub(r.Passings[0].At) <= race.EarlyReach {
		return race.NoInstant, -1
	}
	at = race.NoInstant
	for k := range r.Passings {
		p := &r.Passings[k]
		switch {
		case p.Fate == race.Voided:
		case p.Line != r.Splits[0].Line:
			if !at.Known() || p.At >= r.Gun {
				return race.NoInstant, -1
			}
			if w := f.ranWith(at, r.Wave); w >= 0 && w != r.Wave {
				return at, w
			}
			return race.NoInstant, -1
		case r.Gun.Sub(p.At) > race.EarlyReach:
			at = p.At
		}
	}
	return race.NoInstant, -1
}

// startedInTime tells whether it is known at once that somebody crossed the start with their
// own wave.
func (f *field) startedInTime(i int) bool {
	w := f.wave[i]
	return w < 0 || f.delays[i] <= f.latest(int(w))
}

// latest is how many seconds after its gun a wave is over its start line.
func (f *field) latest(wave int) float64 {
	if late := f.waves[wave].late; !math.IsNaN(late) {
		return late
	}
	return unknownLate
}

// startedLater is the wave that somebody started with after their own, or so long before it
// that it is no early start, and their delay after their own gun in seconds; -1 for none.
func (f *field) startedLater(i int) (wave int, delay float64) {
	r := f.st.Results[i]
	if r.Wave >= 0 && !r.Start.Known() && startSplit(r.Splits) >= 0 && !f.times[i][0].Known() && r.Gun.Known() && !f.doubtful[r.Wave] {
		if at, w := f.longBefore(i); w >= 0 {
			return w, at.Sub(r.Gun).Seconds()
		}
	}
	if r.Wave < 0 || r.Start.Known() || startSplit(r.Splits) < 0 || !f.times[i][0].Known() || !r.Gun.Known() || f.doubtful[r.Wave] {
		return -1, 0
	}
	if clockUnknown(&r.Passings[r.Filled[0]]) {
		return -1, 0
	}
	at := f.times[i][0]
	delay = at.Sub(r.Gun).Seconds()
	if delay <= f.latest(r.Wave) {
		return -1, 0
	}
	w := f.ranWith(at, r.Wave)
	if w < 0 || w == r.Wave || f.plan.Waves[w].Gun <= r.Gun {
		return -1, 0
	}
	return w, delay
}
