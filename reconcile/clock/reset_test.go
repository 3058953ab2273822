package clock

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"twinmat/reconcile/race"
)

// clock_offsets_with_reset.csv are two streams of a laboratory recording's readings of one
// computer's clock (xdf-modules/example-files, clock_resets.xdf, MIT): collection_time on
// that clock, offset to the recorder's. Between readings 81 and 82 the computer was
// started anew. Fitted by least squares (there, SOURCES.md): −1.28 ppm before and −4.33
// ppm after in stream 1, −1.45 and −4.35 in stream 2; the offset steps by +653,461.451 s.
//
// The readings differ by tenths of a millisecond, instants are whole milliseconds: all
// times are taken a thousand times as long, which leaves parts per million as they are.
func TestARestartOfARealClockIsFoundWithBothRates(t *testing.T) {
	dir := os.Getenv("TWINMAT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(dir, "data", "clock_offsets_with_reset.csv")
	if _, err := os.Stat(path); err != nil {
		t.Skipf("NOT CHECKED: no %s; set TWINMAT_SHARED", path)
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	const longer = 1000 // times
	for stream, want := range map[string][2]float64{"1": {-1.28, -4.33}, "2": {-1.45, -4.35}} {
		var ps []Pair
		for _, row := range table(t, path) {
			if row["stream"] != stream {
				continue
			}
			at, offset := number(row["collection_time"]), number(row["offset"])
			ms := func(s float64) race.Instant { return race.Instant(math.Round(s * 1000 * longer)) }
			ps = append(ps, Pair{Main: ms(at + offset), Other: ms(at), U: math.NaN(), Long: math.NaN()})
		}
		m := Fit(ps, Config{BehindFixed: true})
		st := m.Steps()
		if len(st) != 1 {
			t.Fatalf("stream %s: %d steps, want the one restart: %+v", stream, len(st), st)
		}
		if s := st[0]; s.PairsBefore != 82 || s.PairsAfter != 33 || math.Abs(s.SizeS/longer+653461.451) > .005 {
			t.Errorf("stream %s: %d pairs before and %d after a step of %.3f s, want 82, 33, −653461.451 s", stream, s.PairsBefore, s.PairsAfter, s.SizeS/longer)
		}
		for k, x := range m.Stretches() { // other − main is what the file calls offset, turned round
			t.Logf("stream %s: %+.2f ppm, want %+.2f", stream, -x.DriftPPM, want[k])
			if math.Abs(-x.DriftPPM-want[k]) > .35 {
				t.Errorf("stream %s, stretch %d: %+.2f ppm, want %+.2f", stream, k+1, -x.DriftPPM, want[k])
			}
		}
	}
}
