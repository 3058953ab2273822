package invent

import (
	"math"
	"math/rand/v2"
	"strconv"
)

// person is a row of athletes.csv and whoever wears its bib.
type person struct {
	bib                       int
	name, sex, category, team string
	born                      int
	wave                      int // as listed
	status                    string
	listed                    bool
	own                       int64    // their own gun, 0: the wave's
	chips                     []chip   // as chips.csv has them
	worn                      []worn   // as truly worn
	tags                      []string // of worn

	level   float64 // speed against the sport's usual
	seat    float64 // place in the start crowd: small is near the front
	hidden  float64 // how often their chip is hidden, against the usual
	lane    int
	ranWave int // whose gun they left by
	ranOn   int // the course they took

	// What goes wrong with them; -1 or 0 where nothing does.
	dropAt     int // mark that they never reach, -1: none
	cut, cutTo int // first and last of the marks that they left out, -1: none
	cutSpeed   float64
	stopAt     int // mark before which they stop
	stopFor    float64
	before     float64 // seconds that they leave before the gun
	warm       float64 // seconds before the gun of a crossing to warm up
	standStart bool
	standEnd   bool
	absent     bool
	besideAt   int // mark near which another line hears them, -1: none

	// The truth's own words.
	identity, note string
	fate           string // dsq, dnf, dns once everything is ruled; "" : clean
	known          bool   // wrong in a way that holds them before a ruling
	unsure         bool   // may be held
}

// chip is a row of chips.csv; from and to are 0 where it is theirs all day.
type chip struct {
	tag      string
	from, to int64
}

// worn is a chip on a body. One that another's bib owns tells of that bib.
type worn struct {
	tag     string
	owner   int  // person whose bib chips.csv gives it, -1: none
	carried bool // someone else's, carried along
}

// stray is a chip of no one here that comes past a line.
type stray struct {
	tag  string
	line int
}

// enter invents the people and gives them chips.
func (r *Race) enter() {
	g := r.rng("people")
	clubs := clubNames(g, 8+r.size/60)
	r.people = make([]person, r.size)
	year := r.day.Year()
	bunches := map[string]bool{}
	for i := range r.people {
		p := &r.people[i]
		*p = person{bib: i + 1, listed: true, dropAt: -1, cut: -1, cutTo: -1, stopAt: -1, besideAt: -1}
		p.sex = "m"
		if g.Float64() < .42 {
			p.sex = "f"
		}
		for range 20 {
			if p.name = personName(g, p.sex); !bunches[p.name] {
				break
			}
		}
		bunches[p.name] = true
		p.born = year - 18 - min(60, int(math.Abs(bell(g, 18, 12))))
		p.category = category(p.sex, p.born, year)
		if g.Float64() < .6 {
			p.team = one(g, clubs)
		}
		p.level = math.Exp(bell(g, 0, .15))
		if p.sex == "f" {
			p.level *= .91
		}
		p.level *= 1 - .004*max(0, float64(year-p.born-38))
		p.hidden = math.Exp(bell(g, -.3, .8))
		p.lane = 1 + g.IntN(8)
	}
	r.seatWaves(g)
	half := (len(r.people) + 1) / 2
	for i := range r.people {
		p := &r.people[i]
		if r.again != 0 && i >= half {
			tag := r.people[i-half].chips[0].tag
			p.chips = []chip{{tag: tag, from: r.again}}
			p.worn = []worn{{tag: tag, owner: i}}
			continue
		}
		for k := range r.perBib {
			tag := r.tagOf(g, p.bib, k)
			p.chips = append(p.chips, chip{tag: tag, to: r.again})
			p.worn = append(p.worn, worn{tag: tag, owner: i})
		}
	}
}

// seatWaves puts the faster into the earlier waves of each course, roughly, and numbers
// bibs by wave.
func (r *Race) seatWaves(g *rand.Rand) {
	left := make([]int, len(r.waves))
	given := 0
	for w := range r.waves {
		left[w] = int(math.Round(r.waves[w].share * float64(r.size)))
		given += left[w]
	}
	left[0] = max(0, left[0]+r.size-given)
	i := 0
	for w := range r.waves {
		for range left[w] {
			if i < r.size {
				r.people[i].wave = w
				i++
			}
		}
	}
	for ; i < r.size; i++ {
		r.people[i].wave = len(r.waves) - 1
	}
	// Levels are dealt out again so that earlier waves of a course are faster on average.
	for c := range r.courses {
		n := 0
		for w := range r.waves {
			if r.waves[w].course == c {
				n++
			}
		}
		if n < 2 {
			continue
		}
		k := 0
		for w := range r.waves {
			if r.waves[w].course != c {
				continue
			}
			for i := range r.people {
				if r.people[i].wave == w {
					r.people[i].level *= 1.08 - .16*float64(k)/float64(n-1)
				}
			}
			k++
		}
	}
	for i := range r.people {
		p := &r.people[i]
		p.ranWave, p.ranOn = p.wave, r.waves[p.wave].course
		p.seat = math.Exp(bell(g, 0, .35)) / p.level
		if r.courses[p.ranOn].id == "time-trial" {
			p.own = r.waves[p.wave].gun + int64(i)*minute
		}
	}
}

func (p *person) label() string { return strconv.Itoa(p.bib) }

// gun is the moment that a person's times run from.
func (r *Race) gun(p *person) int64 {
	if p.own != 0 {
		return p.own
	}
	return r.waves[p.wave].gun
}
