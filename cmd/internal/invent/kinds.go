package invent

import (
	"fmt"
	"math/rand/v2"
	"strconv"
)

// builders lay out each kind of race.
var builders = map[string]func(*Race, *rand.Rand){
	"demo": demo, "road": road, "marathon": marathon, "out-and-back": outAndBack, "laps": laps, "open-laps": openLaps, "day": dayRace,
	"relay": relay, "triathlon": triathlon, "mass-ride": massRide, "kart": kart, "time-trial": timeTrial, "dirty": dirty,
	"steps": func(r *Race, g *rand.Rand) { stepped(r, g, backupSystem) }, "steps-main": func(r *Race, g *rand.Rand) { stepped(r, g, mainSystem) },
	"flagged": flagged, "late-gun": lateGun, "sessions": sessions,
	"hand": handTimed, "two-courses": twoCourses, "village": village, "big": big,
}

var usualRates = Rates{Missed: .028, Shielded: .005}

// roadDay are the settings of a race on foot with passive chips.
func (r *Race) roadDay(size int, official string) {
	r.size, r.usual, r.chips, r.perBib, r.tagForm = size, usualRates, passive, 1, "hex"
	r.window, r.keep, r.official, r.rounding, r.resolve, r.maxSpeed = "5s", "first", official, "up-1s", .2, "12 m/s"
}

// roadLines lays the lines of a road race: a start walked over, a finish with a longer window.
func (r *Race) roadLines(g *rand.Rand, ids ...string) {
	for _, id := range ids {
		n := r.addLine(g, id, 2, "1s")
		switch id {
		case "start":
			r.lines[n].tolerance, r.lines[n].keep = "3s", "last"
			if r.official == "gun" {
				r.lines[n].keep = ""
			}
		case "finish":
			r.lines[n].window = "8s"
		}
	}
}

// straight is a course over every line in turn.
func (r *Race) straight(id string, at ...float64) course {
	c := course{id: id, sport: "run"}
	for k, d := range at {
		c.marks = append(c.marks, mark{id: r.lines[k].id, line: k, at: d, required: k > 0 && k < len(at)-1})
	}
	return c
}

func demo(r *Race, g *rand.Rand) {
	r.on("Quillmere Half", "2026-05-10", "Europe/Copenhagen")
	r.roadDay(320, "net")
	r.roadLines(g, "start", "5k", "10k", "15k", "20k", "finish")
	r.courses = []course{r.straight("half", 0, 5000, 10000, 15000, 20000, 21097.5)}
	r.courses[0].marks[4].required = false
	r.waves = []wave{started("A", 0, r.at(0, 9, 30, 0), .55), started("B", 0, r.at(0, 9, 36, 0), .45)}
	// Set by hand on the morning, to the wrong zone and not even that well.
	r.lines[2].logs[1].clock.offset = 3600 + between(g, 11, 14)
	r.ills = ills{dns: 1, absent: .5, dnsRuns: .3, drop: 1, dnf: .5, spare: .6, unlisted: .3, swap: .3, carry: .3, cut: .6, early: .3, late: .3,
		warm: .6, standStart: .6, standFinish: 1.5, stop: .6, foreign: 1, dead: []outage{{5, mainSystem, .45, 4 * minute}}}
}

func road(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Ten", "2026-09-06", "Europe/Warsaw")
	r.roadDay(500, "gun")
	r.roadLines(g, "start", "5k", "finish")
	p := &r.lines[1].logs[0]
	p.offset, p.clock.offset = "+2.500s", 2.5
	r.courses = []course{r.straight("10k", 0, 5000, 10000)}
	r.courses[0].limit = "2h30m"
	r.waves = []wave{started("red", 0, r.at(0, 10, 0, 0), .5), started("blue", 0, r.at(0, 10, 8, 0), .5)}
	r.ills = ills{dns: 1, absent: .6, dnsRuns: .3, drop: .8, dnf: .4, spare: .6, unlisted: .3, swap: .4, carry: .3, cut: .5, early: .4, late: .5,
		warm: .6, standStart: .4, standFinish: 1.5, stop: .4, foreign: 1, dead: []outage{{2, backupSystem, .3, 3 * minute}}}
}

func marathon(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Marathon", "2026-10-04", "Europe/Lisbon")
	r.roadDay(600, "net")
	r.roadLines(g, "start", "10k", "half", "30k", "finish")
	r.lines[1].keep = "strongest"
	r.courses = []course{r.straight("marathon", 0, 10000, 21097.5, 30000, 42195)}
	r.courses[0].marks[1].required = false
	r.waves = []wave{started("A", 0, r.at(0, 9, 0, 0), .35), started("B", 0, r.at(0, 9, 4, 0), .35), started("C", 0, r.at(0, 9, 9, 30), .3)}
	r.ills = ills{dns: 1, absent: .4, dnsRuns: .3, drop: 1.2, dnf: .6, spare: .5, unlisted: .3, swap: .4, carry: .3, cut: .5, early: .3, late: .4,
		warm: .4, standStart: .6, standFinish: 1.5, stop: 1, foreign: 1,
		dead: []outage{{4, mainSystem, .5, 4 * minute}, {2, backupSystem, .35, 5 * minute}}}
}

