package suspect

import (
	"fmt"
	"maps"
	"time"

	"twinmat/reconcile/race"
)

// outButSeen: dns, dnf or dsq, yet read after. A status of the list is contradicted by any
// passing after the gun (dns) or by a finish (dnf, dsq), one of a ruling by reads after it.
func outButSeen(f *field) []race.Suspect {
	ruled := f.statusRulings()
	another := !maps.Equal(f.kept.ruled, ruled)
	f.kept.ruled = ruled
	return f.kept.outButSeen.again(f, another, f.news.changed, func(i int, add func(race.Suspect)) {
		r := f.st.Results[i]
		if !uncounted(r) {
			return
		}
		since := r.Gun
		finish := r.Status != race.DNS
		by := "the list"
		if x, ok := ruled[r.Bib]; ok {
			since, finish, by = x.at, false, fmt.Sprintf("ruling %d", x.seq)
		}
		var first *race.Passing
		n := 0
		for k := range r.Passings {
			p := &r.Passings[k]
			if p.Fate == race.Voided || since.Known() && p.At < since || p.From == race.FromRuling {
				continue
			}
			if finish && (p.Split < 0 || p.Split != len(r.Splits)-1) {
				continue
			}
			if first == nil {
				first = p
			}
			n++
		}
		if first == nil {
			return
		}
		s := suspect(race.OutButSeen, race.Look, r.Bib)
		s.Line, s.At = f.line(first.Line), first.At
		s.Says = fmt.Sprintf("%s is %s by %s, yet was read %d times after, first at %s at %s.", r.Bib, r.Status, by, n, f.line(first.Line), f.clock(first.At))
		if finish {
			s.Says = fmt.Sprintf("%s is %s by %s, yet has a finish at %s.", r.Bib, r.Status, by, f.clock(first.At))
		}
		s.Proposes = setStatus(r.Bib, "none")
		s.Others = []string{accept(s.ID)}
		if n > 1 || finish {
			s.Strong = true
		}
		s.Evidence = r.Status + " " + mark(first)
		add(s)
	})
}

type ruledAt struct {
	seq int
	at  race.Instant
}

// statusRulings are the set-status rulings that stand, the latest of each bib.
func (f *field) statusRulings() map[string]ruledAt {
	m := map[string]ruledAt{}
	for _, r := range f.st.Rulings {
		if _, undone := f.st.Undone[r.Seq]; undone || r.Rule != race.SetStatus {
			continue
		}
		if t, err := time.Parse(time.RFC3339, r.Made); err == nil {
			m[r.Bib] = ruledAt{r.Seq, race.Of(t)}
		}
	}
	return m
}
