package invent

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
)

// trouble is a row of truth/anomalies.csv: what a good program finds.
type trouble struct {
	kind  string
	bibs  []int
	tag   string
	line  int // -1: none
	split string
	note  string
	also  []string // kinds under which it may be listed instead
	must  string   // yes: must be listed; no: may be; after: once the rulings are in
}

// chooser hands out people for trouble, each once.
type chooser struct {
	r     *Race
	g     *rand.Rand
	order []int
	used  []bool
}

// goWrong decides what goes wrong with whom, before anyone runs.
func (r *Race) goWrong() {
	g := r.rng("trouble")
	t := &chooser{r: r, g: g, order: g.Perm(len(r.people)), used: make([]bool, len(r.people))}
	x := &r.ills
	for w := range t.r.waves {
		t.r.lateGun(w)
	}
	t.many(x.dns, t.notThere)
	t.many(x.absent, t.unseen)
	t.many(x.dnsRuns, t.runsAnyway)
	t.many(x.spare, t.spare)
	t.many(x.unlisted, t.unlisted)
	t.many(x.swap, t.swap)
	t.many(x.carry, t.carry)
	t.many(x.mixed, t.mixed)
	t.many(x.cut, t.cut)
	t.many(x.turn, t.turn)
	t.many(x.early, t.early)
	t.many(x.late, t.late)
	for range x.otherCourse {
		t.otherCourse()
	}
	t.many(x.drop, func() { t.drop(false) })
	t.many(x.dnf, func() { t.drop(true) })
	t.many(x.stop, t.stop)
	t.many(x.warm, t.warm)
	t.many(x.standStart, t.standStart)
	t.many(x.standFinish, t.standFinish)
	t.many(x.beside, t.heardBeside)
	for k := range x.foreign {
		t.foreign(k)
	}
}

// many does something for so many of each hundred people, chance deciding the last one;
// what is over one in a hundred happens at least once.
func (t *chooser) many(perHundred float64, do func()) {
	if perHundred <= 0 {
		return
	}
	want := perHundred * float64(t.r.size) / 100
	n := int(want)
	if t.g.Float64() < want-float64(n) || n == 0 && perHundred >= .3 {
		n++
	}
	for range n {
		do()
	}
}

// take is someone with whom nothing has gone wrong yet, -1 if nobody fits.
func (t *chooser) take(fits func(p *person) bool) int {
	for _, i := range t.order {
		if !t.used[i] && (fits == nil || fits(&t.r.people[i])) {
			t.used[i] = true
			return i
		}
	}
	return -1
}

func (r *Race) note(t trouble) { r.trouble = append(r.trouble, t) }

func (r *Race) rule(format string, a ...any) { r.desk = append(r.desk, fmt.Sprintf(format, a...)) }

func (t *chooser) notThere() {
	if i := t.take(nil); i >= 0 {
		p := &t.r.people[i]
		p.status, p.absent, p.fate = "dns", true, "dns"
	}
}

func (t *chooser) unseen() {
	if i := t.take(nil); i >= 0 {
		p := &t.r.people[i]
		p.absent, p.fate = true, "dns"
		t.r.rule("set-status --bib %d --status dns --why 'never came to the start'", p.bib)
	}
}

func (t *chooser) runsAnyway() {
	if i := t.take(nil); i >= 0 {
		p := &t.r.people[i]
		p.status, p.note = "dns", "marked dns, runs"
		t.r.note(trouble{kind: "out-but-seen", bibs: []int{p.bib}, line: -1, note: "marked dns, runs all the way", must: "yes"})
		t.r.rule("set-status --bib %d --status none --why 'was there after all'", p.bib)
	}
}

func (t *chooser) spare() {
	i := t.take(nil)
	if i < 0 {
		return
	}
	p := &t.r.people[i]
	p.worn = nil
	for k := range t.r.perBib {
		tag := t.r.tagOf(t.g, 90_100+p.bib, k)
		p.worn = append(p.worn, worn{tag: tag, owner: -1})
		t.r.note(trouble{kind: "unassigned-chip", bibs: []int{p.bib}, tag: tag, line: -1, note: fmt.Sprintf("a spare, worn by %d", p.bib), must: "yes"})
		t.r.rule("assign-chip --tag '%s' --bib %d --why 'handed out at the desk and not written down'", tag, p.bib)
	}
	p.identity = "spare:" + p.worn[0].tag
}

func (t *chooser) unlisted() {
	i := t.take(func(p *person) bool { return p.own == 0 })
	if i < 0 {
		return
	}
	p := &t.r.people[i]
	p.listed, p.identity = false, "unlisted"
	t.r.note(trouble{kind: "unlisted-bib", bibs: []int{p.bib}, tag: p.chips[0].tag, line: -1, note: "entered late, not in athletes.csv", must: "yes"})
	t.r.rule("add-athlete --bib %d --name '%s' --wave '%s' --sex %s --birth %d --why 'entered on the day'", p.bib, p.name, t.r.waves[p.wave].id, p.sex, p.born)
}

