package race

import (
	"math/rand"
	"testing"
	"time"
)

// Instants are written as the standard library writes them, in zones of every kind of
// offset and beyond the years of four digits.
func TestFormatAgainstTime(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	zones := []*time.Location{time.UTC}
	for _, s := range []int{3600, -12600, 20700, 59, -59, -61, 50400, -43200, 3661} {
		zones = append(zones, time.FixedZone("", s))
	}
	if z, err := time.LoadLocation("Europe/Rome"); err == nil {
		zones = append(zones, z)
	}
	for i := range 20000 {
		at := Instant(rnd.Int63n(600_000_000_000_000) - 150_000_000_000_000) // 2783 BC to 16229
		if i%2 == 0 {
			at = Instant(rnd.Int63n(4_000_000_000_000))
		}
		z := zones[i%len(zones)]
		if got, want := at.Format(z), at.Time(z).Format("2006-01-02T15:04:05.000Z07:00"); got != want {
			t.Fatalf("%d in %v: %q, want %q", int64(at), z, got, want)
		}
	}
}
