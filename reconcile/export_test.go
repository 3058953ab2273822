package reconcile

import "twinmat/reconcile/race"

// ComputeAsking is Compute where so many athletes are enough to ask.
func ComputeAsking(in Input, enough int) *race.State { return computeBoth(in, nil, nil, enough) }

// ComputeAsking is Compute where so many athletes are enough to ask.
func (g *Engine) ComputeAsking(in Input, enough int) *race.State {
	return computeBoth(in, &g.ruled, &g.bare, enough)
}

// DealtAgain tells whether the last computation dealt only what had come since the one before.
func (g *Engine) DealtAgain() bool { return g.ruled.dealt != nil && g.ruled.dealt.fresh != nil }
