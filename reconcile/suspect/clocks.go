package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// clockStep: a clock jumped during the race; which one is to rule. It holds the fills that
// lie between the last pair before the step and the first after it.
func clockStep(f *field) []race.Suspect {
	var found []race.Suspect
	was := f.kept.acrossStep
	f.kept.acrossStep = map[fillsAt]*kept[string]{}
	for n := range f.in.Steps {
		st := &f.in.Steps[n]
		log := &f.plan.Logs[st.Source]
		s := suspect(race.ClockStep, race.Hold, "")
		at := st.when()
		s.ID = f.stepID(st)
		s.Line, s.At = f.line(st.Line), at
		s.Holds = f.fills(was, f.kept.acrossStep, fillsAt{st.Line, log.System, st.Before, st.After, st.Back}, func(p *race.Passing) bool { return st.across(p, log.System) })
		pairs, fills := race.Counted(st.Pairs, "pair", "pairs"), race.Counted(len(s.Holds), "fill lies", "fills lie")
		s.Says = fmt.Sprintf("Between %s and %s backup's clock at %s went %+.3f s (±%.3f) against main's, over %s on the smaller side; %s across it",
			f.clock(st.Before), f.clock(st.After), f.line(st.Line), st.SizeS, st.PlusMinusS, pairs, fills)
		if log.System == race.Hand {
			s.Says = fmt.Sprintf("Between %s and %s the hand clock at %s went %+.3f s (±%.3f) against main's", f.clock(st.Before), f.clock(st.After), f.line(st.Line), st.SizeS, st.PlusMinusS)
		}
		if st.Back {
			s.Says = fmt.Sprintf("Main's clock at %s was set back by %.3f s (±%.3f) at its %s: it told the times since %s twice, and %s's clock went on, over %s on the smaller side; %s across it",
				f.line(st.Line), st.SizeS, st.PlusMinusS, f.clock(st.Before), f.clock(st.After), log.System, pairs, fills)
		}
		stepped := func(system string) string {
			return fmt.Sprintf("set-clock --line %s --stepped %s", arg(f.line(st.Line)), system)
		}
		main, why := f.whichStepped(n)
		s.Proposes, s.Others = stepped("backup"), []string{stepped("main")}
		if _, right := f.pacesTell(st); right == "after" {
			s.Others[0] += " --right after"
		}
		if main {
			s.Proposes, s.Others[0] = s.Others[0], s.Proposes
		}
		s.Strong = why != ""
		s.Says += why + "."
		s.Others = append(s.Others, accept(s.ID))
		s.Evidence = fmt.Sprintf("%s %+.1f s", f.minute(at), st.SizeS)
		if st.Ruled > 0 {
			s.Settled, s.SettledBy = true, st.Ruled
		}
		found = append(found, s)
	}
	return found
}

// stepID is that of a step's suspect.
func (f *field) stepID(st *ClockStep) string {
	return fmt.Sprintf("%s:%s/%s@%s", race.ClockStep, f.line(st.Line), f.plan.Logs[st.Source].System, f.minute(st.when()))
}

// when is about when a clock stepped, on the race clock.
func (st *ClockStep) when() race.Instant {
	if st.Back {
		return st.Before
	}
	return st.Before + (st.After-st.Before)/2
}

// across tells whether a fill lies between the last pair before a step and the first after it, or
// may be from either side.
func (st *ClockStep) across(p *race.Passing, system race.System) bool {
	return p.Unsure(system) != "" || !st.Back && p.At > st.Before && p.At < st.After
}

// minute is the time of day to the minute, as ids have it.
func (f *field) minute(t race.Instant) string { return t.Time(f.plan.Zone).Format("15:04") }

