package invent

import (
	"math"
	"math/rand/v2"
	"slices"
)

// usualSpeed is a middling athlete's, in metres a second.
var usualSpeed = map[string]float64{"run": 2.95, "walk": 1.6, "bike": 9.2, "swim": .95, "ski": 5, "kart": 19.5, "change": 1.5}

// run sends everyone round their course and keeps each crossing.
func (r *Race) run() {
	g := r.rng("story")
	r.visits = make([][]visit, len(r.lines))
	hard := make([][]float64, len(r.courses)) // how slow each stretch is for everyone
	for c := range hard {
		hard[c] = make([]float64, len(r.courses[c].marks))
		for k := range hard[c] {
			hard[c][k] = math.Exp(bell(g, 0, .03))
			if r.courses[c].lap > 0 {
				hard[c][k] = 1
			}
		}
	}
	delay := r.crowdStart(g)
	packs := r.packs(g)
	for i := range r.people {
		p := &r.people[i]
		p.tags = nil
		for _, w := range p.worn {
			p.tags = append(p.tags, w.tag)
		}
		if p.absent {
			continue
		}
		at := r.leaves(g, p, delay[i])
		c := &r.courses[p.ranOn]
		if c.bunch > 0 {
			r.ride(g, i, packs[p.ranOn])
			continue
		}
		r.travel(g, i, at, hard[p.ranOn])
	}
	r.flagOff()
	r.passStrays(g)
	r.gather()
}

// crowdStart is how many seconds after the gun each person reaches the start line: waves
// shuffle over it at a walk, those in front first.
func (r *Race) crowdStart(g *rand.Rand) []float64 {
	delay := make([]float64, len(r.people))
	for w := range r.waves {
		var in []int
		for i := range r.people {
			if r.people[i].ranWave == w && !r.people[i].absent {
				in = append(in, i)
			}
		}
		slices.SortStableFunc(in, func(a, b int) int {
			switch {
			case r.people[a].seat < r.people[b].seat:
				return -1
			case r.people[a].seat > r.people[b].seat:
				return 1
			}
			return a - b
		})
		width := 2 + float64(len(in))/600 // abreast
		t := .4
		for _, i := range in {
			t += g.ExpFloat64() * .45 / width
			delay[i] = t + .3*g.Float64()
		}
	}
	return delay
}

// leaves is the moment when a person passes the start line, or would.
func (r *Race) leaves(g *rand.Rand, p *person, delay float64) int64 {
	c := &r.courses[p.ranOn]
	gun := r.waves[p.ranWave].gun
	switch {
	case p.own != 0:
		return p.own + micros(between(g, .05, .9))
	case p.before > 0:
		return r.waves[p.wave].gun - micros(p.before)
	case c.marks[0].sport == "swim" || c.sport == "kart":
		return gun + micros(.3+.1*delay)
	}
	return gun + micros(delay)
}

// travel walks a person from mark to mark.
func (r *Race) travel(g *rand.Rand, i int, at int64, hard []float64) {
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	where, fade, leg := 0.0, math.Exp(bell(g, .06, .06)), 1.0
	quits := int64(math.MaxInt64)
	if c.open && g.Float64() < .2 { // has had enough before the time is up
		quits = r.gun(p) + int64(between(g, .3, 1)*float64(c.timeLimit))
	}
	r.warmUp(g, i, at)
	for k := range c.marks {
		m := &c.marks[k]
		if k == p.dropAt {
			return
		}
		if m.at > 0 {
			if k == p.stopAt {
				at += micros(p.stopFor)
			}
			t := leg * r.stretch(g, p, m, m.truly-where, hard[k], math.Pow(fade, r.progress(p, m, at)*2-.6))
			if p.cut >= 0 && k == p.cutTo+1 {
				t = (m.truly - where) / p.cutSpeed
			}
			if k >= p.cut && k <= p.cutTo { // left out
				continue
			}
			at += micros(t)
			where = m.truly
		}
		if c.legs > 0 && (k+1)%c.legs == 0 {
			leg = math.Exp(bell(g, 0, .1)) // the next runner takes the baton
		}
		if at > quits {
			return
		}
		over := c.timeLimit > 0 && at-r.gun(p) > c.timeLimit
		switch {
		case over:
			if g.Float64() < .8 { // walks in, the lap doesn't count
				r.cross(g, i, -1, *m, at, r.pass(g, p, m), noteLate)
			}
			return
		case k == 0 && c.sport == "kart" && c.lap > 0:
			r.cross(g, i, -1, *m, r.waves[p.ranWave].gun+micros(1.2+.35*float64(i)+.3*g.Float64()), bell(g, 7, .5), noteGrid)
		}
		r.cross(g, i, k, *m, at, r.pass(g, p, m), noNote)
		if c.sleepers() && g.Float64() < .004 { // sleeps
			at += micros(between(g, 1800, 9000))
		}
	}
	if last := &c.marks[c.finish()]; p.standEnd {
		from := at + micros(between(g, 12, 40))
		r.place(last.line, r.visitOf(g, i, visit{at: from, until: from + micros(between(g, 60, 380)), sort: staying, split: -1}))
	}
}

