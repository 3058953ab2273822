package suspect

import (
	"fmt"
	"maps"
	"time"

	"twinmat/reconcile/race"
)

// outButSeen: dns, dnf or dsq, yet read after. A status of the list is contradicted by any
// passing after the gun (dns) or by a finish (dnf, dsq), one of a ruling by reads after it, and
// by what contradicts the list's where only a log that came later tells it.
func outButSeen(f *field) []race.Suspect {
	ruled := f.statusRulings()
	another := !maps.Equal(f.kept.ruled, ruled)
	f.kept.ruled = ruled
	return f.kept.outButSeen.again(f, another, f.news.changed, func(i int, add func(race.Suspect)) {
		r := f.st.Results[i]
		if !uncounted(r) {
			return
		}
		x, isRuled := ruled[r.Bib]
		var first *race.Passing
		n := 0
		for k := range r.Passings {
			p := &r.Passings[k]
			tells := contradicts(r, p)
			if isRuled {
				tells = p.At >= x.at || tells && !x.knew(r.Status)
			}
			if !tells || p.Fate == race.Voided || p.From == race.FromRuling {
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
		by := "the list"
		if isRuled {
			by = fmt.Sprintf("ruling %d", x.seq)
		}
		s := suspect(race.OutButSeen, race.Look, r.Bib)
		s.Line, s.At = f.line(first.Line), first.At
		when := " after"
		if isRuled && first.At < x.at {
			when = ", as a log that came later tells"
		}
		s.Says = fmt.Sprintf("%s is %s by %s, yet was read %s%s, first at %s at %s.", r.Bib, r.Status, by, times(n), when, f.line(first.Line), f.clock(first.At))
		if r.Status != race.DNS && n == 1 && r.Ends(first) {
			s.Says = fmt.Sprintf("%s is %s by %s, yet has a finish at %s.", r.Bib, r.Status, by, f.clock(first.At))
			s.Strong = true
		}
		s.Proposes = setStatus(r.Bib, race.NoStatus)
		s.Others = []string{accept(s.ID)}
		s.Strong = s.Strong || n > 1
		s.Evidence = r.Status + " " + mark(first)
		add(s)
	})
}

// contradicts tells whether a passing speaks against a status: any after the gun against a
// dns, a finish against the others.
func contradicts(r *race.Result, p *race.Passing) bool {
	return (!r.Gun.Known() || p.At >= r.Gun) && (r.Status == race.DNS || r.Ends(p))
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

type ruledAt struct {
	seq   int
	at    race.Instant
	shown string // how far the athlete had been seen, "": not told
}

// knew tells whether who ruled a status knew what contradicts it, or may have.
func (x ruledAt) knew(status string) bool {
	switch x.shown {
	case race.SeenNever:
		return false
	case race.SeenUnfinished:
		return status == race.DNS
	}
	return true
}

// statusRulings are the set-status rulings that stand, the latest of each bib.
func (f *field) statusRulings() map[string]ruledAt {
	m := map[string]ruledAt{}
	for _, r := range f.st.Rulings {
		if _, undone := f.st.Undone[r.Seq]; undone || r.Rule != race.SetStatus {
			continue
		}
		if t, err := time.Parse(time.RFC3339, r.Made); err == nil {
			m[r.Bib] = ruledAt{r.Seq, race.Of(t), r.Evidence}
		}
	}
	return m
}
