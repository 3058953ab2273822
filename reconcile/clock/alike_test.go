package clock

import (
	"strings"
	"testing"
)

// A drift is stated where it can be told, and not where the slow come late and their speeds
// are told with errors.
func TestADriftIsStatedOnlyWhereItCanBeTold(t *testing.T) {
	for seed := range uint64(20) {
		w := reference()
		w.pairs, w.drift, w.gross = 1000, 25, .01
		if says := Fit(w.draw(seed), Config{}).Stretches()[0].Says; !strings.Contains(says, "gains 0.0") {
			t.Errorf("seed %d: 25 ppm in a mixed field: %q", seed, says)
		}
		w.drift, w.behind, w.speed, w.guess, w.noise = 0, 3, fastFirst, .1, zones(.4)
		if says := Fit(w.draw(seed), Config{}).Stretches()[0].Says; strings.Contains(says, "gains") || strings.Contains(says, "loses") {
			t.Errorf("seed %d: no drift, but the slow come late: %q", seed, says)
		}
	}
}
