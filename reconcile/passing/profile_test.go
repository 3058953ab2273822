package passing

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// crossed are the reads of a crossing at `at` with a width, one each `gap` ms, out to a
// strength that is too faint; with noise in dB and a body that shades what comes after by
// so many dB.
func crossed(d *rand.Rand, at race.Instant, wide, gap, noise, shade float64) []race.Read {
	var out []race.Read
	for t := -2.2*wide + gap*d.Float64(); t < 2.2*wide; t += gap * (.6 + .8*d.Float64()) {
		y := -46 - 10*2*math.Log10(1+t*t/(wide*wide)) + noise*d.NormFloat64()
		if t > 0 {
			y -= shade
		}
		out = append(out, race.Read{At: at + race.Instant(math.Round(t)), RSSI: int16(math.Round(y)) * 10})
	}
	return out
}

// A crossing's own curve gives back its moment and width, to what whole dB leave.
func TestProfileOfACurve(t *testing.T) {
	d := rand.New(rand.NewPCG(1, 1))
	for _, wide := range []float64{70, 330, 900} {
		for range 50 {
			crest, w := Profile(crossed(d, 1_000_000, wide, wide/5, 0, 0))
			if math.Abs(float64(crest-1_000_000)) > .04*wide+1 || math.Abs(float64(w)-wide) > .06*wide+1 {
				t.Fatalf("the curve lies at 1000000, %g wide; got %d, %d", wide, crest, w)
			}
		}
	}
}

// Noise of 2 dB leaves the width true to a tenth or so and without bias, and it tells slow
// from fast; a body in the way moves it little.
func TestProfileTellsHowSlowSomebodyWent(t *testing.T) {
	d := rand.New(rand.NewPCG(1, 2))
	for _, shade := range []float64{0, 3} {
		for _, wide := range []float64{250, 500} {
			sum, squares, told, n := 0.0, 0.0, 0.0, 500.0
			for range int(n) {
				crest, w := Profile(crossed(d, 1_000_000, wide, 70, 2, shade))
				if w == 0 {
					continue
				}
				if c := float64(crest - 1_000_000); math.Abs(c) > wide {
					t.Fatalf("crest is %g ms off, %g wide", c, wide)
				}
				x := math.Log(float64(w) / wide)
				sum, squares, told = sum+x, squares+x*x, told+1
			}
			mean := sum / told
			sd := math.Sqrt(squares/told - mean*mean)
			t.Logf("%g ms wide, %g dB shade: told %g of %g, off by %+.3f, scatters by %.3f", wide, shade, told, n, mean, sd)
			if told < .97*n || math.Abs(mean) > .05 || sd > .20 {
				t.Errorf("%g ms wide, %g dB shade: told %g of %g, off by %+.3f, scatters by %.3f", wide, shade, told, n, mean, sd)
			}
		}
	}
}

func TestProfileOfWhatIsNone(t *testing.T) {
	at := func(ys ...int16) []race.Read {
		var out []race.Read
		for i, y := range ys {
			out = append(out, race.Read{At: race.Instant(100 * i), RSSI: y})
		}
		return out
	}
	for name, rs := range map[string][]race.Read{
		"four reads":       at(-600, -500, -500, -600),
		"no strengths":     at(race.NoRSSI, race.NoRSSI, race.NoRSSI, race.NoRSSI, race.NoRSSI, race.NoRSSI),
		"all alike":        at(-500, -500, -500, -500, -500, -500),
		"a valley":         at(-450, -550, -600, -600, -550, -450),
		"still coming":     at(-700, -680, -660, -640, -620, -600),
		"at one time":      {{At: 5, RSSI: -500}, {At: 5, RSSI: -510}, {At: 5, RSSI: -500}, {At: 5, RSSI: -530}, {At: 5, RSSI: -540}},
		"wild":             at(math.MaxInt16, math.MinInt16+1, 0, math.MaxInt16, -1, 3),
		"one above silent": at(-900, -900, -900, -300, -900, -900, -900),
	} {
		crest, wide := Profile(rs)
		if crest < rs[0].At || crest > rs[len(rs)-1].At || wide < 0 || wide > race.Millis(rs[len(rs)-1].At-rs[0].At) {
			t.Errorf("%s: %d, %d lies outside the burst", name, crest, wide)
		}
		if name != "wild" && name != "one above silent" && wide != 0 {
			t.Errorf("%s: tells a width of %d", name, wide)
		}
	}
}

func BenchmarkProfile(b *testing.B) {
	rs := crossed(rand.New(rand.NewPCG(1, 3)), 1_000_000, 330, 70, 2, 1)
	b.ReportAllocs()
	for b.Loop() {
		Profile(rs)
	}
}
