package clock

// runsFast lets a clock run far off its rate, where that explains the pairs better than one
// that keeps it and steps again and again, or in a pause, to keep up; then steps that are
// left with nothing to explain are taken out.
func (q *problem) runsFast() {
	if q.levels == 1 {
		return
	}
	fast := q.copy()
	fast.driftSD = badDriftSD
	fast.settle(nearly)
	fast.s = min(fast.s, q.s)
	fast.withoutNeedless()
	if fast.levels >= q.levels {
		return // a field that comes fast first lets rate and behind be exchanged: no gain
	}
	need := q.stepNeed()
	if fast.loss()+badDrift+float64(fast.levels)*need < q.loss()+float64(q.levels)*need {
		*q = *fast
	}
}

// badDriftSD, in parts per million, is the spread of the rates of clocks that keep time
// badly, and badDrift what it costs to take one for such.
const (
	badDriftSD = 150.0
	badDrift   = 8.0
)
