package suspect

import "testing"

// A city marathon's field: what one change of a live race costs in suspects.
func BenchmarkFindOfFiftyThousand(b *testing.B) {
	m := makeRace(b, 50000)
	m.miss("77", 2)
	m.stray("4000", "FFFF0001")
	b.ReportAllocs()
	for b.Loop() {
		Order(m.in, Find(m.in))
	}
}
