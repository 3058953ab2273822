package suspect

import (
	"testing"

	"twinmat/reconcile/race"
)

func TestAStatusByARulingSettlesWhatItAnswers(t *testing.T) {
	m := makeRace(t, 60)
	m.miss("12", 2)
	m.shift("12", 3, -3000000)
	m.result("12").Status = "dsq"
	m.settle(m.st.ByBib["12"])
	if s := m.one("impossible-pace:12:15k"); s.Settled {
		t.Errorf("the list's own status settles nothing: %+v", s)
	}
	m.st.Rulings = []race.Ruling{{Seq: 3, Rule: race.SetStatus, Bib: "12", Status: "dsq", Made: "2026-05-18T10:00:00Z"}}
	for _, id := range []string{"impossible-pace:12:15k", "missing-split:12:10k"} {
		if s := m.one(id); !s.Settled || s.SettledBy != 3 {
			t.Errorf("%+v", s)
		}
	}
	m.st.Undone = map[int]int{3: 4}
	if s := m.one("missing-split:12:10k"); s.Settled {
		t.Errorf("undone, and yet settled: %+v", s)
	}
}
