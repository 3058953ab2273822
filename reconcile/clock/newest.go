package clock

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Of many pairs the newest few tell nothing that those before them don't, and each of them would move
// the model by as little as nothing, and with the model everybody's times. So they wait until they are a
// batch; unless they aren't what those before them foretell: a clock that was just set is seen at once.

const (
	newGroup    = 4   // a group that has not so many times as many pairs as wait is new, and is heard
	foretold    = 4.0 // standard errors that the newest may lie off, in the mean
	mostOff     = 3.0 // standard deviations that one of them counts at the most
	fewestNewer = 3   // pairs that tell that anything changed
)

// Wait tells whether the newest of so many pairs wait.
func Wait(pairs int, c Config) bool {
	return c.Many > 0 && pairs >= max(c.Many, robust.FewestOlder) && c.Fold == nil
}

// Newest divides pairs into those that a fit is made of and those that wait: one batch and what has come
// of the next, by main's times, whatever the order of the pairs.
func Newest(pairs []Pair, c Config) (older, newer []Pair) {
	n := len(pairs)
	if !Wait(n, c) {
		return pairs, nil
	}
	at := make([]float64, n)
	for i := range pairs {
		at[i] = float64(pairs[i].Main)
	}
	older, newer = make([]Pair, 0, n), make([]Pair, 0, n-robust.Older(n))
	from, _ := robust.NewestFrom(at, c.Many)
	for _, p := range pairs {
		if p.Main < race.Instant(from) {
			older = append(older, p)
		} else {
			newer = append(newer, p)
		}
	}
	slices.SortFunc(newer, ComparePairs)
	return older, newer
}

// Foretells tells whether newer pairs than the model's, in order, are what it foretells: however many of
// the last of them are looked at, they lie about it as those before did.
func (m *Model) Foretells(newer []Pair) bool {
	if len(newer) == 0 {
		return true
	}
	count := make([]int, m.c.Groups)
	for i := range newer {
		count[min(max(newer[i].Group, 0), m.c.Groups-1)]++
	}
	for g, n := range count {
		if n > 0 && m.groupPairs[g] < newGroup*n {
			return false
		}
	}
	sum := 0.0
	for k := len(newer) - 1; k >= 0; k-- {
		p := &newer[k]
		if !p.Main.Known() || tooFar(p.Main) {
			return false
		}
		t, pm, unsure := m.RaceNear(p.Other, p.Main, p.Crossing())
		if unsure != "" {
			return false
		}
		z := float64(t.Sub(p.Main)) / (float64(pm) / 1.96)
		sum += math.Min(math.Max(z, -mostOff), mostOff)
		if n := len(newer) - k; n >= fewestNewer && math.Abs(sum) > foretold*math.Sqrt(float64(n)) {
			return false
		}
	}
	return true
}
