package main

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// A race's laptop has other things to do. Garbage is collected when memory reaches
// roomAtLeast, and never later than at half as much again as is in use: Go's own measure,
// twice what is in use, let a long race's memory go up and down by hundreds of megabytes.
const (
	roomAtLeast = 400 << 20
	roomShare   = 1.4 // of what is in use; each half less costs twice the collections
)

// keepSmall bounds the garbage from now on. Somebody who sets GOMEMLIMIT knows better.
func keepSmall() {
	if os.Getenv("GOMEMLIMIT") == "" {
		boundGarbage(0)
	}
}

// boundGarbage sets the limit by what is in use now, and again after every collection.
func boundGarbage(last int64) {
	inUse := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(inUse)
	limit := max(roomAtLeast, int64(roomShare*float64(inUse[0].Value.Uint64())))
	if math.Abs(float64(limit-last)) > 0.03*float64(last) { // a new limit halts everything for a moment
		debug.SetMemoryLimit(limit)
		last = limit
	}
	runtime.AddCleanup(&struct{ _ [32]byte }{}, boundGarbage, last)
}
