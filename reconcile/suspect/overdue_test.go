package suspect

import (
	"testing"

	"twinmat/reconcile/race"
)

// In a field of forty, who was last read at 15 km among the quick ones is overdue once those
// at their pace are long in, though the slow ones are not. A tenth of the field gave up, so
// the race is not as good as over.
func TestOverdueAgainstOnesOwnPaceInASmallField(t *testing.T) {
	m := makeRace(t, 40)
	quick, gone := -1, 0
	for i := range m.st.Results {
		r := &m.st.Results[i]
		took := r.Passings[3].At.Sub(r.Passings[0].At)
		switch {
		case quick < 0 && took < 4_300_000:
			quick = i
		case i%10 == 9:
			gone++
		default:
			continue
		}
		r.Passings, r.Filled[4] = r.Passings[:4], -1
		m.settle(i)
	}
	if quick < 0 || gone < 3 {
		t.Fatalf("%d, %d gone", quick, gone)
	}
	r := &m.st.Results[quick]
	m.st.Now = r.Passings[3].At.Add(3_200_000) // their 6 km take half an hour
	for i := range m.st.Results {              // what comes later isn't there yet
		x := &m.st.Results[i]
		for k := len(x.Passings) - 1; k >= 0 && x.Passings[k].At > m.st.Now; k-- {
			x.Passings, x.Filled[k] = x.Passings[:k], -1
		}
		now := m.st.Now
		m.settle(i)
		m.st.Now = now
	}
	told := map[string]bool{}
	for _, s := range m.find() {
		if s.Kind == race.Overdue {
			told[s.Bibs[0]] = true
		}
	}
	if !told[r.Bib] {
		t.Errorf("%s isn't overdue; told of %v", r.Bib, told)
	}
	for i := range m.st.Results {
		if x := &m.st.Results[i]; i != quick && i%10 != 9 && told[x.Bib] {
			t.Errorf("%s is on their way, and told as overdue", x.Bib)
		}
	}
}
