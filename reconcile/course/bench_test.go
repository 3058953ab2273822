package course

import "testing"

// A field that needs no search: each at an even pace over ten splits.
func BenchmarkAssignObvious(b *testing.B) {
	c := road(1).c
	var ps []Passing
	for k, s := range c.Splits {
		ps = append(ps, seen(s.Line, 20+s.At*.36+float64(k)))
	}
	f := Field{N: 100, Spread: .2, Factor: make([]float64, 10), Scatter: make([]float64, 10), Miss: make([]float64, 10)}
	for s := range f.Factor {
		f.Factor[s], f.Scatter[s], f.Miss[s] = -1.06, .06, .01
	}
	a := gunAt0()
	b.ReportAllocs()
	for b.Loop() {
		Assign(c, ps, a, &f)
	}
}

func benchmarkField(b *testing.B, m *maker) {
	_, f := m.twice()
	var all [][]Passing
	for i := range m.all {
		all = append(all, m.all[i].passings())
	}
	b.ReportAllocs()
	b.ResetTimer()
	for i := 0; i < b.N; i++ {
		k := i % len(all)
		Assign(m.c, all[k], m.all[k].a, &f)
	}
}

// Ten splits, 10 % missed, 5 % read again; 40 laps with 10 % missed; 24 hours of laps.
func BenchmarkAssignRoad(b *testing.B)      { benchmarkField(b, road(1)) }
func BenchmarkAssignCriterium(b *testing.B) { benchmarkField(b, criterium(1, .1)) }
func BenchmarkAssign24Hours(b *testing.B)   { benchmarkField(b, rounds(1, 24, .003)) }

// What 50,000 athletes teach of ten splits.
func BenchmarkLearn50000(b *testing.B) {
	factors := make([]float64, 10)
	for s := range factors {
		factors[s] = -1.06
	}
	c, runs := fieldOf(1, 50_000, factors)
	for b.Loop() {
		Learn(c, runs)
	}
}
