package suspect

import (
	"fmt"

	"twinmat/reconcile/race"
)

// unlistedBib: chips.csv gives a seen tag to a bib that athletes.csv lacks, or a person
// keyed one.
func unlistedBib(f *field) []race.Suspect {
	return f.kept.unlisted.again(f, f.news.taught(), f.news.changed, func(i int, add func(race.Suspect)) {
		r := f.st.Results[i]
		if r.Listed || len(r.Passings) == 0 {
			return
		}
		s := suspect(race.UnlistedBib, race.Hold, r.Bib)
		ps := crossings(r.Passings)
		if len(ps) == 0 {
			ps = r.Passings
		}
		s.At = r.Passings[0].At
		if len(r.Chips) > 0 {
			s.Tag = r.Chips[0]
		}
		if handOnly(r) {
			p := &r.Passings[0]
			s.Line = f.line(p.Line)
			s.Says = fmt.Sprintf("Bib %s was keyed by hand at %s, %s, and is not in the list; no chip of it was read.", r.Bib, f.line(p.Line), f.clock(p.At))
			s.Proposes = voidPassing(r.Bib, f.line(p.Line), f.when(p.At))
			s.Evidence = "keyed"
		} else {
			w, why := f.likelyWave(ps)
			s.Says = fmt.Sprintf("Bib %s has a chip and %s, first %s at %s, and is not in the list; %s.", r.Bib, race.Counted(len(ps), "passing", "passings"), f.clock(ps[0].At), f.line(ps[0].Line), why)
			s.Proposes, s.Strong = addAthlete(r.Bib, f.plan.Waves[w].ID), len(ps) > 1
			for v := range f.plan.Waves {
				if v != w && len(s.Others) < 3 {
					s.Others = append(s.Others, addAthlete(r.Bib, f.plan.Waves[v].ID))
				}
			}
			if len(r.Chips) > 0 { // while one of several counts, the bib is seen
				s.Others = append(s.Others, ignoreChip(r.Chips...))
			}
			s.Evidence = fmt.Sprintf("%d passings", len(ps))
		}
		s.Others = append(s.Others, accept(s.ID))
		add(s)
	})
}

func addAthlete(bib, wave string) string {
	return fmt.Sprintf("add-athlete --bib %s --wave %s", arg(bib), arg(wave))
}

// likelyWave is the wave whose race these passings are, and how that was told.
func (f *field) likelyWave(ps []race.Passing) (int, string) {
	s := f.bestStory(ps)
	if s.wave >= 0 && s.fits > 0 {
		return s.wave, fmt.Sprintf("%d of them fit wave %s", s.fits, f.plan.Waves[s.wave].ID)
	}
	best := 0
	for w := range f.plan.Waves {
		if g := f.plan.Waves[w].Gun; g.Known() && g <= ps[0].At && (!f.plan.Waves[best].Gun.Known() || g > f.plan.Waves[best].Gun || f.plan.Waves[best].Gun > ps[0].At) {
			best = w
		}
	}
	return best, "no wave's course fits them"
}

func handOnly(r *race.Result) bool {
	for k := range r.Passings {
		if b := r.Passings[k].Bursts; b[race.Main] != nil || b[race.Backup] != nil {
			return false
		}
	}
	return true
}
