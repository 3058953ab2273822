package reconcile

import (
	"fmt"
	"reflect"

	"twinmat/reconcile/race"
)

// ComputeAsking is Compute where so many athletes are enough to ask.
func ComputeAsking(in Input, enough int) *race.State { return computeBoth(in, nil, nil, enough) }

// ComputeAsking is Compute where so many athletes are enough to ask.
func (g *Engine) ComputeAsking(in Input, enough int) *race.State {
	return computeBoth(in, &g.ruled, &g.bare, enough)
}

// DealtAgain tells whether the last computation dealt only what had come since the one before.
func (g *Engine) DealtAgain() bool { return g.ruled.dealt != nil && g.ruled.dealt.fresh != nil }

// Unlike names what one engine's logs voted, or its fields taught, that another's did not, "" : nothing.
func (g *Engine) Unlike(o *Engine) string {
	for s := range g.ruled.sources {
		a, b := &g.ruled.sources[s], &o.ruled.sources[s]
		if b.votedAt > 0 && a.ref == b.ref && a.reads == b.reads && !reflect.DeepEqual(a.vote, b.vote) {
			return fmt.Sprintf("log %d voted %+v, not %+v", s, a.vote, b.vote)
		}
	}
	for c := range g.ruled.fields {
		a, b := g.ruled.fields[c].last(), o.ruled.fields[c].last()
		x, y := a, b
		x.Pack, y.Pack = nil, nil
		if fmt.Sprintf("%+v", x) != fmt.Sprintf("%+v", y) || !reflect.DeepEqual(a.Pack, b.Pack) {
			return fmt.Sprintf("course %d taught %+v, not %+v", c, a, b)
		}
	}
	return ""
}
