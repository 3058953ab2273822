package invent

import (
	"fmt"
	"math"
)

// noFaster is the speed over a stretch, in metres a second, that nobody reaches; over it a
// stretch is impossible. A little above the fastest ever run or ridden over long distances.
var noFaster = map[string]float64{"run": 7.6, "walk": 5, "bike": 19, "swim": 2.4, "ski": 12, "kart": 60, "change": 12}

// cut leaves a required mark out, and is at the next one too soon.
func (t *chooser) cut() {
	r := t.r
	i := t.take(func(p *person) bool { return len(r.between(p)) > 0 })
	if i < 0 {
		return
	}
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	marks := r.between(p)
	p.cut = marks[t.g.IntN(len(marks))]
	p.cutTo = p.cut
	next := &c.marks[p.cut+1]
	before := 0.0
	if p.cut > 0 {
		before = c.marks[p.cut-1].truly
	}
	p.cutSpeed = noFaster[next.sport] * between(t.g, 1.15, 2.2)
	left := c.marks[p.cut]
	p.note, p.known, p.fate = "cuts the course before "+next.id, true, "dsq"
	r.note(trouble{kind: "missing-split", bibs: []int{p.bib}, line: left.line, split: left.id, note: "cut out", must: "yes"})
	r.note(trouble{kind: "impossible-pace", bibs: []int{p.bib}, line: -1, split: next.id, must: "yes",
		note: fmt.Sprintf("%.0f m in %.0f s", next.truly-before, (next.truly-before)/p.cutSpeed)})
	r.rule("set-status --bib %d --status dsq --why 'cut the course before %s'", p.bib, next.id)
}

// turn turns round before the far end of an out-and-back, and is home without it.
func (t *chooser) turn() {
	r := t.r
	i := t.take(nil)
	if i < 0 {
		return
	}
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	p.cut, p.cutTo = 1, c.finish()-1
	p.cutSpeed = usualSpeed[c.sport] * p.level / between(t.g, .45, .92)
	p.note, p.known, p.fate = "turns round too early", true, "dsq"
	for k := p.cut; k <= p.cutTo; k++ {
		r.note(trouble{kind: "missing-split", bibs: []int{p.bib}, line: c.marks[k].line, split: c.marks[k].id, note: "turned round before it", must: "yes"})
	}
	r.note(trouble{kind: "impossible-pace", bibs: []int{p.bib}, line: -1, split: c.marks[c.finish()].id, note: "turned round too early", must: "no"})
	r.rule("set-status --bib %d --status dsq --why 'turned round too early'", p.bib)
}

// between are a person's required marks that have neighbours on both sides, on stretches of one sport.
func (r *Race) between(p *person) []int {
	c := &r.courses[p.ranOn]
	var ks []int
	for k := 1; k < c.finish(); k++ {
		if m := &c.marks[k]; m.required && m.sport == c.marks[k+1].sport && c.marks[k+1].line != m.line {
			ks = append(ks, k)
		}
	}
	return ks
}

// early leaves before the gun and never comes back to the start.
func (t *chooser) early() {
	i := t.take(t.hasStart)
	if i < 0 {
		return
	}
	p := &t.r.people[i]
	p.before, p.note, p.known = between(t.g, 25, 100), "off before the gun", true
	line, split := t.r.startOf(p)
	t.r.note(trouble{kind: "early-start", bibs: []int{p.bib}, line: line, split: split, also: []string{"wrong-wave"}, must: "yes",
		note: fmt.Sprintf("%.1f s before the gun, not again", p.before)})
	t.r.later = append(t.r.later, fmt.Sprintf("accept early-start %d '' '' 'timed from the own start, as the rules have it'", p.bib))
}

// late starts with a later wave of the same course.
func (t *chooser) late() {
	r := t.r
	last := func(p *person) int { ws := r.wavesOf(p.ranOn); return ws[len(ws)-1] }
	i := t.take(func(p *person) bool { return t.hasStart(p) && last(p) != p.wave })
	if i < 0 {
		return
	}
	p := &r.people[i]
	p.ranWave, p.note = last(p), "starts with a later wave"
	line, split := r.startOf(p)
	r.note(trouble{kind: "wrong-wave", bibs: []int{p.bib}, line: line, split: split, must: "yes",
		note: fmt.Sprintf("of wave %s, starts with wave %s", r.waves[p.wave].id, r.waves[p.ranWave].id)})
}

// otherCourse starts with the own wave and follows the signs of another course.
func (t *chooser) otherCourse() {
	r := t.r
	other := func(p *person) int {
		for w := range r.waves {
			if r.waves[w].course != p.ranOn && r.waves[w].gun == r.waves[p.wave].gun {
				return w
			}
		}
		return -1
	}
	i := t.take(func(p *person) bool { return other(p) >= 0 })
	if i < 0 {
		return
	}
	p := &r.people[i]
	w := other(p)
	own := r.courses[p.ranOn].id
	p.ranOn, p.known = r.waves[w].course, true
	p.note = fmt.Sprintf("listed for %s, runs %s", own, r.courses[p.ranOn].id)
	r.note(trouble{kind: "other-course", bibs: []int{p.bib}, line: -1, also: []string{"missing-split", "impossible-pace", "extra-passing", "out-of-order"},
		note: p.note, must: "yes"})
	r.rule("set-wave --bib %d --wave '%s' --why 'ran the other course'", p.bib, r.waves[w].id)
}

