package clock

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// A clock may be set by seconds, an hour, a day or a year in mid-race; noise that grows with
// slowness must not tear so far a level apart.
func TestAClockThatIsSetByAnySizeIsFoundAndPlaced(t *testing.T) {
	for _, step := range []float64{2, -12, 90, -3600, 86400, -86400 * 365} {
		for _, at := range []float64{.1, .5, .8} {
			for seed := range uint64(5) {
				w := reference()
				w.noise, w.speed, w.hours, w.pairs = firstReads, runners, 1.6, 300
				w.step, w.stepAt = step, at
				st := Fit(w.draw(seed), Config{}).Steps()
				if len(st) != 1 {
					t.Errorf("step of %g s at %g of the race, seed %d: %d steps found: %+v", step, at, seed, len(st), st)
					continue
				}
				true := zero + race.Instant(at*w.hours*3600_000)
				if s := st[0]; math.Abs(s.SizeS-step) > 2*s.PlusMinusS+.05 || s.Before > true.Add(30_000) || s.After < true.Add(-30_000) {
					t.Errorf("step of %g s at %d, seed %d: found %+v", step, true, seed, s)
				}
			}
		}
	}
}

// turning is a line passed out and back: those who come back reach the other antenna first.
func turning(w world, seed uint64) []Pair {
	ps := w.draw(seed)
	d := rand.New(rand.NewPCG(seed, 5))
	for i := range ps {
		x := float64(ps[i].Main-zero) / (w.hours * 3600_000) // mostly out first, back later
		if d.Float64() < 1/(1+math.Exp(-12*(x-.5))) {
			ps[i].Group = 1
			u := ps[i].U
			if math.IsNaN(u) {
				u = runnerSlowness
			}
			ps[i].Other = ps[i].Other.Add(-race.Millis(math.Round(2000 * w.behind * u)))
		}
	}
	return ps
}

// A thousand races without a step show none; CLOCK_MEASURE=4 has four thousand.
func TestNoStepIsInventedInAThousandRaces(t *testing.T) {
	tight := func(d *rand.Rand, _ float64) float64 { return max(2, 3+.15*d.NormFloat64()) }
	with := func(f func(*world)) world { w := reference(); f(&w); return w }
	kinds := []struct {
		what   string
		world  world
		groups int
	}{
		{"wide speeds", reference(), 1},
		{"tight speeds", with(func(w *world) { w.speed = tight }), 1},
		{"noise of zones", with(func(w *world) { w.noise = zones(.5) }), 1},
		{"20 % late", with(func(w *world) { w.late, w.gross = .2, 0 }), 1},
		{"fast first, speeds told badly", with(func(w *world) { w.noise, w.speed, w.guess = firstReads, fastFirst, .1 }), 1},
		{"out and back", with(func(w *world) {}), 2},
		{"out and back, speeds told badly", with(func(w *world) { w.noise, w.speed, w.guess = firstReads, runners, .1 }), 2},
		{"out and back, fast first", with(func(w *world) { w.noise, w.speed, w.guess = firstReads, fastFirst, .1 }), 2},
	}
	total, bad := 0, 0
	for _, k := range kinds {
		for _, n := range []struct{ pairs, races int }{{20, 50}, {100, 50}, {1000, 25}} {
			k.world.pairs = n.pairs
			for seed := range uint64(scaled(t, n.races)) {
				ps := k.world.draw(seed)
				if k.groups > 1 {
					ps = turning(k.world, seed)
				}
				total++
				if st := Fit(ps, Config{Groups: k.groups}).Steps(); len(st) > 0 {
					bad++
					t.Errorf("%s, %d pairs, seed %d: invented %+v", k.what, n.pairs, seed, st)
				}
			}
		}
	}
	t.Logf("%d of %d races", bad, total)
}

// Main falls silent for a quarter of a minute while a mass starts: it has the last reads of all who
// were on the line at one moment, each two to six seconds before they left it. Their spread says
// that it is no clock that was set; one that was set then is found all the same.
func TestReadsCutShortAreNoStep(t *testing.T) {
	for seed := range uint64(20) {
		d := rand.New(rand.NewPCG(seed, 41))
		var cut, set []Pair
		for i := range 160 {
			at := zero + race.Instant(400*i+d.IntN(400))
			if i > 40 {
				at += 15_000
			}
			p := Pair{Main: at, Other: at.Add(-900 + race.Millis(150*d.NormFloat64())), U: math.NaN(), Tag: i}
			q := p
			if i <= 40 {
				q.Other = q.Other.Add(2500)
			}
			set = append(set, q)
			if i > 20 && i <= 40 { // they were on the line when main fell silent
				p.Main = zero + race.Instant(8000+d.IntN(200))
				p.Other = p.Main.Add(race.Millis(1100 + d.IntN(2700)))
			}
			if i > 20 {
				cut = append(cut, p)
			}
		}
		if m := Fit(cut, Config{}); len(m.Steps()) != 0 {
			t.Errorf("seed %d: cut short: %+v", seed, m.Steps())
		}
		if m := Fit(set, Config{}); len(m.Steps()) != 1 {
			t.Errorf("seed %d: set: %+v", seed, m.Steps())
		}
	}
}

// People who come in bunches, a dozen within seconds and then nobody for minutes, tell no rate beside a
// step: it is one, however far their lines would lead.
func TestAStepBesideAPauseBetweenBunches(t *testing.T) {
	for seed := range uint64(40) {
		g := rand.New(rand.NewPCG(seed, 31))
		var ps []Pair
		at := zero
		for n := range 12 {
			for range 12 {
				at = at.Add(race.Millis(g.IntN(500)))
				u, other := 0.25+0.2*g.Float64(), at.Add(3217)
				if n >= 3 {
					other = other.Add(-13_800)
				}
				ps = append(ps, Pair{Main: at, Other: other.Add(race.Millis(1500*u + 140*g.NormFloat64())), U: u, Tag: len(ps)})
			}
			at = at.Add(290_000)
		}
		if st := Fit(ps, Config{Resolution: 200}).Steps(); len(st) != 1 || math.Abs(st[0].SizeS+13.8) > 0.3 {
			t.Errorf("seed %d: %+v", seed, st)
		}
	}
}
