package main

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"sync/atomic"
)

// A race's laptop has other things to do. Garbage is collected when twice as much memory is
// taken as is in use, but at usualRoom at the latest, or where that would leave too little
// to work in, at moreRoom times what is in use: Go's own measure let a long race's memory go
// up and down by hundreds of megabytes. A race that is computed once mostly stays in use, and
// makes little garbage: onceRoom does, for a collection or two more.
const (
	usualRoom = 460 << 20
	tightRoom = 1.2
	moreRoom  = 1.4 // half of what is more costs twice the collections
	onceRoom  = 1.2
)

// once tells that the program computes a race once and ends.
var once atomic.Bool

// keepSmall bounds the garbage from now on. Somebody who sets GOMEMLIMIT knows better.
func keepSmall() {
	if os.Getenv("GOMEMLIMIT") == "" {
		boundGarbage(0)
	}
}

// boundGarbage sets the limit by what is in use now, and again after every collection.
func boundGarbage(last int64) {
	sample := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(sample)
	limit, inUse := int64(usualRoom), float64(sample[0].Value.Uint64())
	if tightRoom*inUse > usualRoom {
		if limit = int64(moreRoom * inUse); once.Load() {
			limit = int64(onceRoom * inUse)
		}
	}
	if math.Abs(float64(limit-last)) > 0.03*float64(last) { // a new limit halts everything for a moment
		debug.SetMemoryLimit(limit)
		last = limit
	}
	runtime.AddCleanup(&struct{ _ [32]byte }{}, boundGarbage, last)
}
