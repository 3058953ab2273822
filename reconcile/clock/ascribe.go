package clock

import (
	"math"

	"twinmat/reconcile/race"
)

// Sighting is one comparison of two clocks: a log against its line's main. Clocks have one
// name wherever they are seen: logs of one box share theirs, a main keeps its own in all
// comparisons at its line.
type Sighting struct {
	Main, Other string
	Model       *Model
}

// Ascribe tells which clock made each step, by what other comparisons show of the two that
// it may be: the clock that steps, steps wherever it is seen. The answer has a name for
// every step of every sighting, "" where the evidence is silent or speaks for both.
//
// One pair of clocks alone never tells (two clocks and a difference); a third does.
func Ascribe(seen []Sighting) [][]string {
	out := make([][]string, len(seen))
	for i, s := range seen {
		if s.Model == nil {
			continue
		}
		for _, st := range s.Model.Steps() {
			if st.Main != nil {
				out[i] = append(out[i], s.Main)
				continue
			}
			main, other := witnesses{}, witnesses{}
			for j, w := range seen {
				if j == i || w.Model == nil || w.Model.unsure != "" || w.Main == s.Main && w.Other == s.Other {
					continue
				}
				// Forwards by this much, seen as other − main.
				switch {
				case w.Other == s.Other:
					other.hear(w.Model, st, st.SizeS)
				case w.Main == s.Other:
					other.hear(w.Model, st, -st.SizeS)
				}
				switch {
				case w.Main == s.Main:
					main.hear(w.Model, st, st.SizeS)
				case w.Other == s.Main:
					main.hear(w.Model, st, -st.SizeS)
				}
			}
			name := ""
			switch {
			case main.stepped() && !other.stepped(), other.stood() && !main.stood():
				name = s.Main
			case other.stepped() && !main.stepped(), main.stood() && !other.stood():
				name = s.Other
			}
			out[i] = append(out[i], name)
		}
	}
	return out
}

// witnesses count the comparisons that saw a clock step, and those that saw it go on.
type witnesses struct{ yes, no int }

func (w witnesses) stepped() bool { return w.yes > 0 && w.no == 0 }
func (w witnesses) stood() bool   { return w.no > 0 && w.yes == 0 }

const (
	alikeStep = 0.1 // seconds by which two sightings of one step may differ beside their errors
	plainView = 4.0 // standard errors that a step must have to be missed by a comparison that lacks it
)

// hear asks a comparison whether a step of that size shows in it at that time. Where it has
// too few pairs on either side to have seen it, it says nothing.
func (w *witnesses) hear(m *Model, st Step, size float64) {
	for _, s := range m.Steps() {
		if max(s.Before, s.After) < min(st.Before, st.After) || min(s.Before, s.After) > max(st.Before, st.After) {
			continue
		}
		if math.Abs(s.SizeS-size) <= math.Hypot(s.PlusMinusS, st.PlusMinusS)+alikeStep {
			w.yes++
		}
		return // another step at that time explains nothing and excludes nothing
	}
	before, after := m.about(st)
	if min(before, after) < stepSide {
		return
	}
	se := m.noise.At * math.Sqrt(1/float64(before)+1/float64(after))
	if math.Abs(size) > plainView*se {
		w.no++
	}
}

// about counts the sound pairs on either side of a step's time, in its stretch.
func (m *Model) about(st Step) (before, after int) {
	from, to := race.Instant(math.MinInt64), race.Instant(math.MaxInt64)
	for k := range m.parts {
		if b := m.parts[k].begin; b.Known() {
			if b <= st.Before {
				from = max(from, b)
			} else {
				to = min(to, b)
			}
		}
	}
	for _, r := range m.residuals {
		switch {
		case r.Weight < 0.25 || r.At < from || r.At >= to:
		case r.At <= st.Before:
			before++
		case r.At >= st.After:
			after++
		}
	}
	return before, after
}
