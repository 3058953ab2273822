package reconcile

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// Shown is what a ruling was made upon, to be kept with it: of an accept the evidence of its
// suspect, of a set-time what the systems say of the split, of a witness what they read at the
// line, of a status how far its athlete had been seen. "" for other kinds and nothing.
func Shown(st *race.State, x *race.Ruling) string {
	switch x.Rule {
	case race.Accept:
		for i := range st.Suspects {
			if st.Suspects[i].ID == x.Suspect {
				return st.Suspects[i].Evidence
			}
		}
	case race.SetTime:
		i, ok := st.ByBib[x.Bib]
		if !ok {
			return ""
		}
		y := st.Results[i]
		var told []string
		for s := range y.Splits {
			if y.Splits[s].ID != x.Split || s >= len(y.Filled) || y.Filled[s] < 0 {
				continue
			}
			for sys, b := range y.Passings[y.Filled[s]].Bursts {
				if b != nil {
					told = append(told, burstMark(race.System(sys), b))
				}
			}
		}
		return strings.Join(told, " ")
	case race.Witness:
		if i, ok := st.ByBib[x.Bib]; ok {
			return strings.Join(readAt(st.Results[i], st.Plan.LineIndex(x.Line)), " ")
		}
	case race.SetStatus:
		if i, ok := st.ByBib[x.Bib]; ok && x.Status != race.NoStatus {
			return race.SeenSoFar(st.Results[i])
		}
	}
	return ""
}

// readAt names what the systems read of somebody at a line.
func readAt(x *race.Result, line int) (marks []string) {
	for k := range x.Passings {
		if p := &x.Passings[k]; p.Line == line {
			marks = append(marks, systemsOf(p)...)
		}
	}
	return marks
}

// systemsOf names the bursts of a passing that no person stands for.
func systemsOf(p *race.Passing) (marks []string) {
	for sys, b := range p.Bursts {
		if b != nil && b.Witness == 0 {
			marks = append(marks, burstMark(race.System(sys), b))
		}
	}
	return marks
}

// burstMark names a burst by its first read, on its log's own clock, which no refit moves.
func burstMark(s race.System, b *race.Burst) string { return fmt.Sprintf("%s%d", s, int64(b.First)) }
