package suspect

import (
	"fmt"
	"maps"
	"slices"

	"twinmat/reconcile/race"
)

// stepGreat seconds a main must have stepped by before a field's paces beside it are its doing:
// with less, who is too fast is so by themselves.
const stepGreat = sameClock

// side counts who is read on one side of a step by main's clock, and who of them is faster
// there than anybody.
type side struct{ all, bad int }

func (s side) impossible() bool {
	return s.bad >= offLeast && float64(s.bad) >= offShare*float64(s.all)
}

// pacesTell tells whether main's times on one side of a step are impossible for the field and those
// on the other aren't: then main stepped, and the other side is right.
func (f *field) pacesTell(st *ClockStep) (main bool, right string) {
	if st.Back || st.SizeS < stepGreat && st.SizeS > -stepGreat {
		return false, ""
	}
	before, after := f.sidesOf(st)
	switch {
	case before.impossible() && !after.impossible():
		return true, "after"
	case after.impossible() && !before.impossible():
		return true, "before"
	}
	return false, ""
}

// sidesAt is what two sides of a step are told by.
type sidesAt struct {
	line  int
	after race.Instant
}

// sides are those of a step, kept from search to search.
type sides struct {
	turn int     // the search that they are of
	of   []uint8 // per result: on which side they were read, 0 neither, 1 before, 2 after; 4 more: faster than anybody
	at   [2]side
}

// sidesOf counts who was read on either side of a step.
func (f *field) sidesOf(st *ClockStep) (before, after side) {
	key := sidesAt{st.Line, st.After}
	if f.kept.sides == nil {
		f.kept.sides = map[sidesAt]*sides{}
	}
	maps.DeleteFunc(f.kept.sides, func(_ sidesAt, x *sides) bool { return x.turn < f.turn-1 })
	x := f.kept.sides[key]
	if x == nil || x.turn < f.turn && f.news.taught() {
		x = &sides{of: make([]uint8, len(f.st.Results))}
		f.kept.sides[key] = x
		for i := range x.of {
			x.count(f, st, i)
		}
	} else if x.turn < f.turn {
		for _, i := range f.news.changed {
			x.count(f, st, i)
		}
	}
	x.turn = f.turn
	return x.at[0], x.at[1]
}

// count puts a result on its side.
func (x *sides) count(f *field, st *ClockStep, i int) {
	add := func(by int) {
		if n := x.of[i] & 3; n > 0 {
			x.at[n-1].all += by
			x.at[n-1].bad += by * tally(x.of[i]&4 != 0)
		}
	}
	add(-1)
	x.of[i] = 0
	if at := f.readAt(i, st.Line); at.Known() && f.st.Results[i].Course >= 0 {
		x.of[i] = uint8(1 + tally(at >= st.After) + 4*tally(f.fastAt(i, st.Line)))
	}
	add(1)
}

// readAt is when an athlete was at a line, as its times stand.
func (f *field) readAt(i, line int) race.Instant {
	r := f.st.Results[i]
	for _, n := range r.Filled {
		if n >= 0 && r.Passings[n].Line == line {
			return r.Passings[n].At
		}
	}
	return race.NoInstant
}

// fastAt tells whether nobody can have come to a line, or on from it, as fast as an athlete did.
func (f *field) fastAt(i, line int) bool {
	r, fast := f.st.Results[i], false
	f.fast(i, func(a, b int, _ race.Millis) {
		fast = fast || r.Splits[b].Line == line || a >= 0 && r.Splits[a].Line == line
	})
	return fast
}

// findStepped finds the lines whose main was set by so much in mid-race, as far as is known, that its
// times as they stand are the cause of what is odd there: that is one case, the step's, until it is
// ruled or somebody takes it as it stands.
func (f *field) findStepped() {
	f.stepped = make([]bool, len(f.plan.Lines))
	for n := range f.in.Steps {
		st := &f.in.Steps[n]
		if st.Ruled == 0 && !f.acceptedAs(f.stepID(st)) && (st.Back || st.SizeS >= stepGreat || st.SizeS <= -stepGreat) {
			main, _ := f.whichStepped(n)
			f.stepped[st.Line] = f.stepped[st.Line] || main
		}
	}
}

// acceptedAs tells whether an accept of a suspect stands.
func (f *field) acceptedAs(id string) bool {
	return slices.ContainsFunc(f.st.Rulings, func(x race.Ruling) bool {
		_, undone := f.st.Undone[x.Seq]
		return !undone && x.Rule == race.Accept && x.Suspect == id
	})
}

// mainStepped tells whether a line is one of those.
func (f *field) mainStepped(line int) bool { return f.stepped != nil && f.stepped[line] }

// steppedAbout tells so of the line at split k of a course or of one beside it.
func (f *field) steppedAbout(c, k int) bool {
	x := &f.courses[c]
	for _, j := range [...]int{k - 1, k, k + 1} {
		if j >= 0 && j < len(x.splits) && f.mainStepped(x.splits[j].Line) {
			return true
		}
	}
	return false
}

// steppedSplit is the split at either end of the stretch to split k whose main stepped; -1 for none.
func (f *field) steppedSplit(c, k int) int {
	x := &f.courses[c]
	switch {
	case f.mainStepped(x.splits[k].Line):
		return k
	case k > 0 && f.mainStepped(x.splits[k-1].Line):
		return k - 1
	}
	return -1
}

// byPaces is why a step is said to be main's, by its paces.
func byPaces(right string) string {
	wrong := map[string]string{"before": "after", "after": "before"}[right]
	return fmt.Sprintf("; by main's times %s it the field is impossible", wrong)
}
