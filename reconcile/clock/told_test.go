package clock

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// A hand log: whole seconds, keyed three tenths late and unevenly.
func TestAHandLogIsAlignedWithAWideInterval(t *testing.T) {
	for _, n := range []int{8, 20, 100, 400} {
		inside, all, bias := 0, 0, 0.0
		for seed := range uint64(40) {
			d := rand.New(rand.NewPCG(seed, 31))
			key := func() Pair {
				at := zero + race.Instant(d.IntN(3*3600_000))
				late := 1200 + 300 + 250*d.NormFloat64()
				return Pair{Main: at, Other: (at + race.Instant(late)) / 1000 * 1000, U: .36}
			}
			ps := make([]Pair, n)
			for i := range ps {
				ps[i] = key()
				ps[i].Tag = i
			}
			m := Fit(ps, Config{Hand: true, BehindFixed: true})
			for range 50 {
				p := key()
				got, pm, unsure := m.Race(p.Other, Crossing{U: p.U})
				if unsure != "" {
					t.Fatal(unsure)
				}
				all++
				bias += float64(got-p.Main) / 1000
				if max(got.Sub(p.Main), p.Main.Sub(got)) <= pm {
					inside++
				}
			}
			if s := m.Stretches()[0]; math.Abs(s.DriftPPM) > 30 {
				t.Errorf("%d pairs: a drift of %.1f ppm from whole seconds", n, s.DriftPPM)
			}
		}
		t.Logf("%d pairs: inside %.3f, bias %+.3f s", n, float64(inside)/float64(all), bias/float64(all))
		if in := float64(inside) / float64(all); in < .92 || in > .99 || math.Abs(bias/float64(all)) > .1 {
			t.Errorf("%d pairs: inside %.3f, bias %+.3f s", n, in, bias/float64(all))
		}
	}
}

func TestFewPairsSayWhatTheyAre(t *testing.T) {
	w := reference()
	w.gross = 0
	for n, want := range map[int]string{0: "no crossing was seen by both", 1: "only one crossing was seen by both", 2: "only 2 crossings were seen by both", 3: ""} {
		w.pairs = n
		m := Fit(w.draw(1), Config{})
		if _, _, unsure := m.Race(zero, Crossing{U: .3}); m.Unsure() != want || unsure != want {
			t.Errorf("%d pairs: %q, %q, want %q", n, m.Unsure(), unsure, want)
		}
	}
	w.pairs = 20
	ps := w.draw(1)
	d := rand.New(rand.NewPCG(1, 1))
	for i := range ps {
		ps[i].Other += race.Instant(d.IntN(600_000))
	}
	if m := Fit(ps, Config{}); !strings.Contains(m.Unsure(), "don't agree") {
		t.Errorf("pairs all over the place: %q", m.Unsure())
	}
}

func TestAFixedOffsetIsHonouredAndContradicted(t *testing.T) {
	w := reference()
	w.drift, w.gross = 0, 0
	ps := w.draw(1)
	m := Fit(ps, Config{Fixed: true, FixedOffset: 3217, BehindFixed: true, Behind: 2})
	at, _, unsure := m.Race(zero+10_000_000+3217+600, Crossing{U: .3})
	if at != zero+10_000_000 || unsure != "" {
		t.Errorf("%d %q", at-zero, unsure)
	}
	m = Fit(ps, Config{Fixed: true, FixedOffset: 2217, BehindFixed: true, Behind: 2})
	s := m.Stretches()[0]
	if !s.Fixed || s.OffsetS != 2.217 || !strings.Contains(s.Says, "pairs say that it is +1.0") {
		t.Errorf("%+v", s)
	}
	if m = Fit(nil, Config{Fixed: true, FixedOffset: 3217}); m.Unsure() != "" {
		t.Errorf("a fixed offset needs no pairs: %q", m.Unsure())
	}
	if at, pm, _ := m.Race(zero+3217+300, Crossing{U: .3}); at != zero || pm < 300 || pm > 3000 {
		t.Errorf("without a pair, a metre assumed: %d ±%d", at-zero, pm)
	}
}

