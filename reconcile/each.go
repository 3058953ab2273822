package reconcile

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// What a few athletes' reads change is done sooner than another processor wakes, but where it
// concerns the field.
const (
	fewFresh = 256
	manyRows = 64
)

// each calls f for 0…n-1, so many in a row, from as many goroutines as there are processors:
// an engine's give way after every row, so that the screen waits for a row at the most. Calls
// must not touch each other's data: the result is as if they came in order. A panic in one of
// them is the caller's, who knows how to leave the terminal whole.
func (r *run) each(row, n int, f func(i int)) {
	rows := (n + row - 1) / row
	workers := min(runtime.GOMAXPROCS(0), runtime.NumCPU())
	if r.again && len(r.fresh) < fewFresh && rows < manyRows {
		workers--
	}
	workers = min(workers, rows)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	var next atomic.Int64
	var failed atomic.Pointer[any]
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			defer func() {
				if x := recover(); x != nil {
					failed.CompareAndSwap(nil, &x)
				}
			}()
			for failed.Load() == nil {
				from := int(next.Add(int64(row))) - row
				if from >= n {
					return
				}
				for i := from; i < min(from+row, n); i++ {
					f(i)
				}
				if r.mem != nil {
					runtime.Gosched()
				}
			}
		})
	}
	wg.Wait()
	if x := failed.Load(); x != nil {
		panic(*x)
	}
}
