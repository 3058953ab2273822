package reconcile

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// ending is when a flagged race ended.
type ending struct {
	at    race.Instant // the leader's finish: each rider's next passing is theirs; NoInstant: nobody is in
	notIn race.Instant // who seemed to be in by then wasn't; NoInstant: nobody did who wasn't
}

var noEnding = ending{at: race.NoInstant, notIn: race.NoInstant}

// flag ends the races of a flagged course at each rider's next passing after the leader's
// finish.
func (r *run) flag() {
	r.flags = make([]ending, len(r.plan.Courses))
	for c := range r.plan.Courses {
		r.flags[c] = noEnding
		if !r.plan.Courses[c].Flagged {
			continue
		}
		end := r.endOf(c)
		r.flags[c] = end
		if end == noEnding {
			continue
		}
		r.each(64, len(r.ents), func(i int) {
			if r.ents[i].course == c {
				r.assign(&r.ents[i], end)
			}
		})
	}
}

// finisher is somebody who seems to be in, and how well that is known.
type finisher struct {
	at   race.Instant
	most bool // read at most of their splits
	sure bool // at all of them, none in doubt, or it was ruled
}

// rodeOn is how many of those who are still in the race come round once more: few give up.
const rodeOn = 0.95

// endOf is when the leader of a flagged course came in, as far as anybody has. Who lay by the line
// is no leader, nor is, where others were read lap after lap, who was missed as often as not: one
// read at a tent would end everybody's race. Who was missed at any lap may have had a puncture
// instead, and be a lap short; whose laps are in doubt may have given up and come home over the
// line. Those who came to the line after such a finish, before anybody was surely in, tell that it
// was none if they rode on, more of them than come again of those who were flagged.
func (r *run) endOf(c int) ending {
	in, end := r.finishers(c), noEnding
	if len(in) == 0 {
		return end
	}
	end.at = in[0].at
	sure := slices.IndexFunc(in, func(x finisher) bool { return x.sure })
	if sure < 0 {
		return end
	}
	again, of := r.cameAgain(c, in[sure].at, math.MaxInt64, 0)
	cools := math.Min((again+0.5)/(of+1), rodeOn)
	for i := range in[:sure] {
		on, all := r.cameAgain(c, in[i].at, in[sure].at, 1)
		if float64(on*math.Log(rodeOn/cools))+float64((all-on)*math.Log((1-rodeOn)/(1-cools))) < sureOdds {
			return end
		}
		end.notIn, end.at = in[i].at, in[i+1].at
	}
	return end
}

// sureOdds in nats are twenty to one.
const sureOdds = 3

// finishers are those who seem to be in on a course, in order, as far as they may be its leader.
func (r *run) finishers(c int) []finisher {
	var in []finisher
	most := false
	for i := range r.ents {
		e := &r.ents[i]
		if e.course != c || !e.isIn() || !e.ridden() {
			continue
		}
		n, of, doubt := 0, 0, false
		for s, k := range e.filled {
			if e.splits[s].At > 0 {
				of++
				if k >= 0 {
					n++
					doubt = doubt || e.passings[k].Doubtful
				}
			}
		}
		_, ruled := e.extra.set[e.splits[len(e.splits)-1].ID]
		x := finisher{at: e.last().At, most: 2*n > of, sure: ruled || n == of && !doubt}
		in, most = append(in, x), most || x.most
	}
	if most {
		in = slices.DeleteFunc(in, func(x finisher) bool { return !x.most })
	}
	slices.SortStableFunc(in, func(a, b finisher) int { return cmp.Compare(a.at, b.at) })
	return in
}

// isIn tells whether an entrant has filled the last of their splits, and last is with what.
func (e *entrant) isIn() bool { return len(e.filled) > 0 && e.filled[len(e.filled)-1] >= 0 }

func (e *entrant) last() *race.Passing { return &e.passings[e.filled[len(e.filled)-1]] }

// cameAgain tells of those who came to the line of a finish after one moment and before another, and
// weren't in, how many have come again, and of how many: who hasn't counts more the longer they have had
// time to, from so many laps on. Who cools down may come at any time, who rides on hardly before a lap.
func (r *run) cameAgain(c int, from, to race.Instant, since float64) (again, of float64) {
	splits := r.plan.Courses[c].Splits
	line, latest := splits[len(splits)-1].Line, race.NoInstant
	for i := range r.ents {
		if e := &r.ents[i]; e.course == c && len(e.passings) > 0 {
			latest = max(latest, e.passings[len(e.passings)-1].At)
		}
	}
	for i := range r.ents {
		e := &r.ents[i]
		if e.course != c {
			continue
		}
		came, before, more := e.cameWithin(line, from, to)
		switch {
		case !came.Known() || !before.Known() || came <= before || e.isIn() && e.last().At <= came:
		case more:
			again, of = again+1, of+1
		default:
			laps := float64(latest.Sub(came)) / float64(came.Sub(before))
			of += math.Min(math.Max(0, (laps-since)/(timeToComeAgain-since)), 1)
		}
	}
	return again, of
}

// timeToComeAgain in laps is when who hasn't come again doesn't.
const timeToComeAgain = 2

// cameWithin is when an entrant first filled a split on a line after one moment and before another,
// when they had filled the one before there, and whether they filled another since.
func (e *entrant) cameWithin(line int, from, to race.Instant) (came, before race.Instant, again bool) {
	came, before = race.NoInstant, e.gun
	for s, k := range e.filled {
		if k < 0 || e.splits[s].Line != line {
			continue
		}
		switch now := e.passings[k].At; {
		case came.Known():
			return came, before, true
		case now <= from:
			before = now
		case now < to:
			came = now
		default:
			return came, before, false
		}
	}
	return came, before, false
}

// ridden tells whether an entrant's laps are those of somebody who rode.
func (e *entrant) ridden() bool {
	var times []race.Instant
	for _, k := range e.filled {
		if k >= 0 {
			times = append(times, e.passings[k].At)
		}
	}
	return course.Ridden(times)
}
