package ready

import (
	"fmt"
	"slices"
	"strings"

	"twinmat/ingest/plan"
	"twinmat/reconcile/clock"
	"twinmat/reconcile/race"
)

const (
	// fresh is how lately a file must have been written to count as growing.
	fresh = race.Millis(60_000)
	// badShare of a log's lines is more than a cable's hiccup: something else writes there.
	badShare = 0.05
	// Reads this far outside the race's days are another race's.
	strayDays = race.Millis(36 * 3600_000)
)

// logs tells of each log: is it there, does it grow, can it be read, is it of today.
func (l *look) logs() {
	for line := range l.Plan.Lines {
		var has [race.Systems]bool
		for _, s := range l.Plan.Lines[line].Logs {
			has[l.Plan.Logs[s].System] = true
			l.log(s)
		}
		if !has[race.Main] && len(l.Plan.Lines[line].Logs) > 0 {
			l.say("logs", Odd, "", "line %s has no main: its first log is the one that others are laid on", l.Plan.Lines[line].ID)
		}
	}
	l.copies()
	l.open("logs", race.SilentLog)
}

// name is how a log is called: line and system, and its path where a line has several.
func (l *look) name(source int) string {
	g := &l.Plan.Logs[source]
	n := 0
	for _, s := range l.Plan.Lines[g.Line].Logs {
		if l.Plan.Logs[s].System == g.System {
			n++
		}
	}
	name := l.Plan.Lines[g.Line].ID + " " + g.System.String()
	if n > 1 {
		name += " (" + g.Path + ")"
	}
	return name
}

// inPlan gives a finding the place of a log in race.toml.
func (l *look) inPlan(f *Finding, source int) {
	f.at(plan.TomlFile, l.LogAt[source].Line, l.LogAt[source].Column)
}

func (l *look) log(source int) {
	x, name := l.Reads[source], l.name(source)
	if l.Faults[source] != "" {
		l.inPlan(l.say("logs", Fault, "a file that can be read", "%s: %s", name, l.Faults[source]), source)
		return
	}
	if len(l.Files[source]) == 0 && (x == nil || x.Lines == 0) {
		return // told with the plan's warnings, with the place
	}
	if x == nil || x.Kept == 0 {
		l.empty(source, name)
		return
	}
	first, last := ends(x)
	l.say("logs", Fine, "", "%s: %s of %s, %s to %s; %s", name, race.Counted(x.Kept, "read", "reads"), race.Counted(x.Tags.Len(), "tag", "tags"), l.gun(first), l.gun(last), l.growth(source))
	l.bad(source, name)
	if x.Repeated > 0 {
		l.say("logs", Odd, "", "%s: %s stand in it more than once and count once", name, race.Counted(x.Repeated, "line", "lines"))
	}
	for _, f := range x.Files {
		if f.Gone > 0 {
			l.say("logs", Odd, "who cleared the file? what it held is kept and counts", "%s that once were in it are gone", race.Counted(f.Gone, "line", "lines")).at(f.Path, 0, 0)
		}
	}
	l.strengths(source, name)
	l.days(source, name, first, last)
	l.laptop(source, name, last)
}

// empty tells of a log that is there without a read in it.
func (l *look) empty(source int, name string) {
	path := l.Plan.Logs[source].Path
	if f := l.Files[source]; len(f) > 0 {
		path = f[0].Path
	}
	if x := l.Reads[source]; x != nil && x.BadLines > 0 {
		b := x.Bad[0]
		l.say("logs", Fault, "see: twinmat inspect "+path, "%s: not one of its %s can be read: %s", name, race.Counted(x.BadLines, "line", "lines"), b.Why).
			at(x.Files[b.File].Path, b.Line, b.Column)
		return
	}
	l.say("logs", Wait, "walk a test chip over the line", "%s: no read yet", name).at(path, 0, 0)
}

// growth says when the log was written to.
func (l *look) growth(source int) string {
	latest := race.NoInstant
	for _, f := range l.Files[source] {
		if f.Grew {
			return "growing"
		}
		latest = max(latest, f.Changed)
	}
	switch age := l.Now.Sub(latest); {
	case !latest.Known():
		return "its files are gone, the kept copy is read"
	case age < 0:
		return "written in this laptop's future: one of the clocks is wrong"
	case age <= fresh:
		return fmt.Sprintf("growing: last written %d s ago", age/1000)
	default:
		return "last written " + since(age) + " ago"
	}
}

func since(d race.Millis) string {
	switch {
	case d < 2*3600_000:
		return race.Counted(int(d/60_000), "minute", "minutes")
	case d < 48*3600_000:
		return race.Counted(int(d/3600_000), "hour", "hours")
	}
	return race.Counted(int(d/86400_000), "day", "days")
}

// bad lists the lines that are no reads.
func (l *look) bad(source int, name string) {
	x := l.Reads[source]
	level := Odd
	if float64(x.BadLines) >= badShare*float64(x.Lines) {
		level = Fault
	}
	for i, b := range x.Bad {
		if i == listed {
			break
		}
		l.say("logs", level, "", "%s: %s, in %q", name, b.Why, short(b.Text)).at(x.Files[b.File].Path, b.Line, b.Column)
	}
	if x.BadLines > listed {
		l.say("logs", level, "", "%s: and %d more bad lines of %d", name, x.BadLines-listed, x.Lines)
	}
}

