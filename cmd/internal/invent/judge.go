package invent

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// row is a crossing as truth/passings.csv tells it: of one body, or of a chip carried along.
type row struct {
	person, line int
	split        int // mark of the course run, -1: none
	at           int64
	speed        float64
	sees         []int // people under whose bib the chips show it
	real         bool
	note         uint8
	systems      [2]seen
	hand         bool
	jumped       int64 // how far main's clock had jumped
	ties         []int64
}

// seen is what one system has of a crossing, or would have had.
type seen struct {
	seen                   bool
	first, strongest, last int64 // race clock, cut to the millisecond; backup's as if at main's antenna
}

func (s *seen) kept(keep string) int64 {
	switch keep {
	case "strongest":
		return s.strongest
	case "last":
		return s.last
	}
	return s.first
}

func (w *row) any() bool { return w.systems[0].seen || w.systems[1].seen || w.hand }

// keepOf is the rule that a line's passings are kept by.
func (r *Race) keepOf(line int) string {
	if k := r.lines[line].keep; k != "" {
		return k
	}
	return r.keep // the plan names it for the race, so for a start too
}

// rows gives everyone's crossings, one person after another, each in order of time.
func (r *Race) rows(give func(p int, rows []row) error) error {
	type place struct {
		at   int64
		line int
		v    int
	}
	by := make([][]place, len(r.people))
	for l := range r.visits {
		for k := range r.visits[l] {
			if v := &r.visits[l][k]; v.body >= 0 && v.sort == crossing {
				by[v.body] = append(by[v.body], place{v.at, l, k})
			}
		}
	}
	d := newDice()
	for i := range r.people {
		slices.SortFunc(by[i], func(a, b place) int { return int(max(-1, min(1, a.at-b.at))) })
		var out []row
		for _, x := range by[i] {
			out = append(out, r.rowsOf(d, x.line, &r.visits[x.line][x.v])...)
		}
		if err := give(i, out); err != nil {
			return err
		}
	}
	return nil
}

// rowsOf are a visit's rows: the body's, then one for each bib whose chip is carried along.
func (r *Race) rowsOf(d *dice, l int, v *visit) []row {
	p := &r.people[v.body]
	var out []row
	for k, w := range p.worn {
		who, real := int(v.body), true
		if w.carried {
			who, real = w.owner, false
		}
		at := slices.IndexFunc(out, func(x row) bool { return x.person == who && x.real == real })
		if at < 0 {
			at = len(out)
			out = append(out, row{person: who, line: l, split: int(v.split), at: v.at, speed: float64(v.speed), real: real, note: v.note})
			out[at].systems = r.seenBy(d, l, v, w.carried, &out[at])
			if h := r.lines[l].log(handSystem); h != nil && real {
				t, ok := r.keyed(d, v)
				out[at].hand = ok && h.reads(t)
			}
		}
		if owner := p.worn[k].owner; owner >= 0 && !slices.Contains(out[at].sees, owner) {
			out[at].sees = append(out[at].sees, owner)
		}
	}
	return out
}

