package invent

import (
	"fmt"
	"math/rand/v2"
)

func openLaps(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Six Hours", "2026-08-22", "Europe/Vilnius")
	r.roadDay(60, "gun")
	r.loops(g, 1500, 6*3600*second)
	r.courses[0].id = "six-hours"
	r.waves = []wave{started("A", 0, r.at(0, 20, 0, 0), 1)} // over midnight
	r.ills = ills{dns: 1, absent: 1}
}

// loops is one line that a course goes round to until its time is up.
func (r *Race) loops(g *rand.Rand, lap float64, limit int64) {
	n := r.addLine(g, "finish", 2, "1s")
	r.lines[n].window = "8s"
	r.maxSpeed = "7 m/s"
	r.courses = []course{{sport: "run", open: true, lap: lap, timeLimit: limit, marks: []mark{{id: "lap", line: n, at: lap}}}}
}

// dayRace lasts 24 hours over a change of summer time, one way or the other by its seed,
// with logs that show nothing but the time of day.
func dayRace(r *Race, g *rand.Rand) {
	date := "2026-10-24"
	if r.Seed%2 == 1 {
		date = "2026-03-28"
	}
	r.on(placeName(g)+" Day and Night", date, "Europe/Helsinki")
	r.roadDay(40, "gun")
	r.loops(g, 2500, 24*3600*second)
	r.courses[0].id = "day"
	r.lines[0].logs[0].form, r.lines[0].logs[1].form = "clock", "clock"
	if r.Seed%4 > 1 {
		r.lines[0].logs[0].form = "plain"
	}
	r.waves = []wave{started("A", 0, r.at(0, 12, 0, 0), 1)}
	r.ills = ills{dns: 1, absent: 1}
}

func relay(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Relay", "2026-05-23", "Europe/Prague")
	r.roadDay(60, "gun")
	r.perBib, r.usual = 2, Rates{Missed: .05, Shielded: .006} // a baton's two ends, one of them in a hand
	s := r.addLine(g, "stadium", 2, "2s")
	r.lines[s].window = "20s" // who hands over stands about
	b := r.addLine(g, "bridge", 2, "1s")
	c := course{id: "relay", sport: "run", legs: 2}
	at := 0.0
	for leg, d := range []float64{5000, 5000, 10000, 5000} {
		c.marks = append(c.marks, mark{id: fmt.Sprintf("bridge-%d", leg+1), line: b, at: at + d/2, required: true})
		at += d
		id := fmt.Sprintf("leg-%d", leg+1)
		if leg == 3 {
			id = "finish"
		}
		c.marks = append(c.marks, mark{id: id, line: s, at: at, required: true})
	}
	r.courses = []course{c}
	r.waves = []wave{started("A", 0, r.at(0, 11, 0, 0), 1)}
	r.ills = ills{dns: 1, dnf: 1, drop: 1, mixed: 1, spare: 1}
}

func massRide(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Hundred", "2026-06-28", "Europe/Oslo")
	r.roadDay(700, "net")
	r.maxSpeed, r.chips = "28 m/s", chipSort{reach: 2.5, poll: .024, share: .002, peak: -45, noise: 1.6}
	r.roadLines(g, "start", "climb", "ferry", "finish")
	for l := 1; l < 4; l++ {
		r.lines[l].behind = 3
	}
	r.courses = []course{r.straight("hundred", 0, 34000, 71000, 104000)}
	r.courses[0].sport = "bike"
	for w := range 4 {
		r.waves = append(r.waves, started(fmt.Sprintf("%d", w+1), 0, r.at(0, 7, 3*w, 0), .25))
	}
	r.ills = ills{dns: 1, absent: .5, drop: .6, dnf: .4, spare: .4, unlisted: .3, swap: .3, carry: .3, cut: .3, late: .5, early: .3, standFinish: 1,
		stop: .8, foreign: 1, dead: []outage{{2, mainSystem, .5, 5 * minute}}}
}

