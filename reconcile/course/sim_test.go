package course

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"twinmat/reconcile/race"
)

// The invented fields that measure the assignment. Who is missed is missed by every system;
// the truth of each passing is known.

// crossing is a made passing with what it truly is.
type crossing struct {
	Passing
	split int  // that it fills, noSplit: none (a warm-up, a read from the line beside)
	again bool // another read of the same crossing
}

const noSplit = -1

// made is one athlete's invented race.
type made struct {
	a    Anchor
	seen []crossing
}

// maker invents athletes on a course.
type maker struct {
	rng  *rand.Rand
	c    *race.Course
	miss float64 // share of crossings that all systems miss
	re   float64 // share of crossings read again
	late float64 // at most so many seconds later, 40 at least
	all  []made
}

func newMaker(seed uint64, c *race.Course, miss, re float64) *maker {
	return &maker{rng: rand.New(rand.NewPCG(seed, 2026)), c: c, miss: miss, re: re, late: 360}
}

// normal is a draw of the mean and sd.
func (m *maker) normal(mean, sd float64) float64 { return mean + sd*m.rng.NormFloat64() }

func (m *maker) between(a, b float64) float64 { return a + (b-a)*m.rng.Float64() }

func (m *maker) chance(p float64) bool { return m.rng.Float64() < p }

// sees makes the passing of a crossing at so many seconds after the gun: mostly by both
// systems and in full.
func (m *maker) sees(line int, at float64) Passing {
	p := Passing{Line: line, At: race.Instant(math.Round(at * 1000)), Systems: 2, Full: math.Min(1, m.between(.4, 1.6))}
	if m.chance(.05) {
		p.Systems = 1
		if m.chance(.6) {
			p.Best = race.Backup
		}
	}
	return p
}

// weak makes the read of an antenna that hears somebody pass the line beside.
func (m *maker) weak(line int, at float64) Passing {
	p := m.sees(line, at)
	p.Systems, p.Full, p.Best = 1, m.between(.05, .25), race.Main
	return p
}

// cross adds the crossing of a split, if it is seen, and its reads again.
func (a *made) cross(m *maker, split int, at float64) {
	line := m.c.Splits[min(split, len(m.c.Splits)-1)].Line
	if !m.chance(m.miss) {
		a.seen = append(a.seen, crossing{Passing: m.sees(line, at), split: split})
	}
	if m.chance(m.re) {
		a.seen = append(a.seen, crossing{Passing: m.sees(line, at+m.between(40, m.late)), split: split, again: true})
	}
}

func (a *made) stray(p Passing) { a.seen = append(a.seen, crossing{Passing: p, split: noSplit}) }

func (a *made) linger(m *maker, line, split int, at float64) {
	a.seen = append(a.seen, crossing{Passing: m.sees(line, at), split: split, again: true})
}

func (m *maker) add(a made) {
	slices.SortStableFunc(a.seen, func(x, y crossing) int { return int(x.At - y.At) })
	a.a.Bib = strconv.Itoa(1 + len(m.all))
	m.all = append(m.all, a)
}

// score is how a field came out.
type score struct {
	passings, wrong    int
	athletes, laps     int    // laps: athletes whose furthest split is wrong
	doubtful, doubtedW int    // passings called doubtful, wrong passings among them
	failed             string // the passings of one that came out wrong
}

func (s *score) sum(t score) {
	s.passings, s.wrong, s.athletes, s.laps = s.passings+t.passings, s.wrong+t.wrong, s.athletes+t.athletes, s.laps+t.laps
	s.doubtful, s.doubtedW = s.doubtful+t.doubtful, s.doubtedW+t.doubtedW
	if s.failed == "" {
		s.failed = t.failed
	}
}

func (s score) String() string {
	return fmt.Sprintf("%d of %d passings wrong (%.3f %%), %d of %d athletes end at a wrong split (%.3f %%); %d doubtful, %d of the wrong among them",
		s.wrong, s.passings, 100*float64(s.wrong)/float64(s.passings), s.laps, s.athletes, 100*float64(s.laps)/float64(s.athletes), s.doubtful, s.doubtedW)
}

// passings are what the assignment is given.
func (a *made) passings() []Passing {
	ps := make([]Passing, len(a.seen))
	for i := range a.seen {
		ps[i] = a.seen[i].Passing
	}
	return ps
}

// twice assigns a field as a race does: first with nothing learnt, then with what that taught.
func (m *maker) twice() (got []Assignment, f Field) {
	got = make([]Assignment, len(m.all))
	var runs []Run
	for i := range m.all {
		ps := m.all[i].passings()
		got[i] = Assign(m.c, ps, m.all[i].a, nil)
		r := Run{Bib: m.all[i].a.Bib, Gun: m.all[i].a.Gun, Start: race.NoInstant, Times: make([]race.Instant, len(got[i].Splits))}
		for s := range r.Times {
			r.Times[s] = race.NoInstant
		}
		for k, s := range got[i].Split {
			if s >= 0 {
				r.Times[s] = ps[k].At
			}
		}
		if got[i].Start >= 0 {
			r.Start = ps[got[i].Start].At
		}
		for k, p := range ps {
			if k == got[i].Start {
				continue
			}
			if line, ok := RoundLine(m.c); ok && p.Line == line {
				r.Laps = append(r.Laps, Crossing{At: p.At})
			}
		}
		runs = append(runs, r)
	}
	f = Learn(m.c, runs)
	for i := range m.all {
		got[i] = Assign(m.c, m.all[i].passings(), m.all[i].a, &f)
	}
	return got, f
}

// score assigns the field and judges each passing. Another read of a crossing may fill its
// split, or none; a crossing may be left out where another read of it fills the split.
func (m *maker) score() score {
	var s score
	got, _ := m.twice()
	for i := range m.all {
		s.sum(judge(&m.all[i], &got[i]))
	}
	return s
}

func judge(a *made, got *Assignment) score {
	s := score{athletes: 1}
	filled := map[int]bool{}
	for k, split := range got.Split {
		if split >= 0 && split == a.seen[k].split {
			filled[split] = true
		}
	}
	last, want := -1, -1
	for k, x := range a.seen {
		split := got.Split[k]
		last, want = max(last, split), max(want, x.split)
		s.passings++
		if got.Doubtful[k] {
			s.doubtful++
		}
		if split == x.split || split == -1 && (x.again || filled[x.split]) {
			continue
		}
		s.wrong++
		if got.Doubtful[k] {
			s.doubtedW++
		}
	}
	if last != want {
		s.laps++
	}
	if s.wrong > 0 || s.laps > 0 {
		s.failed = a.show(got)
	}
	return s
}

// show tells an athlete's passings, for a test that failed.
func (a *made) show(got *Assignment) string {
	t := ""
	for k, x := range a.seen {
		mark := ""
		if x.again {
			mark = "'"
		}
		if got.Split[k] != x.split {
			mark += "!"
		}
		t += fmt.Sprintf(" L%d@%.0f s:%d%s→%d", x.Line, x.At.Sub(0).Seconds(), x.split, mark, got.Split[k])
	}
	return t
}

// seeds runs a kind of race over seeds from one up to another.
func seeds(from, to uint64, make func(seed uint64) *maker) score {
	var s score
	for seed := from; seed < to; seed++ {
		s.sum(make(seed).score())
	}
	return s
}

// crossings are moments at the line of laps, well heard.
func crossings(at []race.Instant) []Crossing {
	xs := make([]Crossing, len(at))
	for k := range at {
		xs[k] = Crossing{At: at[k]}
	}
	return xs
}
