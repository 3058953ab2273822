package ruling

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// split checks that the bib's course has the split.
func (c *checker) split() error {
	a := c.athlete(c.r.Bib)
	if a == nil || a.Wave < 0 || a.Wave >= len(c.p.Waves) {
		return fmt.Errorf("bib %s is on no course; add-athlete or set-wave comes first", c.r.Bib)
	}
	k := &c.p.Courses[c.p.Waves[a.Wave].Course]
	if hasSplit(k, c.r.Split) {
		return nil
	}
	return fmt.Errorf("course %s, which bib %s is on, has no split %s; it has %s", k.ID, a.Bib, race.Quote(c.r.Split),
		ids(len(k.Splits), func(i int) string { return k.Splits[i].ID }))
}

// hasSplit tells whether a course has a split; laps without end have every number.
func hasSplit(k *race.Course, id string) bool {
	for i := range k.Splits {
		if k.Splits[i].ID == id {
			return true
		}
	}
	return k.Open && len(k.Splits) > 0 && k.Splits[len(k.Splits)-1].LapOf(id) > 0
}

// systemSaw checks that a system has a time for the split: of the passing that fills it, or
// of one at its line that fills none.
func (c *checker) systemSaw() error {
	x := c.result(c.r.Bib)
	if c.st == nil {
		return nil
	}
	if x == nil {
		return fmt.Errorf("nothing was read of bib %s", c.r.Bib)
	}
	sys, _ := race.SystemOf(c.r.System)
	for s := range x.Splits {
		if x.Splits[s].ID != c.r.Split || s >= len(x.Filled) {
			continue
		}
		if k := x.Filled[s]; k >= 0 && x.Passings[k].Bursts[sys] != nil || race.Lent(x.Passings, x.Splits, x.Filled, s, sys) >= 0 {
			return nil
		}
	}
	return fmt.Errorf("%s has no time of bib %s at %s", sys, c.r.Bib, c.r.Split)
}

// passing checks that there is one to void: as near as the line's window.
func (c *checker) passing() error {
	if c.st == nil {
		return nil
	}
	line := c.p.LineIndex(c.r.Line)
	at, err := Moment(c.p, c.r.Time)
	if err != nil {
		return err
	}
	x := c.result(c.r.Bib)
	k, off, reach := -1, race.Millis(0), c.p.Lines[line].Window
	if x != nil {
		k, off = c.st.Meant(x, line, at)
	}
	seq := 0
	if x != nil && (k < 0 || off > reach) {
		seq = ruledThen(x, line, at, reach)
	}
	switch {
	case seq > 0:
		return fmt.Errorf("nothing was read of bib %s at %s then: ruling %d says so; undo --seq %d takes it back", c.r.Bib, c.r.Line, seq, seq)
	case k < 0:
		return fmt.Errorf("bib %s has no passing at %s to void", c.r.Bib, c.r.Line)
	case off > reach:
		return fmt.Errorf("bib %s has no passing at %s within %s s of %s; the nearest is at %s", c.r.Bib, c.r.Line, reach.Decimal(), c.r.Time, x.Passings[k].At.Format(c.p.Zone))
	}
	return nil
}

// ruledThen is the ruling that alone says that an athlete was at a line then, 0: none does.
func ruledThen(x *race.Result, line int, at race.Instant, reach race.Millis) int {
	for k := range x.Passings {
		p := &x.Passings[k]
		if d := p.At.Sub(at); p.Line == line && p.From == race.FromRuling && max(d, -d) <= reach {
			return p.Ruling
		}
	}
	return 0
}

func (c *checker) clock() error {
	r := c.r
	if r.Offset != "" {
		return nil
	}
	if sys, _ := race.SystemOf(r.Stepped); !hasSystem(c.p, c.p.LineIndex(r.Line), sys) {
		return fmt.Errorf("line %s has no %s", r.Line, r.Stepped)
	}
	if c.st == nil {
		return nil
	}
	for i := range c.st.Suspects {
		if s := &c.st.Suspects[i]; s.Kind == race.ClockStep && s.Line == r.Line {
			return nil
		}
	}
	return fmt.Errorf("no clock stepped at %s, as far as its reads tell", r.Line)
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
			wave := strings.TrimPrefix(s.ID, race.DoubtfulGun+":")
			if w := c.fx.Plan.WaveIndex(wave); s.Kind == race.DoubtfulGun && w >= 0 && !c.fx.Plan.Waves[w].Gun.Known() {
				return fmt.Errorf("wave %s has no gun, and so nobody of it a time; set-gun gives it one", wave)
			}
			return nil
		}
	}
	return fmt.Errorf("there is no suspect %s now", race.Quote(c.r.Suspect))
}

func (c *checker) undo() error {
	for i := range c.rs {
		if c.rs[i].Seq != c.r.UndoneSeq {
			continue
		}
		if by, ok := c.fx.Undone[c.r.UndoneSeq]; ok {
			return fmt.Errorf("ruling %d is taken back already, by ruling %d; undo --seq %d puts it in force again", c.r.UndoneSeq, by, by)
		}
		return nil
	}
	return fmt.Errorf("there is no ruling %d", c.r.UndoneSeq)
}
