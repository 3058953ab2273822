package ruling

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// Check says why a ruling can't apply, nil if it can. st may be nil: then only plan, lists
// and rulings tell.
func Check(r *race.Ruling, p *race.Plan, athletes []race.Athlete, rs []race.Ruling, st *race.State) error {
	k := kindOf(r.Rule)
	if k == nil {
		return fmt.Errorf("%q is no kind of ruling; want one of %s", r.Rule, strings.Join(race.Kinds, ", "))
	}
	if strings.TrimSpace(r.Why) == "" {
		return fmt.Errorf("a ruling needs its reason: --why TEXT")
	}
	for _, f := range k.flags {
		if f.must && f.field != nil && *f.field(r) == "" || f.second != nil && len(*f.second(r)) == 0 && r.Tag == "" {
			return fmt.Errorf("%s lacks --%s %s", k.name, f.name, f.want)
		}
	}
	c := checker{r, p, Fold(p, athletes, nil, rs), rs, st}
	for _, check := range []func() error{c.places, c.bibs, c.moments, c.kind} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

type checker struct {
	r  *race.Ruling
	p  *race.Plan
	fx *Effects
	rs []race.Ruling
	st *race.State
}

// places checks line, wave, course and system against the plan.
func (c *checker) places() error {
	r, p := c.r, c.p
	if r.Line != "" && p.LineIndex(r.Line) < 0 {
		return fmt.Errorf("the plan has no line %q", r.Line)
	}
	if r.Wave != "" && p.WaveIndex(r.Wave) < 0 {
		return fmt.Errorf("the plan has no wave %q", r.Wave)
	}
	if r.Course != "" && p.CourseIndex(r.Course) < 0 {
		return fmt.Errorf("the plan has no course %q", r.Course)
	}
	if r.System != "" {
		sys, ok := system(r.System)
		if !ok {
			return fmt.Errorf("%q is no system; want main, backup or hand", r.System)
		}
		if r.Line != "" && !hasSystem(p, p.LineIndex(r.Line), sys) {
			return fmt.Errorf("line %s has no %s", r.Line, r.System)
		}
	}
	return nil
}

func hasSystem(p *race.Plan, line int, sys race.System) bool {
	for _, s := range p.Lines[line].Logs {
		if p.Logs[s].System == sys {
			return true
		}
	}
	return false
}

// bibs checks that whom it is about is known.
func (c *checker) bibs() error {
	if c.r.Rule == race.AddAthlete {
		return nil
	}
	for _, bib := range []string{c.r.Bib, c.r.With} {
		if bib != "" && c.athlete(bib) == nil && !c.seen(bib) {
			return fmt.Errorf("no list has bib %s; add-athlete puts somebody there", bib)
		}
	}
	return nil
}

func (c *checker) athlete(bib string) *race.Athlete {
	for i := range c.fx.Athletes {
		if c.fx.Athletes[i].Bib == bib {
			return &c.fx.Athletes[i]
		}
	}
	return nil
}

// seen tells whether a bib that no list has was read: chips.csv knows it.
func (c *checker) seen(bib string) bool {
	if c.st == nil {
		return false
	}
	_, ok := c.st.ByBib[bib]
	return ok
}

func (c *checker) moments() error {
	for _, s := range []string{c.r.Time, c.r.From, c.r.To} {
		if s != "" && !instant(s).Known() {
			return fmt.Errorf("%q is no moment", s)
		}
	}
	if f, t := instant(c.r.From), instant(c.r.To); f.Known() && t.Known() && t < f {
		return fmt.Errorf("--to %s comes before --from %s", c.r.To, c.r.From)
	}
	return nil
}

// kind checks what only one kind can get wrong.
func (c *checker) kind() error {
	r := c.r
	switch r.Rule {
	case race.SwapBibs:
		if r.Bib == r.With {
			return fmt.Errorf("a bib can't be swapped with itself")
		}
	case race.SetStatus:
		switch r.Status {
		case "dns", "dnf", "dsq", "none":
		default:
			return fmt.Errorf("%q is no status; want dns, dnf, dsq or none", r.Status)
		}
	case race.AddAthlete:
		if c.athlete(r.Bib) != nil {
			return fmt.Errorf("bib %s is listed already", r.Bib)
		}
	case race.SetTime, race.UseSystem:
		return c.split()
	case race.VoidPassing:
		return c.passing()
	case race.SetClock:
		return c.clock()
	case race.Accept:
		return c.accept()
	case race.Undo:
		return c.undo()
	}
	return nil
}

// split checks that the bib's course has the split, and the system a time there.
func (c *checker) split() error {
	a := c.athlete(c.r.Bib)
	if a == nil || a.Wave < 0 {
		return fmt.Errorf("bib %s is on no course; add-athlete or set-wave comes first", c.r.Bib)
	}
	k := &c.p.Courses[c.p.Waves[a.Wave].Course]
	found := k.Open && strings.HasPrefix(c.r.Split, lapStem(k)+"-")
	for i := range k.Splits {
		found = found || k.Splits[i].ID == c.r.Split
	}
	if !found {
		return fmt.Errorf("course %s, bib %s's, has no split %q", k.ID, c.r.Bib, c.r.Split)
	}
	if c.r.Rule != race.UseSystem || c.st == nil {
		return nil
	}
	sys, _ := system(c.r.System)
	i, ok := c.st.ByBib[c.r.Bib]
	if !ok {
		return nil
	}
	x := &c.st.Results[i]
	for s := range x.Splits {
		if x.Splits[s].ID == c.r.Split && x.Filled[s] >= 0 && x.Passings[x.Filled[s]].Seen[sys].Known() {
			return nil
		}
	}
	return fmt.Errorf("%s has no time of bib %s at %s", c.r.System, c.r.Bib, c.r.Split)
}

// lapStem is what the ids of a course's laps begin with.
func lapStem(k *race.Course) string {
	for i := range k.Splits {
		if k.Splits[i].Lap > 0 {
			stem, _, _ := strings.Cut(k.Splits[i].ID, "-"+fmt.Sprint(k.Splits[i].Lap))
			return stem
		}
	}
	return ""
}

func (c *checker) passing() error {
	if c.st == nil {
		return nil
	}
	i, ok := c.st.ByBib[c.r.Bib]
	if !ok {
		return nil
	}
	line, at := c.p.LineIndex(c.r.Line), instant(c.r.Time)
	reach := c.p.Lines[line].Window
	for k := range c.st.Results[i].Passings {
		q := &c.st.Results[i].Passings[k]
		if d := q.At.Sub(at); q.Line == line && q.Fate != race.Voided && d <= reach && d >= -reach {
			return nil
		}
	}
	return fmt.Errorf("bib %s has no passing at %s within %s s of %s", c.r.Bib, c.r.Line, reach.Decimal(), c.r.Time)
}

func (c *checker) clock() error {
	r := c.r
	switch {
	case (r.Offset == "") == (r.Stepped == ""):
		return fmt.Errorf("set-clock takes --system and --offset, or --stepped")
	case r.Offset != "" && r.System == "":
		return fmt.Errorf("set-clock --offset lacks --system")
	case r.Stepped != "" && r.Stepped != "main" && r.Stepped != "backup":
		return fmt.Errorf("--stepped %q: want main or backup", r.Stepped)
	case r.Right != "" && r.Right != "before" && r.Right != "after":
		return fmt.Errorf("--right %q: want before or after", r.Right)
	case r.Right != "" && r.Stepped == "", r.From != "" && r.Stepped != "":
		return fmt.Errorf("--right goes with --stepped, --from with --offset")
	}
	if r.Stepped != "" && c.st != nil {
		for i := range c.st.Suspects {
			if s := &c.st.Suspects[i]; s.Kind == race.ClockStep && s.Line == r.Line {
				return nil
			}
		}
		return fmt.Errorf("no clock stepped at %s, as far as its reads tell", r.Line)
	}
	return nil
}

func (c *checker) accept() error {
	if c.st == nil {
		return nil
	}
	for i := range c.st.Suspects {
		if s := &c.st.Suspects[i]; s.ID == c.r.Suspect {
			if s.Settled {
				return fmt.Errorf("%s is settled already, by ruling %d", s.ID, s.SettledBy)
			}
			return nil
		}
	}
	return fmt.Errorf("there is no suspect %q", c.r.Suspect)
}

func (c *checker) undo() error {
	undone := Undone(c.rs)
	for i := range c.rs {
		if c.rs[i].Seq != c.r.UndoneSeq {
			continue
		}
		if by, ok := undone[c.r.UndoneSeq]; ok {
			return fmt.Errorf("ruling %d is taken back already, by ruling %d", c.r.UndoneSeq, by)
		}
		return nil
	}
	return fmt.Errorf("there is no ruling %d", c.r.UndoneSeq)
}
