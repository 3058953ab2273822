package tui

import "testing"

// New cases are one notice, which counts them whatever it says.
func TestNewCasesAreCounted(t *testing.T) {
	var a attention
	for _, c := range []struct {
		n    int
		want string
	}{{1, "new case: clash: 5 new things"}, {1, "2 new cases hold results"}, {40, "42 new cases hold results"}} {
		if a.cases(c.n, "clash: 5 new things"); len(a.waiting) != 1 || a.waiting[0].Says != c.want {
			t.Errorf("%+v, want %s", a.waiting, c.want)
		}
	}
	a.seen()
	if a.cases(2, "clash"); len(a.waiting) != 1 || a.waiting[0].Says != "2 new cases hold results" {
		t.Errorf("after they were seen: %+v", a.waiting)
	}
}
