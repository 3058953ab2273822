package tui

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// What is offered stands as likely as it is: an accept that is the likeliest puts nothing that comes
// after it behind what is less likely.
func TestOffersStandLikeliestFirst(t *testing.T) {
	const accept, count, out, later = "accept --suspect missing-split:30:lap-3", "set-time --bib 30 --split lap-3 --at 10:00:00", "set-status --bib 30 --status dsq", "set-status --bib 30 --status dnf"
	for _, x := range []struct {
		proposes     string
		others, want []string
	}{
		{accept, []string{count, out}, []string{accept, count, out}},
		{accept, []string{count, out, later}, []string{accept, count, out, later}},
		{out, []string{count, accept}, []string{out, count, accept}},
		{"", []string{count, out}, []string{count, out, accept}},
	} {
		var s settle
		s.lay(race.Suspect{Finding: &race.Finding{ID: "missing-split:30:lap-3", Proposes: x.proposes, Others: x.others}})
		var got []string
		for _, c := range s.choices {
			got = append(got, c.line)
		}
		if !slices.Equal(got, x.want) {
			t.Errorf("%q with %q offers\n%q, want\n%q", x.proposes, x.others, got, x.want)
		}
	}
}
