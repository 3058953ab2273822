package ruling

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// Words is a ruling as a person would say it, in one line.
func Words(r *race.Ruling) string {
	switch r.Rule {
	case race.AssignChip:
		return fmt.Sprintf("chip %s is bib %s's%s", r.Tag, r.Bib, between(r))
	case race.IgnoreChip:
		if t := tags(r); len(t) != 1 {
			return "chips " + strings.Join(t, ", ") + " are nobody's"
		}
		return "chip " + tags(r)[0] + " is nobody's"
	case race.VoidReads:
		of := "no reads"
		if r.System != "" {
			of = "no reads of " + r.System
		}
		return fmt.Sprintf("%s at %s%s", of, r.Line, between(r))
	case race.AdjustTime:
		if d, err := Length(r.Shift); err == nil && d < 0 {
			return fmt.Sprintf("bib %s's time is made %s shorter", r.Bib, -d)
		} else if err == nil {
			return fmt.Sprintf("bib %s's time is made %s longer", r.Bib, d)
		}
		return fmt.Sprintf("bib %s's time is adjusted by %s", r.Bib, r.Shift)
	case race.CloseCourse:
		return fmt.Sprintf("course %s is closed: nobody else will come", r.Course)
	case race.SwapBibs:
		return fmt.Sprintf("bibs %s and %s wore each other's chips", r.Bib, r.With)
	case race.SetGun:
		return fmt.Sprintf("wave %s's gun went at %s", r.Wave, clock(r, r.Time))
	case race.SetWave:
		return fmt.Sprintf("bib %s ran with wave %s", r.Bib, r.Wave)
	case race.SetStatus:
		if r.Status == race.NoStatus {
			return fmt.Sprintf("bib %s is not out", r.Bib)
		}
		return fmt.Sprintf("bib %s is %s", r.Bib, strings.ToUpper(r.Status))
	case race.AddAthlete:
		return fmt.Sprintf("bib %s is on the list: %s", r.Bib, strings.TrimPrefix(r.Name+", wave "+r.Wave, ", "))
	case race.Accept:
		return fmt.Sprintf("%s is right as it stands", r.Suspect)
	case race.Undo:
		return fmt.Sprintf("ruling %d is taken back", r.UndoneSeq)
	}
	return timeWords(r)
}

// timeWords are those of rulings on single times and on clocks.
func timeWords(r *race.Ruling) string {
	switch r.Rule {
	case race.Witness:
		return fmt.Sprintf("bib %s was seen at %s at %s", r.Bib, r.Line, clock(r, r.Time))
	case race.SetTime:
		s := fmt.Sprintf("bib %s was at %s at %s", r.Bib, r.Split, clock(r, r.Time))
		if d, err := Length(r.PlusMinus); err == nil && d != 0 {
			s += " ± " + d.Decimal() + " s"
		}
		return s
	case race.UseSystem:
		return fmt.Sprintf("bib %s's time at %s is %s's", r.Bib, r.Split, r.System)
	case race.VoidPassing:
		return fmt.Sprintf("bib %s did not pass %s at %s", r.Bib, r.Line, clock(r, r.Time))
	case race.SetClock:
		if r.Stepped != "" {
			right := r.Right
			if right == "" {
				right = "before"
			}
			return fmt.Sprintf("at %s it was %s's clock that jumped; times %s the jump stay", r.Line, r.Stepped, right)
		}
		return fmt.Sprintf("%s's clock at %s is off by %s s%s", r.System, r.Line, r.Offset, between(r))
	}
	return r.Rule
}

// between is " from … to …", as far as it is given.
func between(r *race.Ruling) string {
	s := ""
	if r.From != "" {
		s += " from " + clock(r, r.From)
	}
	if r.To != "" {
		s += " to " + clock(r, r.To)
	}
	return s
}

// clock is the time of day of a moment, with the date where it isn't that of the ruling.
func clock(r *race.Ruling, s string) string {
	day, rest, ok := strings.Cut(s, "T")
	if !ok {
		return s
	}
	if i := strings.IndexAny(rest, "Z+-"); i >= 0 {
		rest = rest[:i]
	}
	rest = strings.TrimSuffix(rest, ".000")
	if r.Made == "" || strings.HasPrefix(r.Made, day) {
		return rest
	}
	return rest + " on " + day
}