func outAndBack(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" and Back", "2026-03-15", "Europe/Dublin")
	r.roadDay(240, "gun")
	p := r.addLine(g, "quay", 2, "2s")
	r.lines[p].window = "8s"
	h := r.addLine(g, "head", 2, "1s")
	r.courses = []course{{id: "20k", sport: "run", marks: []mark{{id: "start", line: p, at: 0}, {id: "5k", line: h, at: 5000, required: true},
		{id: "15k", line: h, at: 15000, required: true, dir: -1}, {id: "finish", line: p, at: 20000}}}}
	r.waves = []wave{started("A", 0, r.at(0, 9, 45, 0), 1)}
	r.ills = ills{dns: .6, absent: .5, drop: .6, dnf: .4, early: .4, stop: .5, standFinish: 1.2, spare: .4, turn: .8}
}

func laps(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Criterium", "2026-06-13", "Europe/Brussels")
	r.size, r.usual, r.chips, r.perBib, r.tagForm = 80, Rates{Missed: .03, Shielded: .004}, fine, 1, "short"
	r.window, r.keep, r.official, r.rounding, r.resolve, r.maxSpeed = "5s", "strongest", "gun", "up-0.01s", .01, "30 m/s"
	n := r.addLine(g, "finish", 3, "0.2s")
	r.lines[n].window, r.lines[n].keep = "3s", "strongest"
	r.courses = []course{{id: "criterium", sport: "bike", repeat: 40, lap: 1800, bunch: 16,
		marks: []mark{{id: "lap", line: n, at: 1800, required: true}}}}
	r.waves = []wave{started("A", 0, r.at(0, 18, 30, 0), 1)}
	r.ills = ills{dns: 1.5, drop: 2.5, dnf: 2.5}
}

func triathlon(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" Triathlon", "2026-07-12", "Europe/Vienna")
	r.roadDay(120, "gun")
	r.perBib, r.tagForm, r.maxSpeed, r.usual = 2, "scattered", "30 m/s", Rates{Missed: .03, Shielded: .004}
	for _, id := range []string{"swim-out", "bike-out", "bike-in", "run-out", "finish"} {
		n := r.addLine(g, id, 1.5, "2s")
		if id == "finish" {
			r.lines[n].window, r.lines[n].tolerance, r.lines[n].behind = "8s", "1s", 2
		}
	}
	r.lines[1].beside, r.lines[2].beside, r.lines[3].beside = 2, 1, 2
	r.courses = []course{{id: "olympic", sport: "run", marks: []mark{{id: "swim", line: 0, at: 1500, required: true, sport: "swim"},
		{id: "t1", line: 1, at: 1700, sport: "change"}, {id: "bike", line: 2, at: 41700, required: true, sport: "bike"},
		{id: "t2", line: 3, at: 41900, sport: "change"}, {id: "finish", line: 4, at: 51900}}}}
	for w := range 4 {
		r.waves = append(r.waves, started(string(rune('A'+w)), 0, r.at(0, 8, 5*w, 0), .25))
	}
	r.ills = ills{dns: 1, absent: .5, dnsRuns: .8, drop: 1, dnf: 1, spare: 1, mixed: .8, beside: 5, stop: 1, standFinish: 1.5}
}

func dirty(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" 10", "2026-04-19", "Europe/London")
	r.roadDay(120, "gun")
	r.tagForm = "digits"
	r.roadLines(g, "start", "5k", "finish")
	r.lines[0].tolerance = "2s"
	r.courses = []course{r.straight("10k", 0, 5000, 10000)}
	r.waves = []wave{started("A", 0, r.at(0, 10, 0, 0), 1)}
	soils := [3][2]string{{"quoted", "shuffled"}, {"wide", "bare"}, {"split", "twice"}}
	forms := [3][2]string{{"quoted", "semicolon-comma"}, {"tab", "bare-clock"}, {"plain-z", "llrp"}}
	for l := range r.lines {
		for s := range 2 {
			r.lines[l].logs[s].form, r.lines[l].logs[s].soil = forms[l][s], soils[l][s]
		}
		r.lines[l].behind = 0
		r.lines[l].logs[1].clock.ppm = 0
	}
	r.lines[2].logs[0].path = "logs/finish-main*.csv"
	r.usual = Rates{Missed: .02}
	r.ills = ills{}
}

func big(r *Race, g *rand.Rand) {
	r.on(placeName(g)+" City Marathon", "2026-04-26", "Europe/Rome")
	r.roadDay(50_000, "net")
	r.chips = sparse
	ids := []string{"start"}
	at := []float64{0}
	for k := 1; k <= 8; k++ {
		ids = append(ids, strconv.Itoa(5*k)+"k")
		at = append(at, float64(5000*k))
	}
	r.roadLines(g, append(ids, "finish")...)
	r.courses = []course{r.straight("marathon", append(at, 42195)...)}
	for l := range r.lines {
		for k := range r.lines[l].logs {
			r.lines[l].logs[k].form = "plain"
		}
	}
	for w := range 10 {
		r.waves = append(r.waves, started(fmt.Sprintf("%c", 'A'+w), 0, r.at(0, 9, 6*w, 0), .1))
	}
	r.ills = ills{dns: 1, absent: .2, dnsRuns: .05, drop: .6, dnf: .3, spare: .05, unlisted: .02, swap: .05, carry: .02, cut: .05, early: .05, late: .1,
		warm: .1, standStart: .2, standFinish: .6, stop: .4, foreign: 3, dead: []outage{{9, mainSystem, .4, 4 * minute}, {4, backupSystem, .6, 6 * minute}}}
}
