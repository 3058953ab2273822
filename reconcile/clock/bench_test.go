package clock

import (
	"fmt"
	"testing"

	"twinmat/reconcile/race"
)

// A refit of a line while the race runs.
func BenchmarkFit(b *testing.B) {
	for _, n := range []int{20, 100, 1000, 3000, 50000} {
		for _, step := range []float64{0, .75} {
			w := reference()
			w.pairs, w.step = n, step
			ps := w.draw(1)
			b.Run(fmt.Sprintf("pairs=%d/step=%g", n, step), func(b *testing.B) {
				for b.Loop() {
					Fit(ps, Config{})
				}
			})
		}
	}
}

func BenchmarkRace(b *testing.B) {
	w := reference()
	w.pairs, w.step = 3000, .75
	ps := w.draw(1)
	m := Fit(ps, Config{})
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		p := ps[i%len(ps)]
		m.Race(p.Other, p.Crossing())
	}
}

func BenchmarkCoarseVote(b *testing.B) {
	w := reference()
	w.pairs = 12000
	main, other := make([][]race.Instant, 3000), make([][]race.Instant, 3000)
	for i, p := range w.draw(1) {
		main[i%3000], other[i%3000] = append(main[i%3000], p.Main), append(other[i%3000], p.Other)
	}
	for b.Loop() {
		CoarseVote(main, other)
	}
}
