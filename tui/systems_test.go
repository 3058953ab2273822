package tui

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Reads a minute are told on the race clock, whichever way a log's clock was set meanwhile.
func TestMinutesOfAClockThatWasSet(t *testing.T) {
	const hour = race.Millis(3600_000)
	from, n := race.Instant(1_800_000_000_000), 240
	for _, by := range []race.Millis{-20 * 60_000, -90_000, 45_000, 90_000, 20 * 60_000, hour} {
		off := slices.Concat(slices.Repeat([]race.Millis{hour}, n/2), slices.Repeat([]race.Millis{hour + by}, n/2))
		for m := range n {
			if by < 0 && m >= n/2+int(by/60_000)-1 && m < n/2 {
				continue // such times the clock told twice
			}
			at := from.Add(race.Millis(m)*60_000 + 30_000 + off[m])
			if got := minuteOf(at, from, off); got != m {
				t.Fatalf("set by %v: a read of minute %d counts in minute %d", by, m, got)
			}
		}
	}
	if got := minuteOf(from-1, from, make([]race.Millis, n)); got != -1 {
		t.Errorf("before the first minute: %d", got)
	}
}