// seenBy is what main and backup make of a visit's own chips, or of those carried along.
func (r *Race) seenBy(d *dice, l int, v *visit, carried bool, w *row) (out [2]seen) {
	line := &r.lines[l]
	p := &r.people[v.body]
	gun := r.gun(p) - 2*second
	var buf []reading
	for s := range out {
		g := line.log(s)
		if g == nil {
			continue
		}
		var have, would []reading
		for k := range p.worn {
			if p.worn[k].carried != carried {
				continue
			}
			buf = r.burst(d, v, line.behind, s, k, buf[:0])
			for _, x := range buf {
				if v.split == 0 && r.courses[p.ranOn].start() == 0 && v.at > gun && x.at < gun {
					continue // cut off at the gun
				}
				would = append(would, x)
				if v.lost[s]>>k&1 == 0 && g.reads(x.at) {
					have = append(have, x)
				}
			}
		}
		out[s].seen = len(have) > 0
		if !out[s].seen {
			have = would
		}
		if len(have) == 0 {
			have = append(have, reading{at: max(v.at, gun)})
		}
		slices.SortStableFunc(have, func(a, b reading) int { return int(max(-1, min(1, a.at-b.at))) })
		best := have[0]
		for _, x := range have {
			if x.rssi > best.rssi {
				best = x
			}
		}
		gap := int64(0) // what the way to backup's antenna took: the truth tells backup's times without it
		if s == backupSystem {
			gap = micros(line.behind * float64(v.dir) / float64(v.speed))
		}
		out[s].first, out[s].strongest, out[s].last = wholeMillis(have[0].at-gap), wholeMillis(best.at-gap), wholeMillis(have[len(have)-1].at-gap)
		if s == mainSystem {
			w.jumped = g.clock.jumped(v.at)
			for _, x := range have {
				if x.rssi == best.rssi && wholeMillis(x.at) != out[s].strongest {
					w.ties = append(w.ties, wholeMillis(x.at))
				}
			}
		}
	}
	return out
}

// verdict is a line of truth/athletes.csv in the making.
type verdict struct {
	state, after string
	finish       *row
	start        *row
	laps         int
	finisher     bool
}

// judge works out what each bib's result should be before and after the rulings, and what
// the crossings themselves give to find: misses, clashes, finishes too close to call.
func (r *Race) judge(own, shown []row, i int) verdict {
	p := &r.people[i]
	listed := &r.courses[r.waves[p.wave].course]
	ran := &r.courses[p.ranOn]
	v := verdict{after: p.fate}
	if v.after == "" {
		v.after = "clean"
	}
	for k := range own {
		w := &own[k]
		if !w.real || w.split < 0 {
			continue
		}
		m := &ran.marks[w.split]
		if w.split == 0 && ran.start() == 0 {
			v.start = w
		} else {
			v.laps++
		}
		if m.id == listed.marks[listed.finish()].id || listed.ranksByLaps() && w.at >= listed.flag {
			v.finish, v.finisher = w, true
		}
	}
	if p.fate == "dnf" || p.fate == "dns" {
		v.finisher, v.finish = false, nil
	}
	v.state = r.stateBefore(p, listed, shown)
	return v
}

// stateBefore is the state that a bib should be in before anyone rules, alternatives with |.
func (r *Race) stateBefore(p *person, c *course, shown []row) string {
	if !p.listed {
		return "|held"
	}
	if p.status != "" {
		return p.status
	}
	have := map[string]bool{}
	last, laps := -1, 0
	afterwards, flagged := false, false
	for k := range shown {
		w := &shown[k]
		afterwards = afterwards || w.note == noteAfterwards
		if !w.any() || w.split < 0 {
			continue
		}
		have[r.courses[r.people[w.person].ranOn].marks[w.split].id] = true
		last = max(last, w.split)
		laps++
		flagged = flagged || w.at >= c.flag
	}
	if len(have) == 0 {
		return "unseen"
	}
	held := p.known || r.waves[p.wave].told != 0
	if c.ranksByLaps() {
		if c.sleepers() {
			p.unsure = p.unsure || laps < last+1
		} else {
			held = held || laps < last+1
		}
		if !flagged {
			return "running"
		}
	} else {
		for k := range c.marks {
			m := &c.marks[k]
			wanted := m.required || c.lap > 0 || k == 0 && c.start() == 0 && r.official == "net"
			held = held || wanted && k < c.finish() && !have[m.id]
		}
		if !have[c.marks[c.finish()].id] {
			if afterwards || p.standEnd || p.unsure {
				return "running|held|clean"
			}
			return "running"
		}
	}
	switch {
	case held:
		return "held"
	case p.unsure:
		return "clean|held"
	}
	return "clean"
}

