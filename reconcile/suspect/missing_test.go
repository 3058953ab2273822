package suspect

import (
	"strings"
	"testing"
)

// Who was driven home is not proposed to stand: two splits unread, and the way from there to
// the finish in half of the time that their own level tells, which the fastest could run.
func TestASplitLeftOutInFarTooLittleTimeIsNotAccepted(t *testing.T) {
	m := makeRace(t, 100)
	slow := "1"
	for i := range m.st.Results {
		if m.st.Results[i].FinishAt.Sub(m.st.Results[i].StartAt) > m.result(slow).FinishAt.Sub(m.result(slow).StartAt) {
			slow = m.st.Results[i].Bib
		}
	}
	m.miss(slow, 2, 3)
	at := m.result(slow).Passings
	m.shift(slow, 4, -at[2].At.Sub(at[1].At)/2)
	s := m.one("missing-split:" + slow + ":10k")
	if s.Proposes != "set-status --bib "+slow+" --status dnf" || s.Strong {
		t.Errorf("%+v", s)
	}
	m.shift(slow, 4, at[2].At.Sub(at[1].At)) // at twice that it may stand
	if s := m.one("missing-split:" + slow + ":10k"); !strings.HasPrefix(s.Proposes, "accept ") {
		t.Errorf("%+v", s)
	}
}