// progress is how far into their race a person is at a mark: of the way, or of the time.
func (r *Race) progress(p *person, m *mark, at int64) float64 {
	c := &r.courses[p.ranOn]
	if c.open {
		return seconds(at-r.gun(p)) / seconds(c.timeLimit)
	}
	return m.truly / max(1, c.marks[c.finish()].truly)
}

// warmUp is what a person does near the start before the race, from when they are due there.
func (r *Race) warmUp(g *rand.Rand, i int, at int64) {
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	if c.start() != 0 {
		return
	}
	if p.standStart {
		r.place(c.marks[0].line, r.visitOf(g, i, visit{at: at - 4*minute, until: at - 20*second, sort: staying, split: -1}))
	}
	if p.warm > 0 {
		r.cross(g, i, -1, c.marks[0], at-micros(p.warm), bell(g, 2.4, .3), noteWarm)
	}
}

// stretch is the seconds that a person needs for so many metres before a mark.
func (r *Race) stretch(g *rand.Rand, p *person, m *mark, metres, hard, tired float64) float64 {
	switch m.sport {
	case "change":
		return between(g, 55, 110) + 45*g.ExpFloat64()/p.level
	case "kart":
		return metres / usualSpeed["kart"] * math.Pow(p.level, -.15) * math.Exp(bell(g, 0, .007))
	}
	own := .025
	if r.courses[p.ranOn].lap > 0 {
		own = .04
	}
	level := p.level
	if m.sport == "bike" || m.sport == "swim" {
		level = math.Pow(level, .8)
	}
	return metres / (usualSpeed[m.sport] * level) * hard * tired * math.Exp(bell(g, 0, own))
}

// pass is the speed over a line: a walk at a crowded start, a trot out of a change.
func (r *Race) pass(g *rand.Rand, p *person, m *mark) float64 {
	v := usualSpeed[m.sport] * p.level
	switch {
	case m.at == 0 && p.own != 0:
		return bell(g, 5, .5)
	case m.at == 0 && m.sport == "bike":
		return bell(g, 3.2, .5)
	case m.at == 0:
		return max(1, bell(g, 1.8, .22))
	case m.sport == "swim" || m.sport == "change":
		return max(1, bell(g, 2.2, .3))
	case r.perBib > 1 && m.sport == "bike": // dismounted, wheeling it in
		return max(1.2, bell(g, 2.5, .3))
	case r.Kind == "relay" && m.id != "finish":
		return max(1, bell(g, 2.4, .4))
	}
	return max(.8, v*bell(g, 1.03, .1))
}

// cross keeps a crossing, and at times the chip's coming back to the same antennas.
func (r *Race) cross(g *rand.Rand, i, k int, m mark, at int64, speed float64, note uint8) {
	p := &r.people[i]
	v := r.visitOf(g, i, visit{at: at, split: int16(k), dir: int8(m.dir), speed: float32(speed), note: note})
	r.shield(g, &v, p)
	r.place(m.line, v)
	if k >= 0 && k == p.besideAt {
		if other := r.lines[m.line].beside; other >= 0 {
			r.place(other, r.visitOf(g, i, visit{at: at + micros(bell(g, 0, 2)), until: at + 3*second, sort: glancing, split: -1}))
		}
	}
	if k >= 0 && r.rates.Extra > 0 && g.Float64() < r.rates.Extra {
		from := at + micros(between(g, 40, 360))
		r.place(m.line, r.visitOf(g, i, visit{at: from, until: from + micros(between(g, 2, 12)), sort: staying, split: -1}))
	}
}