// look finds what a person's crossings give to find and to rule.
func (r *Race) look(i int, rows []row) {
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	last := -1
	for k := range rows {
		if rows[k].any() {
			last = max(last, rows[k].split)
		}
	}
	for k := range rows {
		w := &rows[k]
		if w.split < 0 {
			continue
		}
		m := &c.marks[w.split]
		who := &r.people[w.person]
		bibs := []int{who.bib}
		for _, s := range w.sees {
			if s != w.person {
				bibs = append(bibs, r.people[s].bib)
			}
		}
		keep := r.keepOf(w.line)
		if !w.any() {
			r.missed(p, w, m, bibs, last, c)
			continue
		}
		a, b := &w.systems[mainSystem], &w.systems[backupSystem]
		apart := math.Abs(seconds(a.kept(keep) - b.kept(keep)))
		if r.lines[w.line].log(backupSystem) == nil {
			continue
		}
		if !a.seen && r.nearJump(w) {
			p.unsure = true // a fill across a jump is held
		}
		if a.seen && b.seen && apart > .85*r.tolerance(w.line) {
			p.unsure = true
			r.note(trouble{kind: "clash", bibs: bibs, line: w.line, split: m.id, must: "no", note: fmt.Sprintf("main and true backup %.3f s apart", apart)})
			r.later = append(r.later, fmt.Sprintf("accept clash %d '%s' '' 'main stands at the line'", who.bib, m.id))
		}
		if p.standEnd && w.split == c.finish() && !a.seen && p.fate == "" && w.real {
			w.note = noteAfterwards
			r.note(trouble{kind: "clash", bibs: bibs, line: w.line, split: m.id, must: "no", note: notes[noteAfterwards]})
			r.rule("use-system --bib %d --split '%s' --system backup --why 'main read the chip only after the finish'", p.bib, m.id)
		}
	}
}

// missed notes a crossing that no system saw.
func (r *Race) missed(p *person, w *row, m *mark, bibs []int, last int, c *course) {
	t := trouble{kind: "missing-split", bibs: bibs, line: w.line, split: m.id, note: "missed by all systems", must: "yes"}
	if w.split == 0 && c.start() == 0 {
		t.kind = "missing-start"
	}
	switch {
	case !w.real || p.ranOn != r.waves[p.wave].course:
		t.must = "no"
	case len(w.sees) == 0 || !p.listed || w.sees[0] != w.person:
		t.must = "after"
	}
	if last < w.split {
		t.kind, t.must, t.note = "overdue", "no", "the last passing, missed by all systems"
	} else if c.sleepers() {
		t.must = "no" // a rest looks the same
	}
	r.note(t)
	if !w.real || p.fate != "" {
		return
	}
	if w.split == c.finish() && !c.ranksByLaps() {
		r.rule("set-time --bib %d --split '%s' --at %s --why 'from the finish film'", p.bib, m.id, r.stamp(w.systems[mainSystem].kept(r.keepOf(w.line))))
		return
	}
	if m.required || c.lap > 0 || t.kind == "missing-start" && r.official == "net" {
		r.later = append(r.later, fmt.Sprintf("accept %s %d '%s' '' 'was on the course, no film of this place'", t.kind, p.bib, m.id))
	}
}

// tolerance of a line in seconds.
func (r *Race) tolerance(l int) float64 { return inSeconds(r.lines[l].tolerance) }

func inSeconds(s string) float64 {
	x, err := strconv.ParseFloat(strings.TrimSuffix(s, "s"), 64)
	if err != nil {
		panic("invent: a length of no form: " + s)
	}
	return x
}

// nearJump tells whether a clock at a crossing's line was set again within two minutes of it.
func (r *Race) nearJump(w *row) bool {
	for _, g := range r.lines[w.line].logs {
		for _, j := range g.clock.jumps {
			if max(w.at-j.at, j.at-w.at) < 2*minute {
				return true
			}
		}
	}
	return false
}
