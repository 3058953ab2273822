package live

import (
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// Each trip by itself, and none where all is well.
func TestTrips(t *testing.T) {
	now := time.Date(2026, 5, 17, 11, 0, 0, 0, time.UTC)
	at := func(d time.Duration) race.Instant { return race.Instant(now.Add(d).UnixMilli()) }
	well := func(path string) Health {
		return Health{Path: path, Looked: now, LastNew: now, LastAt: at(-2 * time.Second)}
	}
	for _, c := range []struct {
		name string
		free int64
		turn func(a, b *Health)
		want string
	}{
		{"well", 1 << 40, func(a, b *Health) {}, ""},
		{"unknown space", unknownSpace, func(a, b *Health) {}, ""},
		{"disk", 10 << 20, func(a, b *Health) {}, "disk"},
		{"stale", 1 << 40, func(a, b *Health) { a.Looked = now.Add(-11 * time.Second) }, "stale a"},
		{"behind", 1 << 40, func(a, b *Health) { b.LastAt = at(-45 * time.Second) }, "behind b"},
		{"just not behind", 1 << 40, func(a, b *Health) { b.LastAt = at(-31 * time.Second) }, ""},
		{"clock late", 1 << 40, func(a, b *Health) { a.LastAt, b.LastAt = at(-time.Hour), at(-time.Hour) }, "clock"},
		{"clock early", 1 << 40, func(a, b *Health) { a.LastAt, b.LastAt = at(time.Hour), at(time.Hour) }, "clock"},
		{"quiet for an hour", 1 << 40, func(a, b *Health) { a.LastNew, a.LastAt = now.Add(-time.Hour), at(-time.Hour) }, ""},
		{"nothing yet", 1 << 40, func(a, b *Health) { a.LastNew, a.LastAt = time.Time{}, race.NoInstant }, ""},
	} {
		logs := []Health{well("a"), well("b")}
		c.turn(&logs[0], &logs[1])
		var keys []string
		for _, trip := range Trips(now, logs, c.free) {
			keys = append(keys, trip.Key)
		}
		if got := strings.Join(keys, ", "); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// A trip is told once while it lasts, and again when it comes back.
func TestTripsAreToldOnce(t *testing.T) {
	r := &Race{wake: make(chan struct{}, 1)}
	full := []Trip{{"disk", "full"}}
	for _, trips := range [][]Trip{full, full, full, nil, full} {
		r.trip(trips)
	}
	if len(r.notices) != 2 {
		t.Errorf("told %d times", len(r.notices))
	}
}
