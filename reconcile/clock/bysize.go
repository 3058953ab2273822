package clock

import "slices"

// digitBits are of a size at a time: the counts stay near the processor.
const digitBits = 11

// sortBySize puts differences in order of size, main's time and tag. There are a hundred
// thousand, of sizes spread over hours, and a vote asks for their order at every read: they are
// dealt into piles digit by digit, the last digit first, which keeps the order of what went
// before; those of one size are few, and compared.
func sortBySize(ds []difference) {
	if len(ds) < 2 {
		return
	}
	least, most := ds[0].by, ds[0].by
	for i := range ds {
		least, most = min(least, ds[i].by), max(most, ds[i].by)
	}
	from, to := ds, make([]difference, len(ds))
	for shift, span := 0, uint64(most-least); shift < 64 && span>>shift > 0; shift += digitBits {
		var at [1<<digitBits + 1]int
		digit := func(d *difference) uint64 { return uint64(d.by-least) >> shift & (1<<digitBits - 1) }
		for i := range from {
			at[digit(&from[i])+1]++
		}
		for k := 1; k < len(at); k++ {
			at[k] += at[k-1]
		}
		for i := range from {
			k := digit(&from[i])
			to[at[k]] = from[i]
			at[k]++
		}
		from, to = to, from
	}
	if &from[0] != &ds[0] {
		copy(ds, from)
	}
	for i := 0; i < len(ds); {
		n := i + 1
		for n < len(ds) && ds[n].by == ds[i].by {
			n++
		}
		slices.SortFunc(ds[i:n], compareDifferences)
		i = n
	}
}
