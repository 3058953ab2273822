package ready

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"twinmat/ingest/plan"
	"twinmat/reconcile/race"
)

// plan tells of race.toml.
func (l *look) plan() {
	p := l.Plan
	l.say("plan", Fine, "", "%s, %s, %s, %s", race.Counted(len(p.Lines), "line", "lines"), race.Counted(len(p.Logs), "log", "logs"), race.Counted(len(p.Courses), "course", "courses"), race.Counted(len(p.Waves), "wave", "waves"))
	for i := range p.Courses {
		l.course(&p.Courses[i])
	}
}

// reading passes on what reading the folder's files found.
func (l *look) reading() {
	for _, p := range l.Problems {
		part, level := "plan", Fault
		switch {
		case p.File == plan.AthletesFile:
			part = "lists"
		case p.File == plan.ChipsFile:
			part = "chips"
		}
		switch {
		case p.Later:
			part, level = "logs", Wait
		case p.Mild:
			level = Odd
		}
		do := ""
		if p.Want != "" {
			do = "want " + p.Want
		}
		l.say(part, level, do, "%s", p.What).at(p.File, p.Line, p.Column)
	}
}

func (l *look) course(c *race.Course) {
	var marks []string
	for i := range c.Splits {
		s := &c.Splits[i]
		if len(c.Splits) > 8 && i >= 3 && i < len(c.Splits)-1 {
			if i == 3 {
				marks = append(marks, "…")
			}
			continue
		}
		marks = append(marks, fmt.Sprintf("%s at %s", s.ID, metres(s.At)))
	}
	how := "the finish ends it"
	switch {
	case c.TimeLimit > 0:
		how = "as many laps as come in " + c.TimeLimit.String()
	case c.Open:
		how = "as many laps as come"
	}
	l.say("plan", Fine, "", "course %s, %s: %s; %s", c.ID, c.Sport, strings.Join(marks, ", "), how)
}

func metres(m float64) string {
	if m >= 1000 {
		return strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", m/1000), "0"), ".") + " km"
	}
	return fmt.Sprintf("%g m", m)
}

// lists counts the athletes.
func (l *look) lists() {
	out := map[string]int{}
	for i := range l.Athletes {
		out[l.Athletes[i].Status]++
	}
	says := race.Counted(len(l.Athletes), "athlete", "athletes") + " listed"
	for _, s := range race.Statuses {
		if out[s] > 0 {
			says += fmt.Sprintf(", %d of them %s", out[s], s)
		}
	}
	l.say("lists", Fine, "", "%s", says)
}

// chips lays chips against athletes, and the tags of the logs against both.
func (l *look) chips() {
	worn := map[string]int{}
	tags := map[string]bool{}
	for _, c := range l.Chips {
		worn[c.Bib]++
		tags[c.Tag] = true
	}
	several := 0
	for _, n := range worn {
		if n > 1 {
			several++
		}
	}
	says := fmt.Sprintf("%s on %s", race.Counted(len(tags), "chip", "chips"), race.Counted(len(worn), "bib", "bibs"))
	if several > 0 {
		says += fmt.Sprintf(", %d with more than one", several)
	}
	if l.ZerosDropped {
		says += "; none begins with 0, so zeros before a log's tags don't count"
	}
	l.say("chips", Fine, "", "%s", says)
	if !l.alike(tags) {
		l.strays()
	}
	l.unlisted()
}

// alike tells of a list of chips that writes its tags in another form than the logs do:
// then every one is a stray, and one finding is enough.
func (l *look) alike(tags map[string]bool) (told bool) {
	if len(tags) == 0 || len(l.st.Strays) == 0 {
		return false
	}
	list := make([]string, 0, len(tags))
	for t := range tags {
		list = append(list, t)
	}
	slices.Sort(list)
	const enough = 6 // characters: two codes as long as this don't end alike by chance
	ends := map[string]string{}
	for _, t := range list {
		if len(t) >= enough {
			ends[t[len(t)-enough:]] = t
		}
	}
	for i := range l.st.Strays {
		s := &l.st.Strays[i]
		if len(s.Tag) < enough {
			continue
		}
		c, ok := ends[s.Tag[len(s.Tag)-enough:]]
		if !ok || len(c) == len(s.Tag) || !strings.HasSuffix(s.Tag, c) && !strings.HasSuffix(c, s.Tag) {
			continue
		}
		file, line := l.firstRead(s.Passings)
		l.say("chips", Fault, "bring both to one form", "the logs write a chip as %q and chips.csv as %q: %s nobody owns", s.Tag, c, tagsThat(len(l.st.Strays))).at(file, line, 0)
		return true
	}
	return false
}

