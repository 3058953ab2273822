package plan

import (
	"fmt"

	"twinmat/reconcile/race"
)

// Compare tells what a changed race folder would do to times that may be out already. says
// names, in words, each gun, distance, rounding, day, log or fixed clock that moved; dropped are
// the bibs that left the list or lost a chip, in the old list's order. A change with neither is
// taken in without asking; dropped bibs without a passing may be left out by who knows that.
func Compare(old, new *Race) (says, dropped []string) {
	c := comparison{old: old, new: new, dropped: map[string]bool{}}
	c.day()
	c.courses()
	c.waves()
	c.logs()
	c.athletes()
	c.chips()
	for _, a := range old.Athletes {
		if c.dropped[a.Bib] {
			dropped = append(dropped, a.Bib)
			delete(c.dropped, a.Bib)
		}
	}
	// What is left had a chip and no row among the athletes.
	for _, chip := range old.Chips {
		if c.dropped[chip.Bib] {
			dropped = append(dropped, chip.Bib)
			delete(c.dropped, chip.Bib)
		}
	}
	return c.says, dropped
}

type comparison struct {
	old, new *Race
	says     []string
	dropped  map[string]bool
}

func (c *comparison) say(form string, args ...any) {
	c.says = append(c.says, fmt.Sprintf(form, args...))
}

func (c *comparison) day() {
	o, n := c.old.Plan, c.new.Plan
	if a, b := o.Date.Format("2006-01-02"), n.Date.Format("2006-01-02"); a != b {
		c.say("the date was %s, becomes %s", a, b)
	}
	if o.Zone.String() != n.Zone.String() {
		c.say("the time zone was %s, becomes %s", o.Zone, n.Zone)
	}
}

func (c *comparison) courses() {
	for i := range c.old.Plan.Courses {
		o := &c.old.Plan.Courses[i]
		j := c.new.Plan.CourseIndex(o.ID)
		if j < 0 {
			c.say("course %s is gone", o.ID)
			continue
		}
		n := &c.new.Plan.Courses[j]
		if o.Official.Rounding != n.Official.Rounding {
			c.say("course %s: rounding was %s, becomes %s", o.ID, o.Official.Rounding.Name, n.Official.Rounding.Name)
		}
		if o.Official.Net != n.Official.Net {
			c.say("course %s: clock was %s, becomes %s", o.ID, clockName(o.Official), clockName(n.Official))
		}
		if o.Official.TiesOfficial != n.Official.TiesOfficial {
			c.say("course %s: ties are told apart another way", o.ID)
		}
		if o.TimeLimit != n.TimeLimit {
			c.say("course %s: the time limit was %s, becomes %s", o.ID, plain(o.TimeLimit), plain(n.TimeLimit))
		}
		if o.Flagged != n.Flagged {
			c.say("course %s: lapped riders are ranked another way", o.ID)
		}
		c.splits(o, n)
	}
}

func clockName(o race.Official) string {
	if o.Net {
		return "net"
	}
	return "gun"
}

// splits compares by id: a new split between others moves no distance.
func (c *comparison) splits(o, n *race.Course) {
	after := make(map[string]*race.Split, len(n.Splits))
	for i := range n.Splits {
		after[n.Splits[i].ID] = &n.Splits[i]
	}
	for i := range o.Splits {
		was := &o.Splits[i]
		is := after[was.ID]
		switch {
		case is == nil:
			c.say("course %s: split %s is gone", o.ID, was.ID)
		case is.At != was.At:
			c.say("course %s: split %s was at %gm, becomes %gm", o.ID, was.ID, was.At, is.At)
		case c.old.Plan.Lines[was.Line].ID != c.new.Plan.Lines[is.Line].ID:
			c.say("course %s: split %s was at line %s, moves to line %s", o.ID, was.ID, c.old.Plan.Lines[was.Line].ID, c.new.Plan.Lines[is.Line].ID)
		}
	}
	if a, b := o.Splits[len(o.Splits)-1].ID, n.Splits[len(n.Splits)-1].ID; a != b && after[a] != nil {
		c.say("course %s: the finish was %s, becomes %s", o.ID, a, b)
	}
	if o.Open != n.Open {
		c.say("course %s: the number of laps is bounded another way", o.ID)
	}
}

