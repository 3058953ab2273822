package main

import (
	"os"
	"testing"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
)

// benchRace is an invented race to measure on: TWINMAT_BENCH names a folder made with
// `twinmat demo --kind big --write-only`; without it a smaller one is made.
func benchRace(b *testing.B) string {
	b.Helper()
	if dir := os.Getenv("TWINMAT_BENCH"); dir != "" {
		return dir
	}
	r, err := invent.Make(invent.Options{Kind: "big", Seed: 1, Athletes: 2000})
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	if err := r.Write(dir); err != nil {
		b.Fatal(err)
	}
	return dir
}

// Reading and computing, the two halves of an export.
func BenchmarkRead(b *testing.B) {
	dir := benchRace(b)
	for b.Loop() {
		if _, err := ingest.Read(dir); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCompute(b *testing.B) {
	f, err := ingest.Read(benchRace(b))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		reconcile.Compute(f.Input())
	}
}
