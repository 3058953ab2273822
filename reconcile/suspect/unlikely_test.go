package suspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// lapsOf makes the made race one of laps on its finish line, at everybody's own pace with tails
// as real fields have them (Laplace), seeded.
func (m *made) lapsOf(n int, seed uint64) {
	c := &m.plan.Courses[0]
	c.Splits = nil
	for k := range n {
		c.Splits = append(c.Splits, race.Split{ID: fmt.Sprintf("lap-%d", k+1), Line: 4, At: 1000 * float64(k+1), Sport: "run", Required: true})
	}
	g := rand.New(rand.NewPCG(seed, 5))
	for i, r := range m.st.Results {
		r.Splits, r.Passings, r.Filled = c.Splits, nil, make([]int, n)
		pace, at := 0.32*math.Exp(0.1*g.NormFloat64()), r.Gun
		for k := range n {
			noise := 0.015 * g.ExpFloat64()
			if g.IntN(2) == 0 {
				noise = -noise
			}
			at = at.Add(race.Millis(1000 * 1000 * pace * math.Exp(noise)))
			r.Passings, r.Filled[k] = append(r.Passings, passingAt(4, at, k)), k
		}
		m.settle(i)
	}
}

// Who rides forty laps is asked forty times: chance alone must not list them the oftener. A lap
// that took half as long again is listed in a race of any length.
func TestManyLapsMakeNobodyUnlikely(t *testing.T) {
	const seeds = 20
	listed := map[int]int{}
	for _, laps := range []int{6, 40} {
		found := 0
		for seed := range uint64(seeds) {
			m := makeRace(t, 80)
			m.lapsOf(laps, seed)
			slow := m.st.Results[17]
			for k := laps / 2; k < laps; k++ {
				p := &slow.Passings[k]
				*p = passingAt(4, p.At.Add(160000), k)
			}
			m.settle(17)
			for _, s := range m.find() {
				switch {
				case s.Kind != race.UnlikelyPace:
				case s.ID == fmt.Sprintf("unlikely-pace:%s:lap-%d", slow.Bib, laps/2+1):
					found++
				default:
					listed[laps]++
				}
			}
		}
		t.Logf("%d laps, seeds 0 to %d, 80 athletes each: %d listed by chance, the slow lap %d times", laps, seeds-1, listed[laps], found)
		if found < seeds {
			t.Errorf("%d laps: the slow lap is found %d times of %d", laps, found, seeds)
		}
	}
	if listed[40] > 2*listed[6] {
		t.Errorf("%d are listed by chance in forty laps, %d in six", listed[40], listed[6])
	}
}

// uneven lets everybody of the made race go each stretch by so much quicker or slower than they did, log.
func (m *made) uneven(sd float64, seed uint64) {
	g := rand.New(rand.NewPCG(seed, 17))
	for _, r := range m.st.Results {
		for k := 1; k < len(r.Filled); k++ {
			took := r.Passings[r.Filled[k]].At.Sub(r.Passings[r.Filled[k-1]].At)
			m.shift(r.Bib, k, race.Millis(float64(took)*(math.Exp(sd*g.NormFloat64())-1)))
		}
	}
}

// Of a village's dozen, whom both systems missed as they finished, and who walks over the line an hour later, has a
// finish that none of their other stretches tells. How far so few stray from themselves nobody can tell of them:
// where each goes as unevenly as hills and weather make a field go, nobody is listed.
func TestAFieldOfADozenTellsWhoTookTwiceAsLong(t *testing.T) {
	for _, c := range []struct {
		field int
		told  int
	}{{7, 0}, {8, 1}, {12, 1}, {19, 1}} {
		m := makeRace(t, c.field)
		m.shift("3", 4, 3_600_000)
		if n := m.count(race.UnlikelyPace); n != c.told {
			t.Errorf("of %d, %d unlikely paces, not %d", c.field, n, c.told)
		}
	}
	const seeds = 200
	listed := 0
	for seed := range uint64(seeds) {
		m := makeRace(t, 8+int(seed%12))
		m.uneven(0.07, seed)
		listed += m.count(race.UnlikelyPace)
	}
	if listed > seeds/50 {
		t.Errorf("%d listed in %d small fields in which nothing happened", listed, seeds)
	}
	t.Logf("%d listed in %d small fields", listed, seeds)
}