func (r *Race) visitOf(g *rand.Rand, i int, v visit) visit {
	v.body, v.stray = int32(i), -1
	v.lane = uint8(min(8, max(1, r.people[i].lane+g.IntN(3)-1)))
	if v.speed == 0 {
		v.speed = 1
	}
	if v.dir == 0 {
		v.dir = 1
	}
	return v
}

func (r *Race) place(line int, v visit) { r.visits[line] = append(r.visits[line], v) }

// packs are the lap times of a bunch race: for each bunch, the seconds after the gun at
// which it passes each lap.
func (r *Race) packs(g *rand.Rand) [][][]float64 {
	out := make([][][]float64, len(r.courses))
	for c := range r.courses {
		k := &r.courses[c]
		if k.bunch == 0 {
			continue
		}
		n := max(2, r.size/k.bunch)
		for b := range n {
			t, speed := 0.0, 11.6*(1-.045*float64(b))
			var times []float64
			for range k.marks {
				t += k.lap / (speed * bell(g, 1, .015))
				times = append(times, t)
			}
			out[c] = append(out[c], times)
		}
	}
	return out
}

// ride takes a rider round with a bunch; who loses it falls back to the next.
func (r *Race) ride(g *rand.Rand, i int, packs [][]float64) {
	p := &r.people[i]
	c := &r.courses[p.ranOn]
	b := min(len(packs)-1, int(float64(len(packs))*math.Pow(g.Float64(), 1.4)))
	gun, last, lag := r.waves[p.ranWave].gun, int64(0), int64(0)
	for k := range c.marks {
		if k == p.dropAt {
			return
		}
		if k > 0 && g.Float64() < .012 && b < len(packs)-1 {
			// They go on from where they are, at the slower bunch's speed.
			lag += micros(packs[b][k-1] - packs[b+1][k-1])
			b++
		}
		spread := .9
		if k == c.finish() {
			spread = 1.6
		}
		if k == p.stopAt {
			lag += micros(p.stopFor)
		}
		at := gun + micros(packs[b][k]+spread*g.Float64()*g.Float64()) + lag
		if most := last + micros(c.lap/17); at < most {
			at = most
		}
		last = at
		r.cross(g, i, k, c.marks[k], at, bell(g, 11.8, .4), noNote)
	}
}

// flagOff takes everyone off the course at their first passing after the leader's last.
func (r *Race) flagOff() {
	for c := range r.courses {
		k := &r.courses[c]
		if !k.flagged {
			continue
		}
		line, first := k.marks[k.finish()].line, int64(math.MaxInt64)
		for _, v := range r.visits[line] {
			if int(v.split) == k.finish() && v.body >= 0 && r.people[v.body].ranOn == c {
				first = min(first, v.at)
			}
		}
		k.flag = first
		next := map[int32]int64{} // each rider's last passing
		for _, v := range r.visits[line] {
			if at, ok := next[v.body]; v.at >= first && (!ok || v.at < at) {
				next[v.body] = v.at
			}
		}
		r.visits[line] = slices.DeleteFunc(r.visits[line], func(v visit) bool {
			at, ok := next[v.body]
			return ok && v.at > at && r.people[v.body].ranOn == c
		})
	}
}

// passStrays brings the chips of no one here past a line.
func (r *Race) passStrays(g *rand.Rand) {
	for s := range r.strays {
		l := r.strays[s].line
		if len(r.visits[l]) == 0 {
			continue
		}
		at := r.visits[l][g.IntN(len(r.visits[l]))].at + micros(between(g, -300, 300))
		r.place(l, visit{at: at, body: -1, stray: int32(s), split: -1, dir: 1, lane: uint8(1 + g.IntN(8)), speed: float32(bell(g, 2, .3)), loss: 2})
	}
}
