package clock

import (
	"slices"

	"twinmat/reconcile/ordered"
)

// sortBySize puts differences in order of size, main's time and tag. There are a hundred
// thousand, of sizes spread over hours, and a vote asks for their order at every read; those of
// one size are few, and compared.
func sortBySize(ds []difference) {
	ordered.ByNumber(ds, func(d *difference) int64 { return int64(d.by) })
	for i := 0; i < len(ds); {
		n := i + 1
		for n < len(ds) && ds[n].by == ds[i].by {
			n++
		}
		slices.SortFunc(ds[i:n], compareDifferences)
		i = n
	}
}