// short is the head of a line: enough to find it by.
func short(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// strengths tells of a way to keep times that needs strengths which the log lacks.
func (l *look) strengths(source int, name string) {
	g := &l.Plan.Logs[source]
	needs := map[race.Keep]bool{l.Plan.Lines[g.Line].Keep: true}
	for c := range l.Plan.Courses {
		for _, s := range l.Plan.Courses[c].Splits {
			if s.Line == g.Line {
				needs[s.Keep] = true
			}
		}
	}
	for _, k := range []race.Keep{race.KeepStrongest, race.KeepCentre} {
		if !needs[k] || g.System == race.Hand {
			continue
		}
		for t := range l.Reads[source].Tags.All() {
			if slices.ContainsFunc(t.Reads, func(r race.Read) bool { return r.RSSI != race.NoRSSI }) {
				return
			}
		}
		l.inPlan(l.say("logs", Fault, "a log with strengths, or keep = \"first\"", "%s: keep is %q and the log gives no strengths: the first read is kept", name, k), source)
	}
}

// days tells of a log left from another race.
func (l *look) days(source int, name string, first, last race.Instant) {
	from, to := race.Of(l.Plan.Date), race.Of(l.Plan.Date.AddDate(0, 0, 1))
	for i := range l.Plan.Waves {
		if g := l.Plan.Waves[i].Gun; g.Known() {
			from, to = min(from, g), max(to, g)
		}
	}
	if last >= from.Add(-strayDays) && first <= to.Add(strayDays) {
		return
	}
	l.inPlan(l.say("logs", Fault, "today's log", "%s: its reads are of %s, the race is on %s", name,
		last.Time(l.Plan.Zone).Format("2006-01-02"), l.Plan.Date.Format("2006-01-02")), source)
}

// laptop compares the last read of a log that is being written with this laptop's clock: a
// reader in another time zone shows before a single chip has passed two lines. A backup's
// hours are its model's to find.
func (l *look) laptop(source int, name string, last race.Instant) {
	growing := slices.ContainsFunc(l.Files[source], func(f File) bool {
		age := l.Now.Sub(f.Changed)
		return f.Grew || age >= 0 && age <= fresh
	})
	if !growing || l.Plan.Logs[source].Offset.Auto {
		return
	}
	ahead := last.Add(-l.Plan.Logs[source].Offset.Fixed).Sub(l.Now)
	const (
		reach   = 2 * 60_000 // a reader sends what it has once a minute or so
		farZone = 14         // hours: no zone is further from UTC
	)
	hours := (max(ahead, -ahead) + 1800_000) / 3600_000
	rest := max(ahead, -ahead) - hours*3600_000
	switch {
	case hours > 0 && hours <= farZone && max(rest, -rest) <= reach:
		l.inPlan(l.say("logs", Fault, "a wrong time zone? set the reader's clock, or timezone or offset in the plan", "%s: its newest read is %s %s this laptop's clock, and the file was written just now",
			name, race.Counted(int(hours), "hour", "hours"), way(ahead)), source)
	case max(ahead, -ahead) > reach && ahead > 0:
		l.say("logs", Odd, "is this laptop's clock right?", "%s: its newest read is %s ahead of this laptop's clock", name, ahead)
	}
}

func way(d race.Millis) string {
	if d < 0 {
		return "behind"
	}
	return "ahead of"
}

// copies tells of two logs that are one: a file saved under a wrong name, or one reader's
// log taken for two.
func (l *look) copies() {
	for a := range l.Plan.Logs {
		for b := a + 1; b < len(l.Plan.Logs); b++ {
			p, q := &l.Plan.Logs[a], &l.Plan.Logs[b]
			if p.Path == q.Path || !same(l.Reads[a], l.Reads[b]) {
				continue
			}
			l.inPlan(l.say("logs", Fault, "each system's own log", "%s and %s hold the same reads: one log under two names", l.name(a), l.name(b)), b)
		}
	}
}

// same tells whether the smaller of two logs is the other's again.
func same(a, b *race.Reads) bool {
	if a != nil && b != nil && a.Kept < b.Kept {
		a, b = b, a
	}
	_, one := race.SameLog(a, b)
	return one
}

// ends are the earliest and the latest read.
func ends(x *race.Reads) (first, last race.Instant) {
	first, last = race.NoInstant, race.NoInstant
	for t := range x.Tags.All() {
		if len(t.Reads) == 0 {
			continue
		}
		if at := t.Reads[0].At; !first.Known() || at < first {
			first = at
		}
		last = max(last, t.Reads[len(t.Reads)-1].At)
	}
	return first, last
}

// named adds what an offset of this size usually is.
func named(offset race.Millis) string {
	if s := clock.Named(offset); s != "" {
		return " (" + strings.TrimSuffix(s, "?") + "?)"
	}
	return ""
}
