package reconcile

import (
	"cmp"
	"slices"

	"twinmat/reconcile/suspect"
)

// memo is what an engine remembers between computations.
type memo struct{}

func sortSightings(s []suspect.Sighting) {
	slices.SortStableFunc(s, func(a, b suspect.Sighting) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Line, b.Line), cmp.Compare(a.System, b.System))
	})
}
