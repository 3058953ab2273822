package ruling

import (
	"errors"
	"fmt"
	"slices"

	"twinmat/reconcile/race"
)

// Call tells what is wrong with a ruling whatever race it is for: a word that its flag never
// takes, flags that don't go together. It is a wrong call, where one that only this race
// has no place for is refused. Check includes it.
func Call(r *race.Ruling) error {
	switch r.Rule {
	case race.VoidReads, race.UseSystem:
		if _, ok := race.SystemOf(r.System); r.System != "" && !ok {
			return errors.New(noSystem(r.System))
		}
	case race.SetStatus:
		if !slices.Contains(race.Statuses, r.Status) && r.Status != race.NoStatus {
			return fmt.Errorf("%s is no status; want dns, dnf, dsq or none", race.Quote(r.Status))
		}
	case race.SetClock:
		return clockCall(r)
	case race.AddAthlete:
		if u := race.CheckBib(r.Bib); u != nil {
			return fmt.Errorf("--bib: %w", u)
		}
		return birth(r.Birth)
	}
	return nil
}

func clockCall(r *race.Ruling) error {
	switch {
	case (r.Offset == "") == (r.Stepped == ""):
		return errors.New("set-clock takes --system and --offset, or --stepped")
	case r.Offset != "" && r.System == "":
		return errors.New("set-clock --offset lacks --system: whose clock?")
	case r.Offset != "" && r.Right != "":
		return errors.New("--right goes with --stepped, not with --offset")
	case r.Offset != "":
		if _, ok := race.SystemOf(r.System); !ok {
			return errors.New(noSystem(r.System))
		}
	case r.System != "", r.From != "":
		return errors.New("--system and --from go with --offset, not with --stepped")
	case r.Stepped != "main" && r.Stepped != "backup":
		return fmt.Errorf("set-clock --stepped %s: want main or backup", race.Quote(r.Stepped))
	case r.Right != "" && r.Right != "before" && r.Right != "after":
		return fmt.Errorf("set-clock --right %s: want before or after", race.Quote(r.Right))
	}
	return nil
}
