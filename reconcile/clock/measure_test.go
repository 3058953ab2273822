package clock

import (
	"os"
	"strconv"
	"testing"
)

// scaled multiplies the number of races: CLOCK_MEASURE=10 go test -run Measure -v.
func scaled(t *testing.T, n int) int {
	if s := os.Getenv("CLOCK_MEASURE"); s != "" {
		f, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return n * f
	}
	if testing.Short() {
		return max(20, n/10)
	}
	return n
}

var worlds = []struct {
	name string
	make func() world
}{
	{"reference", reference},
	{"step 0.75 s", func() world { w := reference(); w.step = .75; return w }},
	{"20 % late", func() world { w := reference(); w.late, w.gross = .2, 0; return w }},
	{"noise of zones", func() world { w := reference(); w.noise, w.gross = zones(.5), .01; return w }},
	{"first reads, runners", func() world { w := reference(); w.noise, w.speed, w.gross = firstReads, runners, .01; return w }},
	{"fast first, first reads", func() world {
		w := reference()
		w.noise, w.speed, w.gross, w.guess = firstReads, fastFirst, .01, .1
		return w
	}},
	{"fast first, step", func() world {
		w := reference()
		w.noise, w.speed, w.gross, w.guess, w.step = firstReads, fastFirst, .01, .1, .75
		return w
	}},
}