// whichStepped tells whether a step was main's: where another log that shares this one's
// clock stepped by as much at the same time, it was this one's; where another log measured
// against a main on the same clock stepped, it was main's; else what paces and logs that went on there
// tell. why is "" where nothing does.
func (f *field) whichStepped(n int) (main bool, why string) {
	st := &f.in.Steps[n]
	mine, ref := f.plan.Logs[st.Source].Clock, f.refClock(st.Line)
	for m := range f.in.Steps {
		o := &f.in.Steps[m]
		if m == n || o.After < st.Before || o.Before > st.After || math.Abs(o.SizeS-st.SizeS) > 3*(o.PlusMinusS+st.PlusMinusS) {
			continue
		}
		switch {
		case mine != "" && f.plan.Logs[o.Source].Clock == mine:
			return false, fmt.Sprintf("; clock %s stepped so at %s too", mine, f.line(o.Line))
		case o.Line == st.Line || ref != "" && f.refClock(o.Line) == ref:
			return true, fmt.Sprintf("; main stepped so against %s at %s too", f.plan.Logs[o.Source].System, f.line(o.Line))
		}
	}
	if st.Back {
		return true, "; nothing else mixes up their order so"
	}
	if main, right := f.pacesTell(st); main {
		return true, byPaces(right)
	}
	if main, why := st.orderTells(f.plan.Logs[st.Source].System); why != "" && st.Ruled == 0 {
		return main, why
	}
	if st.On {
		return true, fmt.Sprintf("; by main's clock nobody came then for far longer than ever, by %s's they came as always", f.plan.Logs[st.Source].System)
	}
	switch st.Told {
	case "main":
		return true, "; what other logs show of the two clocks says that it was main's"
	case "other":
		return false, fmt.Sprintf("; what other logs show of the two clocks says that it was %s's", f.plan.Logs[st.Source].System)
	}
	return st.Main, ""
}

// longGap is how many times as long as from crossing to crossing tells a clock that was set:
// nobody comes for so long in one case of a thousand.
const longGap = 7.0

// orderTells tells whose step it was by those who crossed beside it: one clock goes on from
// crossing to crossing as before, the other one stands still for as long as the step, or mixes up
// who came first.
func (st *ClockStep) orderTells(other race.System) (main bool, why string) {
	if !(st.EveryS > 0) {
		return false, ""
	}
	byMain := st.After.Sub(st.Before).Seconds()
	byOther := byMain + st.SizeS
	long, short, whose := byOther, byMain, other.String()
	if byMain > byOther {
		long, short, whose = byMain, byOther, "main"
	}
	switch {
	case byOther < -longGap*st.EveryS:
		return false, fmt.Sprintf("; by %s's clock who crossed after it came before who crossed ahead of it", other)
	case short < -st.EveryS || short > long/longGap || long < short+float64(longGap*st.EveryS):
		return false, ""
	}
	return whose == "main", fmt.Sprintf("; people came every %.0f s or so, and by %s's clock nobody for %.0f s", max(st.EveryS, 1), whose, long)
}

// refClock names the clock of a line's main.
func (f *field) refClock(line int) string {
	for _, s := range f.plan.Lines[line].Logs {
		if f.plan.Logs[s].System == race.Main {
			return f.plan.Logs[s].Clock
		}
	}
	return ""
}

// fillsAt are a system's times at a line, from before a step to after it; back: those of which it
// isn't known on which side of one that was set back they are.
type fillsAt struct {
	line          int
	system        race.System
	before, after race.Instant
	back          bool
}

// fills are the bibs with a time at a line that is a system's fill, of those that are asked for; was
// is what the search before kept of them, now what this one does.
func (f *field) fills(was, now map[fillsAt]*kept[string], at fillsAt, asked func(*race.Passing) bool) []string {
	x := was[at]
	if x == nil {
		x = &kept[string]{}
	}
	now[at] = x
	return append([]string(nil), x.again(f, false, f.news.changed, func(i int, add func(string)) {
		r := f.st.Results[i]
		if uncounted(r) {
			return
		}
		for _, n := range r.Filled {
			if n < 0 {
				continue
			}
			p := &r.Passings[n]
			if p.Line == at.line && p.From == race.FromSystem(at.system) && p.Ruling == 0 && asked(p) {
				add(r.Bib)
				return
			}
		}
	})...)
}