func TestARuledOffsetHoldsFromItsMoment(t *testing.T) {
	w := reference()
	w.step, w.gross = 40, 0
	ps := w.draw(2)
	noon := zero + 3*3600_000
	m := Fit(ps, Config{BehindFixed: true, Behind: 2, Breaks: []race.Instant{noon}, BreakOffsets: []race.Millis{50_000}})
	if st := m.Steps(); len(st) != 1 || !st[0].Ruled {
		t.Fatalf("%+v", st)
	}
	at, _, unsure := m.Race(noon+60_000+50_000+600, Crossing{U: .3})
	if at != noon+60_000 || unsure != "" {
		t.Errorf("after: %d %q", at-noon, unsure)
	}
	at, _, _ = m.Race(noon-3600_000+3217+600, Crossing{U: .3})
	if d := at - (noon - 3600_000); d < -150 || d > 150 {
		t.Errorf("before: %d", d)
	}
}

func TestATimeInAStepsGapSaysSo(t *testing.T) {
	w := reference()
	w.step, w.gross = .75, 0
	m := Fit(w.draw(3), Config{Zone: time.UTC})
	st := m.Steps()
	if len(st) != 1 {
		t.Fatalf("%+v", st)
	}
	mid := halfWay(st[0].Before, st[0].After)
	_, _, unsure := m.Race(mid.Add(3600), Crossing{U: .3})
	want := "a step of +0."
	if !strings.HasPrefix(unsure, want) || !strings.Contains(unsure, " between "+st[0].Before.Clock(time.UTC)[:3]) {
		t.Errorf("%q, want %q … between times", unsure, want)
	}
	if _, _, unsure := m.Race(st[0].Before.Add(-3600_000), Crossing{U: .3}); unsure != "" {
		t.Errorf("an hour before: %q", unsure)
	}
}

// Between the last crossing before a step and the first after it a time may be either of two, and its interval
// holds both; elsewhere a step makes nobody's wider.
func TestTheIntervalOfATimeInAGapHoldsBothSides(t *testing.T) {
	for seed := range uint64(10) {
		w := reference()
		w.step, w.gross = 2, 0
		m := Fit(w.draw(seed), Config{Zone: time.UTC})
		st := m.Steps()
		if len(st) != 1 || st[0].After.Sub(st[0].Before) < 20_000 {
			continue
		}
		before := func(t race.Instant) race.Instant { return t.Add(race.Millis(m.parts[0].level*1000) + m.base) }
		mid := halfWay(st[0].Before, st[0].After)
		for _, at := range []race.Millis{-4000, 0, 4000} {
			for _, told := range []race.Instant{before(mid.Add(at)), before(mid.Add(at)).Add(2000)} {
				got, pm, _ := m.Race(told, Crossing{U: .3})
				if got > st[0].Before && got < st[0].After && got.Add(2000) < st[0].After && got.Add(-2000) > st[0].Before && pm < 1900 {
					t.Errorf("seed %d: a time in the gap that may be 2 s off is ±%d", seed, pm)
				}
			}
		}
		if _, pm, _ := m.Race(st[0].Before.Add(-1800_000), Crossing{U: .3}); pm > 900 {
			t.Errorf("seed %d: half an hour before ±%d", seed, pm)
		}
	}
}

// Held against a reference that is itself ahead of the race clock, words tell the number that stands
// beside them: here the same clock is ahead of one and behind the other.
func TestWordsTellTheNumberBesideThem(t *testing.T) {
	m := Fit(nil, Config{Fixed: true, FixedOffset: 1200, BehindFixed: true})
	for ahead, want := range map[float64]string{0: "runs 1.200 s ahead", 2.5: "runs 1.300 s behind", -0.3: "runs 1.500 s ahead"} {
		s := m.Against(ahead)[0]
		if math.Abs(s.OffsetS-(1.2-ahead)) > 1e-9 || !strings.HasPrefix(s.Says, want) {
			t.Errorf("against one %g s ahead: %g, %q, want %q", ahead, s.OffsetS, s.Says, want)
		}
	}
}
