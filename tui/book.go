package tui

import (
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/standing"
)

// A book is a snapshot with what the screens look up in it: made once, away from the
// program's loop, never changed after. It orders and counts; what the race comes to is reconcile's to say.
type book struct {
	*race.State
	rev     int
	health  []Health
	notices []Notice
	pending string // what a changed plan that waits for a yes would do
	past    bool   // the race as it stood at an earlier moment

	cases
	*standing.Watch
	lastSeq int
	index   *index
	roster  *roster
}

// A roster stands for who is in a race under which bib, name and team: books that share one
// have the same athletes at the same places.
type roster struct{ _ byte } // not empty: two of them are two in memory

// rosterOf is that of a book, the one before where it still holds.
func rosterOf(b, prev *book) *roster {
	if prev == nil || len(b.Results) != len(prev.Results) {
		return &roster{}
	}
	for _, i := range b.Changed {
		if x, y := b.Results[i], prev.Results[i]; x.Bib != y.Bib || x.Name != y.Name || x.Team != y.Team {
			return &roster{}
		}
	}
	return prev.roster
}

// latestKept is how many crossings the screen can scroll back through.
const latestKept = 400

func newBook(u Update, prev *book) *book {
	b := &book{State: u.State, rev: u.Revision, health: u.Health, notices: u.Notices, pending: u.Pending}
	if b.State == nil {
		b.State = &race.State{Plan: &race.Plan{}, Now: race.NoInstant}
		if prev != nil {
			b.State = prev.State
		}
	}
	if b.health == nil && prev != nil {
		b.health = prev.health
	}
	for i := range b.Rulings {
		b.lastSeq = max(b.lastSeq, b.Rulings[i].Seq)
	}
	var watch *standing.Watch
	var before *cases
	var known *index
	var was *race.State
	if prev != nil {
		watch, before, known, was = prev.Watch, &prev.cases, prev.index, prev.State
	}
	b.Watch = standing.Look(b.State, latestKept, watch)
	b.roster = rosterOf(b, prev)
	b.index = newIndex(b.State, b.roster, known, was, b.Changed)
	b.cases = newCases(b.State, before)
	return b
}

func (b *book) total(state string) int {
	n, s := 0, slices.Index(race.States, state)
	for _, c := range b.Tally {
		n += c[s]
	}
	return n
}

// suspect is the suspect with this id, nil when it is no longer there.
func (b *book) suspect(id string) *race.Suspect {
	if i, ok := b.cases.at[id]; ok {
		return &b.Suspects[i]
	}
	return nil
}

// overdue are the bibs of who should have come by now, looked at or not: they are still out.
func (b *book) overdue() map[string]bool {
	of := map[string]bool{}
	for i := range b.Suspects {
		if s := &b.Suspects[i]; s.Kind == race.Overdue && len(s.Bibs) > 0 {
			of[s.Bibs[0]] = true
		}
	}
	return of
}

// course is that of a number, nil: there is none.
func (b *book) course(i int) *race.Course {
	if i < 0 || i >= len(b.Plan.Courses) {
		return nil
	}
	return &b.Plan.Courses[i]
}

// result is the athlete with this bib, nil for none.
func (b *book) result(bib string) *race.Result {
	if i, ok := b.ByBib[bib]; ok && i < len(b.Results) {
		return b.Results[i]
	}
	return nil
}

// ruling is the ruling with this number, nil for none.
func (b *book) ruling(seq int) *race.Ruling {
	for i := range b.Rulings {
		if b.Rulings[i].Seq == seq {
			return &b.Rulings[i]
		}
	}
	return nil
}

// inForce is the last ruling that can still be taken back, nil for none.
func (b *book) inForce() *race.Ruling {
	for i := len(b.Rulings) - 1; i >= 0; i-- {
		r := &b.Rulings[i]
		if _, undone := b.Undone[r.Seq]; !undone && r.Rule != race.Undo {
			return r
		}
	}
	return nil
}

// beingRead tells whether no state has come yet: of nobody it could be said that they are in.
func (b *book) beingRead() bool { return b.rev == 0 && len(b.Results) == 0 }

const beingRead = "the race is being read"
