package robust

const (
	leastBatch = 8   // that wait for each other at the least: about so many are crossing a line, and seen on, at once
	batchShare = 128 // of so many one waits, or two
)

// FewestOlder of anything are so many that the newest may wait.
const FewestOlder = 2 * leastBatch

// NewestFrom is the moment from which on the newest of these times wait, of so many at the least of which
// they do; not ok: none waits. It orders at.
func NewestFrom(at []float64, least int) (from float64, ok bool) {
	if len(at) < max(least, FewestOlder) {
		return 0, false
	}
	return Nth(at, Older(len(at))), true
}

// Older is how many of so many, in order of time, teach while the newest wait until they are a batch:
// of many, one more would change what they teach by as little as nothing. What rests on the older ones
// is the same until a whole batch more has come.
func Older(n int) int {
	batch := leastBatch
	for 2*batch*batchShare <= n {
		batch *= 2
	}
	return n - n%batch - batch
}
