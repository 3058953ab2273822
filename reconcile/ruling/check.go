package ruling

import (
	"errors"
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// maxText is as long as a reason or a name may be, in bytes.
const maxText = 4000

// Check says why a ruling can't apply, nil if it can. st is the race as it stands; it may be
// nil: then only plan, lists and rulings tell (see NeedsState).
func Check(r *race.Ruling, p *race.Plan, athletes []race.Athlete, rs []race.Ruling, st *race.State) error {
	if strings.TrimSpace(r.Why) == "" {
		return errors.New("a ruling needs its reason: --why TEXT")
	}
	return Applies(r, p, athletes, rs, st)
}

// Applies is Check for a ruling whose reason isn't written yet.
func Applies(r *race.Ruling, p *race.Plan, athletes []race.Athlete, rs []race.Ruling, st *race.State) error {
	k := kindOf(r.Rule)
	if k == nil {
		return fmt.Errorf("there is no kind of ruling %s; want one of %s", race.Quote(r.Rule), strings.Join(race.RulingKinds, ", "))
	}
	if len(r.Why) > maxText {
		return fmt.Errorf("the reason has %d bytes; want at most %d", len(r.Why), maxText)
	}
	if err := k.fits(r, p); err != nil {
		return err
	}
	c := checker{r, p, Fold(p, athletes, nil, rs), rs, st}
	for _, check := range []func() error{c.places, c.bibs, c.span, func() error { return Call(r) }, c.kind} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// NeedsState tells whether a ruling is better checked against the race as it stands: kinds
// that speak of suspects, passings or laps, and bibs that no list has but the reads may.
func NeedsState(r *race.Ruling, athletes []race.Athlete, rs []race.Ruling) bool {
	switch r.Rule {
	case race.Accept, race.UseSystem, race.VoidPassing, race.SetClock, race.SetTime: // a time keeps what it was ruled against
		return true
	case race.SetStatus: // so does a status, for logs that come later
		return r.Status != race.NoStatus
	case race.AddAthlete, race.Undo:
		return false
	case race.AdjustTime: // less than the time that stands
		if by, err := Length(r.Shift); err == nil && by < 0 {
			return true
		}
	}
	for _, bib := range []string{r.Bib, r.With} {
		if bib != "" && !listed(bib, athletes, rs) {
			return true
		}
	}
	return false
}

func listed(bib string, athletes []race.Athlete, rs []race.Ruling) bool {
	for i := range athletes {
		if athletes[i].Bib == bib {
			return true
		}
	}
	for i := range rs {
		if rs[i].Rule == race.AddAthlete && rs[i].Bib == bib {
			return true
		}
	}
	return false
}

// fits checks that a ruling has what its kind needs, in a form that can be read, and nothing
// of another kind.
func (k *kind) fits(r *race.Ruling, p *race.Plan) error {
	own := map[*string]bool{}
	for _, f := range k.flags {
		if f.field != nil {
			own[f.field(r)] = true
		}
		v := f.value(r)
		if v == "" && f.must {
			return fmt.Errorf("%s lacks --%s %s", k.name, f.name, f.want)
		}
		if v == "" {
			continue
		}
		if len(v) > maxText {
			return fmt.Errorf("--%s has %d bytes; want at most %d", f.name, len(v), maxText)
		}
		var err error
		switch f.form {
		case moment:
			_, err = Moment(p, v)
		case length:
			_, err = Length(v)
		}
		if err != nil {
			return fmt.Errorf("--%s: %w", f.name, err)
		}
	}
	for _, other := range kinds {
		for _, f := range other.flags {
			switch {
			case f.field != nil && *f.field(r) != "" && !own[f.field(r)] && !(k.name == race.IgnoreChip && f.name == "tag"),
				f.second != nil && len(*f.second(r)) > 0 && k.name != other.name,
				f.number != nil && *f.number(r) != 0 && k.name != other.name:
				return fmt.Errorf("%s takes no --%s; it takes %s", k.name, f.name, k.flagNames())
			}
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
		return errors.New(noLine(r.Line) + "; it has " + ids(len(p.Lines), func(i int) string { return p.Lines[i].ID }))
	}
	if r.Wave != "" && p.WaveIndex(r.Wave) < 0 {
		return errors.New(noWave(r.Wave) + "; it has " + ids(len(p.Waves), func(i int) string { return p.Waves[i].ID }))
	}
	if r.Course != "" && p.CourseIndex(r.Course) < 0 {
		return errors.New(noCourse(r.Course) + "; it has " + ids(len(p.Courses), func(i int) string { return p.Courses[i].ID }))
	}
	if r.System == "" {
		return nil
	}
	sys, ok := race.SystemOf(r.System)
	if !ok {
		return errors.New(noSystem(r.System))
	}
	if r.Line != "" && !hasSystem(p, p.LineIndex(r.Line), sys) {
		return fmt.Errorf("line %s has no %s", r.Line, r.System)
	}
	return nil
}

// ids lists what a plan has, as far as a line holds it.
func ids(n int, id func(int) string) string {
	var out []string
	for i := range n {
		if i == 20 {
			return strings.Join(out, ", ") + fmt.Sprintf(" and %d more", n-i)
		}
		out = append(out, id(i))
	}
	return strings.Join(out, ", ")
}

func hasSystem(p *race.Plan, line int, sys race.System) bool {
	for _, s := range p.Lines[line].Logs {
		if p.Logs[s].System == sys {
			return true
		}
	}
	return false
}

// bibs checks that whom it is about is known. A bib that no list has may be in the reads, for
// chips.csv knows its chip: then everything but its wave can be ruled.
func (c *checker) bibs() error {
	r := c.r
	if r.Rule == race.AddAthlete {
		if a := c.athlete(r.Bib); a != nil {
			return fmt.Errorf("bib %s is listed already%s", r.Bib, called(a))
		}
		return nil
	}
	for _, bib := range []string{r.Bib, r.With} {
		if bib != "" && c.athlete(bib) == nil && (r.Rule == race.SetWave || !c.seen(bib)) {
			return errors.New(noBib(bib))
		}
	}
	return nil
}

func called(a *race.Athlete) string {
	if a.Name == "" {
		return ""
	}
	return ": " + a.Name
}

func (c *checker) athlete(bib string) *race.Athlete {
	for i := range c.fx.Athletes {
		if c.fx.Athletes[i].Bib == bib {
			return &c.fx.Athletes[i]
		}
	}
	return nil
}

// seen tells whether a bib that no list has was given a chip by a ruling, or was read.
func (c *checker) seen(bib string) bool {
	for i := range c.fx.Chips {
		if c.fx.Chips[i].Bib == bib {
			return true
		}
	}
	return c.result(bib) != nil
}

// result is what the state holds of a bib, nil for nothing.
func (c *checker) result(bib string) *race.Result {
	if c.st == nil {
		return nil
	}
	i, ok := c.st.ByBib[bib]
	if !ok {
		return nil
	}
	return c.st.Results[i]
}

func (c *checker) span() error {
	from, to := c.r.From, c.r.To
	if from == "" || to == "" {
		return nil
	}
	f, err := Moment(c.p, from)
	t, other := Moment(c.p, to)
	if err = errors.Join(err, other); err != nil {
		return err
	}
	if t < f {
		return fmt.Errorf("--to %s comes before --from %s", to, from)
	}
	return nil
}

// kind checks what only one kind can get wrong.
func (c *checker) kind() error {
	r := c.r
	switch r.Rule {
	case race.AssignChip, race.IgnoreChip:
		for _, t := range tags(r) {
			if race.CanonicalTag(t) == "" {
				return fmt.Errorf("%s is no tag", race.Quote(t))
			}
		}
	case race.AdjustTime:
		return c.adjust()
	case race.CloseCourse:
		if seq, ok := c.fx.Closed[c.p.CourseIndex(r.Course)]; ok {
			return fmt.Errorf("course %s is closed already, by ruling %d", r.Course, seq)
		}
	case race.SwapBibs:
		return c.swap()
	case race.SetWave:
		if a := c.athlete(r.Bib); a != nil && a.Wave == c.p.WaveIndex(r.Wave) {
			return fmt.Errorf("bib %s is in wave %s already", r.Bib, r.Wave)
		}
	case race.SetTime:
		if d, err := Length(r.PlusMinus); err == nil && d < 0 {
			return fmt.Errorf("--plus-minus %s is below 0", r.PlusMinus)
		}
		return c.split()
	case race.UseSystem:
		if err := c.split(); err != nil {
			return err
		}
		return c.systemSaw()
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

// adjust refuses what leaves nobody a time: less than none, or none.
func (c *checker) adjust() error {
	by, err := Length(c.r.Shift)
	if err != nil || by == 0 {
		return errors.New("--by 0 adjusts nothing")
	}
	x := c.result(c.r.Bib)
	if x == nil || x.Finish < 0 || x.Course < 0 {
		return nil
	}
	if t := c.st.Plan.Courses[x.Course].FinishOf(x, 0).Time; t.Known() && t+by <= 0 {
		return fmt.Errorf("bib %s's time is %s as it stands; %s by %s leaves %s", c.r.Bib, t, race.AdjustTime, by, t+by)
	}
	return nil
}

// swap refuses the same swap right after itself: who presses a key twice does not mean to
// put things back.
func (c *checker) swap() error {
	a, b := c.r.Bib, c.r.With
	if a == b {
		return errors.New("a bib can't be swapped with itself")
	}
	for i := len(c.rs) - 1; i >= 0; i-- {
		x := &c.rs[i]
		if _, undone := c.fx.Undone[x.Seq]; undone || x.Rule != race.SwapBibs || x.Bib != a && x.Bib != b && x.With != a && x.With != b {
			continue
		}
		if x.Bib == a && x.With == b || x.Bib == b && x.With == a {
			return fmt.Errorf("%s and %s are swapped already, by ruling %d; undo --seq %d puts them back", a, b, x.Seq, x.Seq)
		}
		return nil
	}
	return nil
}

func birth(s string) error {
	if s != "" && !race.IsBirth(s) {
		return fmt.Errorf("--birth %s: want a year or a date like 1984-03-31", race.Quote(s))
	}
	return nil
}
