package reconcile

import (
	"reflect"
	"slices"

	"twinmat/reconcile/clock"
)

// pastFit is one fit of a clock.
type pastFit struct {
	pairs  []clock.Pair
	config clock.Config
	model  *clock.Model
}

// pastFits are the fits of a log's pairs: of those that don't wait, and of all of them, where the
// newest aren't what those foretell.
type pastFits struct {
	pairs, older, newer []clock.Pair // of the last turn, and as clock.Newest divides them
	fits                [2]pastFit
	wait                bool         // the newest of them do
	of                  *clock.Model // who was asked last what it foretells
	foretold            bool
}

// fit is clock.Fit's, of pairs or a config that aren't those of the turn before; kind tells
// the two fits of a log apart.
func (r *run) fit(s, kind int, pairs []clock.Pair, c clock.Config) *clock.Model {
	if r.mem == nil {
		return clock.Fit(pairs, c)
	}
	p, beside := &r.mem.sources[s].fits[kind], &pastFits{}
	if q := r.besideSource(s); q != nil {
		beside = &q.fits[kind]
	}
	p.divide(pairs, c)
	m := p.fits[0].fit(&beside.fits[0], p.older, c)
	if p.of != m {
		p.of, p.foretold = m, m.Foretells(p.newer)
	}
	if !p.foretold {
		m = p.fits[1].fit(&beside.fits[1], pairs, c)
	}
	return m
}

// divide tells pairs that wait from those that don't.
func (p *pastFits) divide(pairs []clock.Pair, c clock.Config) {
	wait := clock.Wait(len(pairs), c)
	if len(pairs) > 0 && sameSlice(p.pairs, pairs) && wait == p.wait {
		return
	}
	older, newer := clock.Newest(pairs, c)
	if !samePairs(p.older, older) {
		p.older = older
	}
	p.pairs, p.newer, p.wait, p.of = pairs, newer, wait, nil
}

// fit is clock.FitAll's, where neither pairs nor config are those of the last fit, or of the one beside.
func (p *pastFit) fit(beside *pastFit, pairs []clock.Pair, c clock.Config) *clock.Model {
	switch {
	case p.of(pairs, c):
	case beside.of(pairs, c):
		*p = *beside
	default:
		*p = pastFit{pairs, c, clock.FitAll(pairs, c)}
	}
	return p.model
}

// fitShared is clock.FitShared's, likewise.
func (r *run) fitShared(name string, pairs [][]clock.Pair, cs []clock.Config) []*clock.Model {
	if r.mem == nil {
		return clock.FitShared(pairs, cs)
	}
	old := r.mem.shared[name]
	same := len(old) == len(pairs)
	for i := 0; same && i < len(old); i++ {
		same = old[i].of(pairs[i], cs[i])
	}
	if !same {
		old = make([]pastFit, len(pairs))
		for i, m := range clock.FitShared(pairs, cs) {
			old[i] = pastFit{pairs[i], cs[i], m}
		}
		r.mem.shared[name] = old
	}
	models := make([]*clock.Model, len(old))
	for i := range old {
		models[i] = old[i].model
	}
	return models
}

func (p *pastFit) of(pairs []clock.Pair, c clock.Config) bool {
	return p.model != nil && reflect.DeepEqual(p.config, c) && samePairs(p.pairs, pairs)
}

func samePairs(a, b []clock.Pair) bool {
	return sameSlice(a, b) || slices.EqualFunc(a, b, func(x, y clock.Pair) bool { return clock.ComparePairs(x, y) == 0 })
}
