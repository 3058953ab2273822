// Package ordered puts lists in order by a number, and has lists in order take more in.
package ordered

// Merge is a list with more in it; both are in order, and equal ones of more come after. The
// list's room is used again.
func Merge[T any](list, more []T, compare func(a, b T) int) []T {
	a, b := len(list)-1, len(more)-1
	list = append(list, more...)
	for to := len(list) - 1; b >= 0; to-- { // from the end: nothing is overwritten that is still to come
		if a >= 0 && compare(list[a], more[b]) > 0 {
			list[to], a = list[a], a-1
		} else {
			list[to], b = more[b], b-1
		}
	}
	return list
}
