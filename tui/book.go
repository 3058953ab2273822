package tui

import (
	"cmp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// A book is a snapshot with what the screens look up in it: made once, away from the
// program's loop, never changed after. It orders and counts; it works no time out.
type book struct {
	*race.State
	rev     int
	health  []Health
	notices []Notice
	past    bool // the race as it stood at an earlier moment

	in          int // finished, held ones too
	open, holds int
	tally       [][]int // per course, per stateNames
	boards      []board
	latest      []cross // newest first
	out         []outRow
	lastSeq     int
	suspectAt   map[string]int
	index       *index
}

var stateNames = []string{"clean", "held", "running", "unseen", "dns", "dnf", "dsq"}

// latestKept is how many crossings the screen can scroll back through.
const latestKept = 400

// A cross is one passing on the Crossings screen.
type cross struct {
	result  int // index in Results, -1: a stray chip
	stray   int // index in Strays
	passing int
	at      race.Instant
	rank    int // running rank on the course at this split, 0: none
	rankSex int
}

// An outRow is one athlete who hasn't come in.
type outRow struct {
	result   int
	last     race.Instant // NoInstant: never seen
	place    string
	next     string
	expected race.Instant // at the athlete's own mean pace so far; NoInstant: can't be said
}

// A board is the first three of a course, or of one sex on it.
type board struct {
	course int
	sex    string // "" : all
	where  string // split id where nobody has finished yet, else ""
	first  []int  // indexes in Results
}

func newBook(u Update, prev *book) *book {
	b := &book{State: u.State, rev: u.Revision, health: u.Health, notices: u.Notices}
	if b.State == nil {
		b.State = &race.State{Plan: &race.Plan{}, Now: race.NoInstant}
		if prev != nil {
			b.State = prev.State
		}
	}
	if b.health == nil && prev != nil {
		b.health = prev.health
	}
	b.count()
	b.boards = leaders(b.State)
	b.latest = latest(b.State)
	b.out = stillOut(b.State)
	if prev != nil {
		b.index = prev.index
	}
	b.index = newIndex(b.State, b.index)
	return b
}

func (b *book) count() {
	b.tally = make([][]int, len(b.Plan.Courses))
	for i := range b.tally {
		b.tally[i] = make([]int, len(stateNames))
	}
	for i := range b.Results {
		r := &b.Results[i]
		if s := slices.Index(stateNames, r.State); s >= 0 && r.Course >= 0 && r.Course < len(b.tally) {
			b.tally[r.Course][s]++
		}
		if r.Finish >= 0 && r.State != "dns" {
			b.in++
		}
	}
	b.suspectAt = make(map[string]int, len(b.Suspects))
	for i := range b.Suspects {
		s := &b.Suspects[i]
		b.suspectAt[s.ID] = i
		if !s.Settled {
			b.open++
			if s.Weight == race.Hold {
				b.holds++
			}
		}
	}
	for i := range b.Rulings {
		b.lastSeq = max(b.lastSeq, b.Rulings[i].Seq)
	}
}

func (b *book) total(state string) int {
	n, s := 0, slices.Index(stateNames, state)
	for _, c := range b.tally {
		n += c[s]
	}
	return n
}

// suspect is the suspect with this id, nil when it is no longer there.
func (b *book) suspect(id string) *race.Suspect {
	if i, ok := b.suspectAt[id]; ok {
		return &b.Suspects[i]
	}
	return nil
}

// result is the athlete with this bib, nil for none.
func (b *book) result(bib string) *race.Result {
	if i, ok := b.ByBib[bib]; ok && i < len(b.Results) {
		return &b.Results[i]
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

// began is when the clock of a split time starts: the gun, or their own start where net
// time ranks.
func (b *book) began(r *race.Result) race.Instant { return began(b.State, r) }

func began(s *race.State, r *race.Result) race.Instant {
	if r.Course >= 0 && r.Course < len(s.Plan.Courses) && s.Plan.Courses[r.Course].Official.Net && r.StartAt.Known() {
		return r.StartAt
	}
	return r.Gun
}

// reached is the last split an athlete filled, and when; -1 for none.
func reached(r *race.Result) (int, race.Instant) {
	for i := len(r.Filled) - 1; i >= 0; i-- {
		if k := r.Filled[i]; k >= 0 && k < len(r.Passings) {
			return i, r.Passings[k].At
		}
	}
	return -1, race.NoInstant
}

// leaders finds the first three of each course and of each sex on it: by rank where
// somebody has finished, else by who came first to the furthest split reached.
func leaders(s *race.State) []board {
	type place struct {
		result, rank, split int
		time                race.Millis
	}
	ahead := func(a, b place) int {
		if (a.rank > 0) != (b.rank > 0) {
			return cmp.Compare(b.rank, a.rank) // who has a rank comes first
		}
		if a.rank > 0 {
			return cmp.Compare(a.rank, b.rank)
		}
		return cmp.Or(cmp.Compare(b.split, a.split), cmp.Compare(a.time, b.time), cmp.Compare(a.result, b.result))
	}
	type key struct {
		course int
		sex    string
	}
	best := map[key][]place{}
	put := func(k key, p place) {
		l := best[k]
		if len(l) == 3 && ahead(p, l[2]) >= 0 {
			return
		}
		at, _ := slices.BinarySearchFunc(l, p, ahead)
		if l = slices.Insert(l, at, p); len(l) > 3 {
			l = l[:3]
		}
		best[k] = l
	}
	for i := range s.Results {
		r := &s.Results[i]
		split, at := reached(r)
		p := place{result: i, rank: r.Rank, split: split, time: at.Sub(began(s, r))}
		if r.Rank == 0 && (split < 1 || r.State != "running") {
			continue
		}
		put(key{r.Course, ""}, p)
		if r.Sex != "" {
			put(key{r.Course, strings.ToUpper(r.Sex)}, p)
		}
	}
	var out []board
	for k, l := range best {
		b := board{course: k.course, sex: k.sex}
		for _, p := range l {
			b.first = append(b.first, p.result)
		}
		if first := &s.Results[l[0].result]; first.Rank == 0 && l[0].split < len(first.Splits) {
			b.where = first.Splits[l[0].split].ID
		}
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b board) int {
		return cmp.Or(cmp.Compare(a.course, b.course), cmp.Compare(a.sex, b.sex))
	})
	return out
}