func kart(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Kart Evening", "2026-07-03", "Europe/Madrid")
	r.size, r.usual, r.chips, r.perBib, r.tagForm = 22, Rates{Missed: .008, Shielded: .001}, active, 1, "short"
	r.window, r.keep, r.official, r.rounding, r.resolve, r.maxSpeed = "3s", "first", "gun", "none", .003, "70 m/s"
	n := r.addLine(g, "loop", 1, "0.05s")
	r.courses = []course{{id: "final", sport: "kart", repeat: 25, lap: 1040, marks: []mark{{id: "lap", line: n, at: 1040, required: true}}}}
	r.waves = []wave{started("A", 0, r.at(0, 21, 15, 0), 1)}
	r.ills = ills{dnf: 4}
}

// timeTrial sends one off each minute, each by their own gun.
func timeTrial(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Against the Clock", "2026-05-31", "Europe/Rome")
	r.size, r.usual, r.chips, r.perBib, r.tagForm = 90, Rates{Missed: .03, Shielded: .004}, fine, 1, "short"
	r.window, r.keep, r.official, r.rounding, r.resolve, r.maxSpeed = "5s", "strongest", "gun", "up-0.1s", .01, "30 m/s"
	h := r.addLine(g, "hill", 3, "0.5s")
	f := r.addLine(g, "finish", 3, "0.5s")
	r.courses = []course{{id: "time-trial", sport: "bike", marks: []mark{{id: "hill", line: h, at: 12400, required: true}, {id: "finish", line: f, at: 26100}}}}
	r.waves = []wave{started("A", 0, r.at(0, 10, 0, 0), 1)}
	r.ills = ills{dns: 1, dnf: 1, spare: 1}
}

// stepped has one clock set again in mid-race, a backup's or main's.
func stepped(r *Race, g *rand.Rand, system int) {
	r.on(placeName(g)+" Fifteen", "2026-11-08", "Europe/Paris")
	r.roadDay(420, "gun")
	r.roadLines(g, "start", "5k", "10k", "finish")
	r.courses = []course{r.straight("15k", 0, 5000, 10000, 15000)}
	r.waves = []wave{started("A", 0, r.at(0, 10, 30, 0), .5), started("B", 0, r.at(0, 10, 36, 0), .5)}
	by := .75
	if g.Float64() < .5 {
		by = -.75
	}
	line := 2 + g.IntN(2)
	r.steps = []stepPlan{{line, system, between(g, .35, .65), by}}
	r.ills = ills{dns: .5, dnf: .5, standFinish: .5}
}

// handTimed has someone with a keyboard: at the finish beside main and backup, and at a
// line in the woods beside main alone.
func handTimed(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Trail", "2026-09-19", "Europe/Zagreb")
	r.roadDay(180, "gun")
	r.roadLines(g, "start", "woods", "finish")
	w := &r.lines[1]
	w.logs = w.logs[:1]
	r.addHand(g, 1)
	r.addHand(g, 2)
	r.courses = []course{r.straight("trail", 0, 9000, 18000)}
	r.waves = []wave{started("A", 0, r.at(0, 9, 0, 0), 1)}
	r.ills = ills{dns: 1, drop: 1, dnf: 1, standFinish: 1, dead: []outage{{2, mainSystem, .5, 4 * minute}, {1, mainSystem, .3, 3 * minute}}}
}

