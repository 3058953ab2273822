package ready

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/race"
)

// farBehind is further than two systems of one line are laid apart, in metres (common
// practice: a step or two).
const farBehind = 4

// fewVotes are no evidence against a plan.
const fewVotes = 3

// enoughPairs of crossings make a model that needs no second word.
const enoughPairs = 30

// clocks tells which clock each log is on, and how those that are measured stand.
func (l *look) clocks() {
	for line := range l.Plan.Lines {
		logs := l.Plan.Lines[line].Logs
		if len(logs) == 0 {
			continue
		}
		ref := l.Plan.Reference(line)
		l.onRace(ref)
		for _, s := range logs {
			if s != ref {
				l.against(s, ref)
			}
		}
	}
	l.shared()
	l.mains()
	l.walked()
	l.open("clocks", race.ClockStep)
}

func (l *look) onRace(ref int) {
	says := "is the race clock"
	if d := l.Plan.Logs[ref].Offset.Fixed; d != 0 {
		says = fmt.Sprintf("is %s s %s the race clock, as the plan says", unsigned(d).Decimal(), way(d))
	}
	l.say("clocks", Fine, "", "%s %s", l.name(ref), says)
}

func unsigned(d race.Millis) race.Millis { return max(d, -d) }

func millis(s float64) race.Millis { return race.Millis(math.Round(s * 1000)) }

// amount is a length without its sign: seconds, from a minute on as h:mm:ss.
func amount(s float64) string {
	d := unsigned(millis(s))
	if d < 60_000 {
		return d.Decimal() + " s"
	}
	return d.String()
}

func after(s float64) string {
	if s < 0 {
		return "before"
	}
	return "after"
}

func signed(s float64) string { return fmt.Sprintf("%+.3f", s) }

// against tells how a log's clock stands to its line's reference.
func (l *look) against(s, ref int) {
	name := l.name(s)
	mine, other := l.Reads[s], l.Reads[ref]
	if mine == nil || mine.Kept == 0 || other == nil || other.Kept == 0 {
		if l.Plan.Logs[s].Offset.Auto && len(l.Files[s]) > 0 && len(l.Files[ref]) > 0 && l.Faults[s] == "" && l.Faults[ref] == "" {
			l.say("clocks", Wait, "walk a test chip over the line", "%s: not measured yet, for not both logs have reads", name)
		}
		return
	}
	rows := l.stretches(s)
	pairs := 0
	for _, c := range rows {
		pairs += c.Pairs
	}
	switch {
	case same(mine, other): // told with the logs
	case pairs == 0 && !common(mine, other):
		l.inPlan(l.say("clocks", Fault, "are both at this line? or do they write tags in two forms?", "%s shares no tag with %s", name, l.name(ref)), s)
	case pairs == 0 && l.voted(s, ref, name):
	case pairs == 0:
		l.say("clocks", Wait, "walk a test chip over the line again", "%s: no crossing that both surely saw tells its clock", name)
	default:
		for _, c := range rows {
			l.stretch(s, name, c)
		}
	}
}

// voted tells of a fixed offset so far off that no crossing of both came together by it: the
// offset that common tags vote for is another one.
func (l *look) voted(s, ref int, name string) bool {
	if l.Plan.Logs[s].Offset.Auto {
		return false
	}
	var here, there [][]race.Instant
	theirs := map[string][]race.Instant{}
	for t := range l.Reads[s].Tags.All() {
		theirs[t.Tag] = visits(t.Reads)
	}
	for t := range l.Reads[ref].Tags.All() {
		if v := theirs[t.Tag]; v != nil {
			here, there = append(here, visits(t.Reads)), append(there, v)
		}
	}
	v := clock.CoarseVote(here, there)
	level := Fault
	switch {
	case v.Votes == 0:
		return false
	case v.Votes < fewVotes:
		level = Odd // one of the two may have been switched on later
	}
	l.inPlan(l.say("clocks", level, fmt.Sprintf("offset = \"auto\", or \"%ss\"", signed(v.Offset.Seconds())), "%s: the plan has its offset at %s s, and by that nothing fits; %s speak for %s s%s",
		name, signed(l.Plan.Logs[s].Offset.Fixed.Seconds()), race.Counted(v.Votes, "crossing", "crossings"), signed(v.Offset.Seconds()), named(v.Offset)), s)
	return true
}