// clockUnsure: too few pairs to trust a line's offset. It holds the fills there; where
// nothing rests on it there is nothing to look at.
func clockUnsure(f *field) []race.Suspect {
	var found []race.Suspect
	was := f.kept.unsure
	f.kept.unsure = map[fillsAt]*kept[string]{}
	for n := range f.in.Unsure {
		u := &f.in.Unsure[n]
		system := f.plan.Logs[u.Source].System
		holds := f.fills(was, f.kept.unsure, fillsAt{line: u.Line, system: system}, func(*race.Passing) bool { return true })
		if len(holds) == 0 {
			continue
		}
		s := suspect(race.ClockUnsure, race.Hold, "")
		s.ID = fmt.Sprintf("%s:%s/%s", race.ClockUnsure, f.line(u.Line), system)
		if slices.ContainsFunc(found, func(o race.Suspect) bool { return o.ID == s.ID }) {
			continue
		}
		s.Line, s.Holds = f.line(u.Line), holds
		rest := "rest"
		if len(holds) == 1 {
			rest = "rests"
		}
		s.Says = fmt.Sprintf("%s at %s %s on %s's clock, which %s: %s.", race.Counted(len(holds), "time", "times"), f.line(u.Line), rest, system, race.Counted(u.Pairs, "pair tells", "pairs tell"), u.Why)
		if !math.IsNaN(u.OffsetS) {
			s.Proposes = fmt.Sprintf("set-clock --line %s --system %s --offset %+.3f", arg(f.line(u.Line)), system, u.OffsetS)
			s.Others = []string{accept(s.ID)}
		} else {
			s.Proposes = accept(s.ID)
		}
		if s.Evidence = u.Set; u.Set == "" {
			s.Evidence = fmt.Sprintf("%d pairs", u.Pairs)
		}
		found = append(found, s)
	}
	return append(found, f.toldTwice(was)...)
}

// toldTwice: a ruling says that main was set and its times stand, and of some of them nothing tells whether
// they are from before or from after. was is whom each clock was found to hold before.
func (f *field) toldTwice(was map[fillsAt]*kept[string]) (found []race.Suspect) {
	for l := range f.plan.Lines {
		if !slices.ContainsFunc(f.in.Steps, func(st ClockStep) bool { return st.Line == l && st.Main && st.Ruled > 0 }) {
			continue // its main's times stand as they are
		}
		holds := f.fills(was, f.kept.unsure, fillsAt{line: l, system: race.Main, back: true}, func(p *race.Passing) bool { return p.Unsure(race.Main) != "" })
		if len(holds) == 0 {
			continue
		}
		s := suspect(race.ClockUnsure, race.Hold, "")
		s.ID = fmt.Sprintf("%s:%s/%s", race.ClockUnsure, f.line(l), race.Main)
		s.Line, s.Holds = f.line(l), holds
		s.Says = fmt.Sprintf("%d times at %s may be from before main's clock was set or from after: it told them twice, and no other system tells which, or they were crossing just then.", len(holds), f.line(l))
		s.Proposes = accept(s.ID)
		s.Evidence = fmt.Sprintf("%d times", len(holds))
		found = append(found, s)
	}
	return found
}

// twinLogs: a log that is its line's main again tells nothing of its own, and was left out.
func twinLogs(f *field) []race.Suspect {
	var found []race.Suspect
	for _, t := range f.in.TwinLogs {
		log := &f.plan.Logs[t.Source]
		s := suspect(race.SilentLog, race.Look, "")
		at := race.NoInstant
		for i := range f.st.Results {
			for k := range f.st.Results[i].Passings {
				if p := &f.st.Results[i].Passings[k]; p.Line == t.Line && (!at.Known() || p.At < at) {
					at = p.At
				}
			}
		}
		s.ID = fmt.Sprintf("%s:%s/%s@%s", race.SilentLog, f.line(t.Line), log.System, f.minute(max(at, 0)))
		s.Line, s.At = f.line(t.Line), at
		s.Says = fmt.Sprintf("%s's log at %s (%s) is main's own again: %d of its %d reads stand in main's too. It is left out, and main has no backup there.", title(log.System.String()), f.line(t.Line), log.Path, t.Equal, t.Reads)
		s.Proposes = accept(s.ID)
		s.Evidence = "the same log"
		found = append(found, s)
	}
	return found
}

func title(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
