package suspect

import (
	"fmt"

	"twinmat/reconcile/race"
)

// fewReads of one system alone are of somebody who stayed about a line: whoever crosses it is read more often.
const fewReads = 4

// readSoon is the passing that main or backup read well at the same line soon after one that a person keyed
// alone, and that fills nothing. Either no system heard the crossing, and they lingered, or the bib was keyed
// before they came, or by a slip for another: nobody can tell but who was there.
func readSoon(r *race.Result, split int, p *race.Passing) *race.Passing {
	if !keyedOnly(p) || p.Bursts[race.Hand].Witness != 0 || p.Ruling > 0 {
		return nil
	}
	reach := min(strayReach, wayRound(r, split, p)/2)
	for n := range r.Passings {
		q := &r.Passings[n]
		if q.Line != p.Line || q.Split >= 0 || q.Fate != race.Extra && q.Fate != race.StayedNear || !heardWell(q) {
			continue
		}
		if d := q.At.Sub(p.At); d > 0 && d < reach && !between(r, p.Line, p.At, q.At) {
			return q
		}
	}
	return nil
}

// heardWell tells whether main and backup both read a passing, or one of them did by more than a few reads.
func heardWell(p *race.Passing) bool {
	m, b := p.Bursts[race.Main], p.Bursts[race.Backup]
	few := func(x *race.Burst) bool { return x == nil || x.Count <= fewReads }
	return m != nil && b != nil || !few(m) || !few(b)
}

// keyedFirst is the clash of a bib that a person keyed with what a system read of it afterwards. Main's time
// would count before a hand's, and is the later one: it holds.
func (f *field) keyedFirst(r *race.Result, k int, p, q *race.Passing) race.Suspect {
	sp := &r.Splits[k]
	s := f.clashWith(r, k, p)
	by := "Main"
	if q.Bursts[race.Main] == nil {
		by = "Backup"
	}
	s.Says = fmt.Sprintf("%s was keyed at %s at %s, and no system read them then. %s did %.1f s later, at %s.", r.Bib, sp.ID, f.clock(p.At), by, q.At.Sub(p.At).Seconds(), f.clock(q.At))
	s.Proposes = voidPassing(r.Bib, f.line(p.Line), f.when(p.At))
	s.Others = []string{accept(s.ID)}
	s.Evidence = mark(p) + " keyed before " + mark(q)
	return s
}

// toldByKeyed tells whether a passing is what a keyed one clashes with: that tells of both.
func toldByKeyed(r *race.Result, q *race.Passing) bool {
	for k, n := range r.Filled {
		if n >= 0 && r.Passings[n].Line == q.Line && readSoon(r, k, &r.Passings[n]) == q {
			return true
		}
	}
	return false
}