// swap lets two of one course wear each other's chips, of different waves where it can be.
func (t *chooser) swap() {
	i := t.take(nil)
	if i < 0 {
		return
	}
	a := &t.r.people[i]
	wave := func(p *person) bool { return t.r.waves[p.wave].course == t.r.waves[a.wave].course && p.wave != a.wave }
	course := func(p *person) bool { return t.r.waves[p.wave].course == t.r.waves[a.wave].course }
	j := t.take(wave)
	if j < 0 {
		if j = t.take(course); j < 0 {
			return
		}
	}
	b := &t.r.people[j]
	a.worn, b.worn = b.worn, a.worn
	a.identity, b.identity = fmt.Sprintf("swap:%d", b.bib), fmt.Sprintf("swap:%d", a.bib)
	a.unsure, b.unsure = true, true
	line, split := t.r.startOf(a)
	for _, two := range [2][2]*person{{a, b}, {b, a}} {
		p, q := two[0], two[1]
		x := trouble{kind: "wrong-wave", bibs: []int{p.bib}, tag: p.chips[0].tag, line: line, split: split, also: []string{"swapped", "early-start"},
			note: fmt.Sprintf("chip worn by %d, who starts with wave %s", q.bib, t.r.waves[q.wave].id), must: "yes"}
		if a.wave == b.wave || split == "" {
			x.kind, x.also, x.must, x.split = "swapped", []string{"unlikely-pace"}, "no", ""
			x.bibs = []int{a.bib, b.bib}
		}
		t.r.note(x)
		if x.kind == "swapped" {
			break
		}
	}
	t.r.rule("swap-bibs --bib %d --with %d --why 'they mixed up their chips'", a.bib, b.bib)
}

func (t *chooser) carry() {
	i := t.take(nil)
	if i < 0 {
		return
	}
	a := &t.r.people[i]
	j := t.take(func(p *person) bool { return p.wave == a.wave })
	if j < 0 {
		return
	}
	b := &t.r.people[j]
	b.absent, b.identity, b.fate = true, fmt.Sprintf("carried-by:%d", a.bib), "dsq"
	a.unsure, b.unsure = true, true
	for _, w := range b.worn {
		w.carried = true
		a.worn = append(a.worn, w)
	}
	must := "yes"
	if len(t.r.courses[a.ranOn].marks) < 4 {
		must = "no" // fewer than four lines can't tell one body from two friends
	}
	t.r.note(trouble{kind: "carried-together", bibs: []int{a.bib, b.bib}, tag: b.chips[0].tag, line: -1, must: must,
		note: fmt.Sprintf("%d carries the chip of %d", a.bib, b.bib)})
	t.r.rule("set-status --bib %d --status dsq --why 'the chip was carried by %d'", b.bib, a.bib)
}

// mixed puts the second chips of two bands together wrongly.
func (t *chooser) mixed() {
	if t.r.perBib < 2 {
		return
	}
	i := t.take(nil)
	j := t.take(nil)
	if i < 0 || j < 0 {
		return
	}
	a, b := &t.r.people[i], &t.r.people[j]
	a.worn[1], b.worn[1] = b.worn[1], a.worn[1]
	for _, two := range [2][2]*person{{a, b}, {b, a}} {
		p, q := two[0], two[1]
		p.identity, p.known = fmt.Sprintf("mixed:%d", q.bib), true
		t.r.note(trouble{kind: "chips-apart", bibs: []int{p.bib}, tag: p.chips[1].tag, line: -1, must: "yes",
			note: fmt.Sprintf("its second chip is in the band of %d", q.bib)})
		t.r.rule("assign-chip --tag '%s' --bib %d --why 'the bands were put together wrongly'", q.chips[1].tag, p.bib)
	}
}

func (t *chooser) foreign(k int) {
	r := t.r
	line := t.g.IntN(len(r.lines))
	tag := "36C4" + hex(t.g.Uint64(), 12) + hex(uint64(7_000_000+k), 8)
	if r.tagForm == "short" {
		tag = "QX" + strconv.Itoa(911_003+13*k)
	}
	r.strays = append(r.strays, stray{tag: tag, line: line})
	r.note(trouble{kind: "unassigned-chip", tag: tag, line: line, note: "a chip of another race", must: "yes"})
	r.later = append(r.later, fmt.Sprintf("accept unassigned-chip '' '' '%s' 'a chip of another race'", tag))
}

// lateGun notes a gun that went otherwise than the plan tells.
func (r *Race) lateGun(w int) {
	v := &r.waves[w]
	if v.told == 0 {
		return
	}
	c := &r.courses[v.course]
	r.note(trouble{kind: "doubtful-gun", line: c.marks[0].line, note: fmt.Sprintf("wave %s went %.1f s after the gun of the plan", v.id, seconds(v.gun-v.told)), must: "yes"})
	r.rule("set-gun --wave '%s' --at %s --why 'the starter was late'", v.id, r.stamp(v.gun))
}

// startOf is the line and split of a person's start, -1 and "" where their course has none.
func (r *Race) startOf(p *person) (int, string) {
	c := &r.courses[p.ranOn]
	if k := c.start(); k >= 0 {
		return c.marks[k].line, c.marks[k].id
	}
	return -1, ""
}

// hasStart tells whether a person's course reads the start.
func (t *chooser) hasStart(p *person) bool { return t.r.courses[p.ranOn].start() == 0 }

// wavesOf are the waves of a course in order of their guns.
func (r *Race) wavesOf(course int) []int {
	var ws []int
	for w := range r.waves {
		if r.waves[w].course == course {
			ws = append(ws, w)
		}
	}
	slices.SortStableFunc(ws, func(a, b int) int { return int((r.waves[a].gun - r.waves[b].gun) / milli) })
	return ws
}