func (l *look) stretches(source int) []race.ClockStretch {
	var out []race.ClockStretch
	for _, c := range l.st.Clocks {
		if c.Source == source {
			out = append(out, c)
		}
	}
	return out
}

func (l *look) stretch(source int, name string, c race.ClockStretch) {
	offset := millis(c.Offset)
	says := fmt.Sprintf("%s %s", name, strings.TrimRight(c.Says, "; "))
	says += fmt.Sprintf("; ± %.3f s from %s%s", c.PlusMinus, race.Counted(c.Pairs, "crossing", "crossings"), named(offset))
	if c.Pairs < enoughPairs {
		if d, _, n := l.apart(source, c.Offset); n > 0 {
			says += fmt.Sprintf("; its times come %s %s %s's (median of %d)", amount(d), after(d), l.Plan.Logs[l.Plan.Reference(c.Line)].System, n)
		}
	}
	off := l.contradicted(source, c)
	line := &l.Plan.Lines[l.Plan.Logs[source].Line]
	switch {
	case off != 0 && math.Abs(off) <= c.PlusMinus:
		l.inPlan(l.say("clocks", Odd, "walk more test chips over the line", "%s; the crossings say that this is %s s off, which may be distance", says, signed(off)), source)
	case off != 0:
		l.inPlan(l.say("clocks", Fault, "offset = \"auto\", or the right one", "%s; yet the crossings say that this is %s s off", says, signed(off)), source)
	case math.Abs(c.Behind) > farBehind && l.Plan.Logs[source].Behind.Auto:
		l.inPlan(l.say("clocks", Odd, "is it so far? if not, its offset or a distance of the course is wrong", "%s", says), source)
	case named(offset) != "" && !c.Fixed:
		l.say("clocks", Odd, "it is reckoned with; better the clock were set right before the start", "%s", says)
	case c.PlusMinus > line.Tolerance.Seconds():
		l.say("clocks", Odd, "walk more test chips over the line", "%s", says)
	default:
		l.say("clocks", Fine, "", "%s", says)
	}
}

// contradicted is how far a fixed offset lies off what the crossings tell, 0: it doesn't.
// Where distance is fixed too, the crossings' own times are asked: nothing is left to fit.
func (l *look) contradicted(source int, c race.ClockStretch) float64 {
	if !c.Fixed || c.Pairs == 0 {
		return 0
	}
	most := max(0.5, l.Plan.Lines[c.Line].Tolerance.Seconds()/2)
	if b := l.Plan.Logs[source].Behind; !b.Auto {
		const walk = 0.7 // s/m
		if d, _, n := l.apart(source, c.Offset); n > 0 && math.Abs(d-c.Offset) > most+walk*math.Abs(b.Fixed) {
			return d - c.Offset
		}
		return 0
	}
	var off []float64
	for _, p := range l.st.Points[source] {
		if p.At >= c.From && p.At <= c.To {
			off = append(off, p.Residual)
		}
	}
	if len(off) == 0 {
		return 0
	}
	sort.Float64s(off)
	if m := off[len(off)/2]; math.Abs(m) > most {
		return m
	}
	return 0
}

func common(a, b *race.Reads) bool {
	has := make(map[string]bool, a.Tags.Len())
	for t := range a.Tags.All() {
		has[t.Tag] = true
	}
	for t := range b.Tags.All() {
		if has[t.Tag] {
			return true
		}
	}
	return false
}

// shared tells which logs share a clock by name.
func (l *look) shared() {
	by := map[string][]int{}
	var names []string
	for s := range l.Plan.Logs {
		if n := l.Plan.Logs[s].Clock; n != "" {
			if by[n] == nil {
				names = append(names, n)
			}
			by[n] = append(by[n], s)
		}
	}
	for _, n := range names {
		if len(by[n]) == 1 {
			l.inPlan(l.say("clocks", Odd, "a slip in the name?", "clock %s is named by %s alone", n, l.name(by[n][0])), by[n][0])
			continue
		}
		var logs []string
		for _, s := range by[n] {
			logs = append(logs, l.name(s))
		}
		l.say("clocks", Fine, "", "clock %s is shared by %s", n, strings.Join(logs, ", "))
	}
}