// twoCourses share their lines; one split of the longer stands where nobody was told.
func twoCourses(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Half and Ten", "2026-05-03", "Europe/Berlin")
	r.roadDay(420, "net")
	r.roadLines(g, "start", "bridge", "mill", "finish")
	half := course{id: "half", sport: "run", marks: []mark{{id: "start", line: 0, at: 0}, {id: "5k", line: 1, at: 5000, required: true},
		{id: "13k", line: 2, at: 13000, truly: 13900, required: true}, {id: "17k", line: 1, at: 17000, required: true}, {id: "finish", line: 3, at: 21097.5}}}
	ten := course{id: "ten", sport: "run", marks: []mark{{id: "start", line: 0, at: 0}, {id: "5k", line: 1, at: 5000, required: true}, {id: "finish", line: 3, at: 10000}}}
	r.courses = []course{half, ten}
	a, b := r.at(0, 9, 0, 0), r.at(0, 9, 7, 0)
	r.waves = []wave{started("H1", 0, a, .3), started("H2", 0, b, .25), started("T1", 1, a, .25), started("T2", 1, b, .2)}
	r.note(trouble{kind: "line-off", line: 2, split: "13k", note: "planned at 13000 m, stands at 13900 m", must: "yes"})
	r.ills = ills{dns: 1, absent: .4, drop: .6, dnf: .4, spare: .4, swap: .3, early: .3, late: .4, otherCourse: 4, standFinish: 1}
}

func village(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Village Ten", "2026-06-07", "Europe/Amsterdam")
	r.roadDay(300, "gun")
	n := r.addLine(g, "green", 2, "2s") // start and finish
	r.lines[n].window = "8s"
	r.courses = []course{{id: "10k", sport: "run", marks: []mark{{id: "start", line: n, at: 0}, {id: "finish", line: n, at: 10000}}, limit: "2h"}}
	r.waves = []wave{started("A", 0, r.at(0, 10, 0, 0), 1)}
	r.ills = ills{dns: 1, absent: .6, drop: .6, dnf: .4, spare: .6, unlisted: .3, early: .4, warm: 1, standFinish: 2, foreign: 1}
}

// flagged is a criterium in which the lapped are taken off at the leader's finish.
func flagged(r *Race, g *rand.Rand) {
	laps(r, g)
	r.on(placeName(g)+" Evening Criterium", "2026-07-17", "Europe/Brussels")
	r.size = 60
	c := &r.courses[0]
	c.flagged, c.repeat, c.bunch = true, 30, 12
	r.waves[0].gun = r.at(0, 19, 0, 0)
}

// lateGun is a village race whose starter was late, which nobody has told the plan.
func lateGun(r *Race, g *rand.Rand) {
	village(r, g)
	r.on(placeName(g)+" Summer Ten", "2026-07-25", "Europe/Amsterdam")
	told := r.at(0, 10, 0, 0)
	r.waves = []wave{{id: "A", gun: told + micros(between(g, 35, 95)), share: 1, told: told}}
	r.ills = ills{dns: 1, drop: .6, dnf: .4, spare: .6, standFinish: 1}
}

// sessions hands the chips of the morning out again in the afternoon, and moves one pair of
// boxes from the bridge to the mill at noon.
func sessions(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Twice a Day", "2026-06-20", "Europe/Tallinn")
	r.roadDay(160, "gun")
	r.roadLines(g, "green", "bridge", "mill")
	r.lines[0].window = "8s"
	noon := r.at(0, 12, 30, 0)
	for s := range 2 {
		b, m := &r.lines[1].logs[s], &r.lines[2].logs[s]
		*m = *b
		m.line, m.continues = 2, true
		b.path = "logs/box-4-" + systemNames[s] + ".csv"
		m.path = b.path
		b.to, m.from = noon, noon
		b.box, m.box = "box-4-"+systemNames[s], "box-4-"+systemNames[s]
	}
	five := course{id: "five", sport: "run", marks: []mark{{id: "start", line: 0, at: 0}, {id: "2k", line: 1, at: 2200, required: true}, {id: "finish", line: 0, at: 5000}}}
	ten := course{id: "ten", sport: "run", marks: []mark{{id: "start", line: 0, at: 0}, {id: "6k", line: 2, at: 6100, required: true}, {id: "finish", line: 0, at: 10000}}}
	r.courses = []course{five, ten}
	r.waves = []wave{started("morning", 0, r.at(0, 10, 0, 0), .5), started("afternoon", 1, r.at(0, 14, 0, 0), .5)}
	r.again = noon
	r.ills = ills{dns: 1, drop: .8, dnf: .6, standFinish: 1}
}