func (c *comparison) waves() {
	for _, o := range c.old.Plan.Waves {
		j := c.new.Plan.WaveIndex(o.ID)
		if j < 0 {
			c.say("wave %s is gone", o.ID)
			continue
		}
		n := c.new.Plan.Waves[j]
		// A gun that wasn't told yet moves nothing.
		if o.Gun.Known() && o.Gun != n.Gun {
			c.say("wave %s: the gun was %s, %s", o.ID, o.Gun.Format(c.old.Plan.Zone), becomes(n.Gun, c.new.Plan))
		}
		if a, b := c.old.Plan.Courses[o.Course].ID, c.new.Plan.Courses[n.Course].ID; a != b {
			c.say("wave %s ran %s, is to run %s", o.ID, a, b)
		}
	}
}

func becomes(t race.Instant, p *race.Plan) string {
	if !t.Known() {
		return "is left out"
	}
	return "becomes " + t.Format(p.Zone)
}

// logs compares by line, system and path; of several that are the same in these, one after the other.
func (c *comparison) logs() {
	type name struct{ line, system, path string }
	key := func(p *race.Plan, l race.Log) name { return name{p.Lines[l.Line].ID, l.System.String(), l.Path} }
	after := map[name][]race.Log{}
	for _, l := range c.new.Plan.Logs {
		k := key(c.new.Plan, l)
		after[k] = append(after[k], l)
	}
	for _, l := range c.old.Plan.Logs {
		k := key(c.old.Plan, l)
		var n race.Log
		there := len(after[k]) > 0
		if there {
			n, after[k] = after[k][0], after[k][1:]
		}
		switch {
		case !there:
			c.say("line %s: %s log %s is no longer read", k.line, k.system, k.path)
		case n.From != l.From || n.To != l.To:
			c.say("line %s: the hours of %s log %s change", k.line, k.system, k.path)
		case n.Zone.String() != l.Zone.String() && (l.Zone != c.old.Plan.Zone || n.Zone != c.new.Plan.Zone):
			c.say("line %s: the time zone of %s log %s was %s, becomes %s", k.line, k.system, k.path, l.Zone, n.Zone)
		case n.Offset != l.Offset:
			c.say("line %s: the offset of %s log %s was %s, becomes %s", k.line, k.system, k.path, offsetName(l.Offset), offsetName(n.Offset))
		}
	}
}

func offsetName(o race.Offset) string {
	if o.Auto {
		return "auto"
	}
	return plain(o.Fixed)
}

// athletes compares guns bib by bib; who is gone is dropped.
func (c *comparison) athletes() {
	after := make(map[string]*race.Athlete, len(c.new.Athletes))
	for i := range c.new.Athletes {
		after[c.new.Athletes[i].Bib] = &c.new.Athletes[i]
	}
	for i := range c.old.Athletes {
		o := &c.old.Athletes[i]
		n := after[o.Bib]
		if n == nil {
			c.dropped[o.Bib] = true
			continue
		}
		if a, b := c.old.Plan.Waves[o.Wave].ID, c.new.Plan.Waves[n.Wave].ID; a != b {
			c.say("bib %s was in wave %s, moves to %s", o.Bib, a, b)
		}
		if o.Start != n.Start {
			if o.Start.Known() {
				c.say("bib %s: their own gun was %s, %s", o.Bib, o.Start.Format(c.old.Plan.Zone), becomes(n.Start, c.new.Plan))
			} else {
				c.say("bib %s: a gun of their own, %s", o.Bib, n.Start.Format(c.new.Plan.Zone))
			}
		}
	}
}

// chips: a bib that loses a chip, or hours of it, loses what it brought.
func (c *comparison) chips() {
	after := make(map[race.Chip]bool, len(c.new.Chips))
	for _, chip := range c.new.Chips {
		after[chip] = true
	}
	whole := func(chip race.Chip) race.Chip {
		chip.From, chip.To = race.NoInstant, race.NoInstant
		return chip
	}
	for _, chip := range c.old.Chips {
		if !after[chip] && !after[whole(chip)] {
			c.dropped[chip.Bib] = true
		}
	}
}
