package suspect

import (
	"fmt"
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
	var before, after side
	for c := range f.courses {
		x := &f.courses[c]
		for _, i := range x.results {
			at := f.readAt(i, st.Line)
			if !at.Known() {
				continue
			}
			s := &before
			if at >= st.After {
				s = &after
			}
			s.all++
			s.bad += tally(f.fastAt(i, st.Line))
		}
	}
	switch {
	case before.impossible() && !after.impossible():
		return true, "after"
	case after.impossible() && !before.impossible():
		return true, "before"
	}
	return false, ""
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