func (t *chooser) drop(told bool) {
	r := t.r
	i := t.take(func(p *person) bool { return len(r.courses[p.ranOn].marks) > 2 && !r.courses[p.ranOn].open })
	if i < 0 {
		return
	}
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	last := c.finish()
	if c.flagged {
		last /= 2 // before the flag falls for anyone
	}
	p.dropAt, p.fate = 1+t.g.IntN(last), "dnf"
	if told {
		p.status = "dnf"
		return
	}
	must := "yes"
	if c.lap > 0 { // a lapped rider and one who stopped look alike for long
		must = "no"
	}
	r.note(trouble{kind: "overdue", bibs: []int{p.bib}, line: -1, split: c.marks[p.dropAt].id, note: "dropped out", must: must})
	r.rule("set-status --bib %d --status dnf --why 'brought in by the sweep'", p.bib)
}

func (t *chooser) stop() {
	r := t.r
	i := t.take(func(p *person) bool { return len(r.courses[p.ranOn].marks) > 1 })
	if i < 0 {
		return
	}
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	p.stopAt = 1 + t.g.IntN(min(c.finish(), 30))
	p.stopFor, p.note = between(t.g, 240, 700), "a long stop"
	r.note(trouble{kind: "unlikely-pace", bibs: []int{p.bib}, line: -1, split: c.marks[p.stopAt].id, note: fmt.Sprintf("stops for %.0f s", p.stopFor), must: "no"})
}

func (t *chooser) warm() {
	if i := t.take(t.hasStart); i >= 0 {
		p := &t.r.people[i]
		p.warm, p.note = between(t.g, 150, 700), "warmed up over the start line"
		line, _ := t.r.startOf(p)
		t.r.note(trouble{kind: "extra-passing", bibs: []int{p.bib}, line: line, note: "warm-up before the gun, starts properly later", must: "no"})
	}
}

func (t *chooser) standStart() {
	if i := t.take(t.hasStart); i >= 0 {
		p := &t.r.people[i]
		p.standStart, p.note = true, "stands in the start's read zone"
		line, _ := t.r.startOf(p)
		t.r.note(trouble{kind: "extra-passing", bibs: []int{p.bib}, line: line, note: "stands in the start's read zone", must: "no"})
	}
}

func (t *chooser) standFinish() {
	r := t.r
	i := t.take(func(p *person) bool { return r.courses[p.ranOn].lap == 0 })
	if i < 0 {
		return
	}
	p := &r.people[i]
	p.standEnd, p.note, p.unsure = true, "lingers at the finish", true
	c := &r.courses[p.ranOn]
	r.note(trouble{kind: "extra-passing", bibs: []int{p.bib}, line: c.marks[c.finish()].line, note: "lingers after finishing", also: []string{"clash"}, must: "no"})
}

func (t *chooser) heardBeside() {
	r := t.r
	near := func(p *person) (ks []int) {
		for k, m := range r.courses[p.ranOn].marks {
			if r.lines[m.line].beside >= 0 {
				ks = append(ks, k)
			}
		}
		return ks
	}
	i := t.take(func(p *person) bool { return len(near(p)) > 0 })
	if i < 0 {
		return
	}
	p := &r.people[i]
	ks := near(p)
	p.besideAt, p.unsure = ks[t.g.IntN(len(ks))], true
	m := &r.courses[p.ranOn].marks[p.besideAt]
	r.note(trouble{kind: "extra-passing", bibs: []int{p.bib}, line: r.lines[m.line].beside, also: []string{"out-of-order", "chips-apart", "clash"},
		note: "heard from the line beside, " + r.lines[m.line].id, must: "no"})
}

// fail breaks what can only break at a moment of the race: logs that die, clocks that jump.
func (r *Race) fail() {
	for _, o := range r.ills.dead {
		vs := r.visits[o.line]
		if len(vs) == 0 {
			continue
		}
		from := vs[min(len(vs)-1, int(o.after*float64(len(vs))))].at
		p := r.lines[o.line].log(o.system)
		p.dead = append(p.dead, span{from, from + o.long})
		lost, must := 0, "yes"
		for k := range vs {
			if vs[k].sort == crossing && !p.reads(vs[k].at) {
				lost++
			}
		}
		if lost < 8 {
			must = "no" // a lull looks the same
		}
		r.note(trouble{kind: "silent-log", line: o.line, must: must,
			note: fmt.Sprintf("%s dead from %s for %.0f s", systemNames[o.system], r.stamp(from), seconds(o.long))})
	}
	for _, s := range r.steps {
		vs := r.visits[s.line]
		if len(vs) < 2 {
			continue
		}
		at := widestGap(vs, int(s.after*float64(len(vs))))
		p := r.lines[s.line].log(s.system)
		p.clock.jumps = append(p.clock.jumps, jump{at, s.by})
		r.note(trouble{kind: "clock-step", line: s.line, must: "yes",
			note: fmt.Sprintf("%s's clock jumps by %+.3f s at %s", systemNames[s.system], math.Round(s.by*1000)/1000, r.stamp(at))})
		r.rule("set-clock --line %s --stepped %s --why 'set again during the race'", r.lines[s.line].id, systemNames[s.system])
	}
}

// widestGap is the middle of the widest gap between visits near the k-th: a clock that jumps
// while somebody crosses would leave them two true times.
func widestGap(vs []visit, k int) int64 {
	best, at := int64(-1), vs[k].at
	for i := max(1, k-20); i < min(len(vs), k+20); i++ {
		if gap := vs[i].at - vs[i-1].at; gap > best {
			best, at = gap, vs[i-1].at+gap/2
		}
	}
	return at
}
