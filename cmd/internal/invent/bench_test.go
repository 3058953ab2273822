package invent

import (
	"testing"
	"time"
)

// The cost of a line on its way to a live folder, over all logs in order of time.
func BenchmarkFeed(b *testing.B) {
	r, err := Make(Options{Kind: "big", Seed: 1, Athletes: 2000})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	lines := 0
	for b.Loop() {
		if err := r.Feed(func(string, []byte, time.Time) error { lines++; return nil }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(lines), "ns/line")
}
