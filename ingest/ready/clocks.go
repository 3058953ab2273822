package ready

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"twinmat/reconcile/race"
)

// clocks tells which clock each log is on, and how those that are measured stand.
func (l *look) clocks() {
	for line := range l.Plan.Lines {
		logs := l.Plan.Lines[line].Logs
		if len(logs) == 0 {
			continue
		}
		ref := l.reference(line)
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

// reference is the log that a line's others are measured against.
func (l *look) reference(line int) int {
	logs := l.Plan.Lines[line].Logs
	for _, s := range logs {
		if l.Plan.Logs[s].System == race.Main {
			return s
		}
	}
	return logs[0]
}

func (l *look) onRace(ref int) {
	says := "is the race clock"
	if d := l.Plan.Logs[ref].Offset.Fixed; d != 0 {
		says = fmt.Sprintf("is %s s %s the race clock, as the plan says", unsigned(d).Decimal(), way(d))
	}
	l.say("clocks", Fine, "", "%s %s", l.name(ref), says)
}

func unsigned(d race.Millis) race.Millis { return max(d, -d) }

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
	case pairs == 0:
		l.say("clocks", Wait, "walk a test chip over the line again", "%s: no crossing that both surely saw tells its clock", name)
	default:
		for _, c := range rows {
			l.stretch(s, name, c)
		}
	}
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
	offset := race.Millis(math.Round(c.Offset * 1000))
	says := fmt.Sprintf("%s %s", name, strings.TrimRight(c.Says, "; "))
	says += fmt.Sprintf("; ± %.3f s from %s%s", c.PlusMinus, count(c.Pairs, "crossing"), named(offset))
	off := l.contradicted(source, c)
	line := &l.Plan.Lines[l.Plan.Logs[source].Line]
	switch {
	case off != 0:
		l.inPlan(l.say("clocks", Fault, "offset = \"auto\", or the right one", "%s; yet the crossings say that this is %s s off", says, signed(off)), source)
	case named(offset) != "" && !c.Fixed:
		l.say("clocks", Odd, "it is reckoned with; better the clock were set right before the start", "%s", says)
	case c.PlusMinus > line.Tolerance.Seconds():
		l.say("clocks", Odd, "walk more test chips over the line", "%s", says)
	default:
		l.say("clocks", Fine, "", "%s", says)
	}
}

// contradicted is how far a fixed offset lies off what the crossings tell, 0: it doesn't.
func (l *look) contradicted(source int, c race.ClockStretch) float64 {
	if !c.Fixed || c.Pairs == 0 {
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
	m := off[len(off)/2]
	if math.Abs(m) <= max(0.5, l.Plan.Lines[c.Line].Tolerance.Seconds()/2) {
		return 0
	}
	return m
}

func common(a, b *race.Reads) bool {
	has := make(map[string]bool, len(a.Tags))
	for _, t := range a.Tags {
		has[t.Tag] = true
	}
	return slices.ContainsFunc(b.Tags, func(t race.TagReads) bool { return has[t.Tag] })
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
