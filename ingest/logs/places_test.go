package logs

import (
	"math/rand/v2"
	"testing"
)

// Whatever places are given, moved and forgotten, the tables of the minutes tell the days that one map
// of all would, also of times that a leap second puts past the day's last minute.
func TestPlacesKeepTheirDays(t *testing.T) {
	for seed := range uint64(20) {
		g := rand.New(rand.NewPCG(seed, 3))
		var tables placed
		plain, ever := map[place]int64{}, []place{}
		minutes := 1 + g.Int64N(3) // a few, so that tables grow
		for range 3000 {
			ms := g.Int64N(minutes * minuteMS)
			if g.IntN(4) == 0 {
				ms = dayMS - minuteMS + g.Int64N(minuteMS+1000)
			}
			key := placeOf(&file{index: uint8(g.IntN(3))}, &parsed{ms: ms, tag: uint32(g.IntN(4))})
			day := dayMS * (g.Int64N(5) - 2)
			switch of := uint8(g.IntN(3)); g.IntN(400) {
			case 0:
				tables.forget(of)
				for k := range plain {
					if k.file == of {
						delete(plain, k)
					}
				}
			case 1:
				tables.move(of, day)
				for k := range plain {
					if k.file == of {
						plain[k] += day
					}
				}
			default:
				if _, ok := plain[key]; !ok {
					tables.put(key, day)
					plain[key], ever = day, append(ever, key)
				}
			}
		}
		for _, key := range ever {
			want, is := plain[key]
			if got, ok := tables.day(key); ok != is || ok && got != want {
				t.Fatalf("seed %d: %v is of day %d (%v), want %d (%v)", seed, key, got/dayMS, ok, want/dayMS, is)
			}
		}
	}
}