func tagsThat(n int) string {
	if n == 1 {
		return "1 tag that"
	}
	return fmt.Sprintf("%d tags that", n)
}

// strays tells of tags that nobody owns. Before the first gun they are most likely test
// chips.
func (l *look) strays() {
	gun := l.firstGun()
	list := make([]*race.StrayTag, 0, len(l.st.Strays))
	for i := range l.st.Strays {
		if s := &l.st.Strays[i]; !s.Ignored {
			list = append(list, s)
		}
	}
	late := func(s *race.StrayTag) bool { return gun.Known() && s.Last >= gun }
	slices.SortStableFunc(list, func(a, b *race.StrayTag) int {
		switch {
		case late(a) == late(b):
			return cmp.Or(cmp.Compare(a.First, b.First), cmp.Compare(a.Tag, b.Tag))
		case late(a):
			return -1
		}
		return 1
	})
	for i, s := range list {
		level, do := Odd, fmt.Sprintf("a test chip? then: twinmat rule %s ignore-chip --tag %s --why \"test chip\"", race.Arg(l.Dir), race.Arg(s.Tag))
		if late(s) {
			level, do = Fault, fmt.Sprintf("whose is it? a row in chips.csv, or: twinmat rule %s assign-chip --tag %s --bib … --why …", race.Arg(l.Dir), race.Arg(s.Tag))
		}
		if i == listed {
			l.say("chips", level, "", "and %d more tags that chips.csv gives to no one", len(list)-i)
			return
		}
		file, line := l.firstRead(s.Passings)
		l.say("chips", level, do, "chips.csv gives tag %s to no one; it was read %s at %s from %s to %s", s.Tag, times(s.Reads), l.lineNames(s.Lines),
			s.First.Clock(l.Plan.Zone), s.Last.Clock(l.Plan.Zone)).at(file, line, 0)
	}
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func (l *look) lineNames(lines []int) string {
	var out []string
	for _, i := range lines {
		out = append(out, l.Plan.Lines[i].ID)
	}
	return strings.Join(out, ", ")
}

// unlisted tells of bibs that were seen and that no list has.
func (l *look) unlisted() {
	n := 0
	for i := range l.st.Results {
		r := l.st.Results[i]
		if r.Listed || len(r.Passings) == 0 {
			continue
		}
		if n++; n > listed {
			continue
		}
		file, line := l.firstRead(r.Passings)
		l.say("chips", Fault, "a row in athletes.csv", "bib %s was read, and athletes.csv doesn't list it", r.Bib).at(file, line, 0)
	}
	if n > listed {
		l.say("chips", Fault, "", "and %d more bibs that athletes.csv doesn't list", n-listed)
	}
}

// firstRead is where the earliest read of a tag or bib stands.
func (l *look) firstRead(ps []race.Passing) (file string, line int) {
	best := race.NoInstant
	for k := range ps {
		for _, b := range ps[k].Bursts {
			if b == nil || b.Source < 0 || best.Known() && ps[k].At >= best {
				continue
			}
			x := l.Reads[b.Source]
			reads := b.Reads(x)
			if len(reads) == 0 {
				continue
			}
			if first := reads[0]; int(first.File) < len(x.Files) {
				best, file, line = ps[k].At, x.Files[first.File].Path, int(first.Line)
			}
		}
	}
	return file, line
}

func (l *look) firstGun() race.Instant {
	first := race.NoInstant
	for _, w := range l.Plan.Waves {
		if w.Gun.Known() && (!first.Known() || w.Gun < first) {
			first = w.Gun
		}
	}
	return first
}
