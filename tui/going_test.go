package tui

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// Whoever is held stands in the counts of the export screen, a bib that isn't listed and so has no
// course too: the files have it, and what is said of them counts it.
func TestTheCountsOfTheExportHaveWhoIsNotListed(t *testing.T) {
	for _, unlisted := range []int{0, 2} {
		d := newDriver(t, 100, 30, 300, nil)
		s := *d.desk.state
		s.Results = slices.Clone(s.Results)
		for i := range unlisted {
			r := *s.Results[7+i]
			r.Listed, r.Course, r.Wave, r.Finish, r.State = false, -1, -1, -1, race.Held
			s.Results[7+i] = &r
		}
		d.desk.state = &s
		d.feed()
		d.keys("S 8")
		if !strings.Contains(d.screen(), "not listed") {
			if unlisted > 0 {
				t.Errorf("%d who aren't listed are counted nowhere:\n%s", unlisted, d.screen())
			}
			continue
		}
		if unlisted == 0 {
			t.Errorf("nobody is unlisted, yet they are counted:\n%s", d.screen())
		}
		if want := fmt.Sprintf("not listed %9d%8d", 0, unlisted); !strings.Contains(d.screen(), want) {
			t.Errorf("want %q:\n%s", want, d.screen())
		}
	}
}
