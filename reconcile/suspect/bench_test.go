package suspect

import (
	"fmt"
	"testing"
)

// A city marathon's field: what one change of a live race costs in suspects.
func BenchmarkFindOfFiftyThousand(b *testing.B) {
	m := makeRace(b, 50000)
	m.miss("77", 2)
	m.stray("4000", "FFFF0001")
	b.ReportAllocs()
	for b.Loop() {
		Order(m.in, Begin(m.in).Find())
	}
}

// The same as long as all have but started, when nobody's pace tells them apart: five times
// the field takes some five times as long.
func BenchmarkFindAfterTheStart(b *testing.B) {
	for _, n := range []int{2_000, 10_000, 50_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			m := makeRace(b, n)
			for i := range m.st.Results {
				m.st.Results[i].Passings = m.st.Results[i].Passings[:1]
				for k := range m.st.Results[i].Filled[1:] {
					m.st.Results[i].Filled[1+k] = -1
				}
				m.settle(i)
			}
			m.st.Now = gunTime.Add(40 * 60_000)
			for b.Loop() {
				Begin(m.in).Find()
			}
		})
	}
}
