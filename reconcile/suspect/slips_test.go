package suspect

import (
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// Nobody flies, and somebody who told a time may have slipped: what was accepted of one ruled time
// says nothing of the next.
func TestAnImpossibleTimeThatWasRuledIsTheRulingsFault(t *testing.T) {
	evidence := map[string]bool{}
	for _, later := range []race.Millis{-86_400_000, 20_000} { // a day before the line before, or too soon after it
		m := makeRace(t, 60)
		r := m.st.Results[m.st.ByBib["12"]]
		p := &r.Passings[r.Filled[3]]
		p.At, p.From, p.Ruling = r.Passings[r.Filled[2]].At.Add(later), race.FromRuling, 7
		m.settle(m.st.ByBib["12"])
		s := m.one("impossible-pace:12:15k")
		checkForm(t, s)
		evidence[s.Evidence] = true
		if s.Proposes != "undo --seq 7" || s.Strong || !slices.Contains(s.Others, "set-status --bib 12 --status dsq") {
			t.Errorf("%+v", s)
		}
		if told := strings.Contains(s.Says, "m/s"); told != (later > 0) || !told && !strings.Contains(s.Says, "-16 ") {
			t.Error(s.Says)
		}
	}
	if len(evidence) != 2 {
		t.Errorf("two times, one evidence: %v", evidence)
	}
}

// Likewise who was seen by eye at a time that nobody could have come at, and isn't read between.
func TestAnImpossibleTimeOfAWitnessIsTheWitnesss(t *testing.T) {
	for _, unread := range []bool{false, true} {
		m := makeRace(t, 60)
		r := m.st.Results[m.st.ByBib["12"]]
		p, id := &r.Passings[r.Filled[3]], "impossible-pace:12:15k"
		p.At, p.From = r.Passings[r.Filled[2]].At.Add(20_000), race.FromHand
		p.Bursts = [race.Systems]*race.Burst{race.Hand: {Source: -1, First: p.At, Peak: race.NoRSSI, Count: 1, Witness: 7}}
		if unread {
			r.Filled[2], id = -1, "missing-split:12:10k"
		}
		m.settle(m.st.ByBib["12"])
		if s := m.one(id); s.Proposes != "undo --seq 7" || s.Strong || !slices.Contains(s.Others, "set-status --bib 12 --status dsq") {
			t.Errorf("%+v", s)
		}
	}
}
