package ordered

// digitBits are of a number at a time: the counts stay near the processor.
const digitBits = 11

// ByNumber puts a list in order of a number that each of it has; those of one number stay in the order in
// which they are. Of a hundred thousand it costs a third of comparing them: they are dealt into piles
// digit by digit, the last digit first, which keeps the order of what went before.
func ByNumber[T any](list []T, number func(*T) int64) {
	if len(list) < 2 {
		return
	}
	least := number(&list[0])
	most := least
	for i := range list {
		n := number(&list[i])
		least, most = min(least, n), max(most, n)
	}
	from, to := list, make([]T, len(list))
	for shift, span := 0, uint64(most)-uint64(least); shift < 64 && span>>shift > 0; shift += digitBits {
		var at [1<<digitBits + 1]int
		digit := func(x *T) uint64 { return (uint64(number(x)) - uint64(least)) >> shift & (1<<digitBits - 1) }
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
	if &from[0] != &list[0] {
		copy(list, from)
	}
}
