package suspect

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > within {
		t.Errorf("%s is %v, published %v", what, got, want)
	}
}

// The examples of the books that R's FSA package validates its mrClosed against (Krebs 1989
// box 2.1; Ricker 1975; Pine et al. 2013 box 11.2; Seber 2002 tables 3.7 and 3.8; FSA's own).
func TestChapmanGivesThePublishedEstimates(t *testing.T) {
	for _, x := range []struct {
		m, c, r       int
		n, se, lo, hi float64 // 0: not published
		within        float64
	}{
		{948, 421, 167, 2383, 0, 0, 0, 0.5},
		{109, 177, 57, 337, 0, 0, 0, 0.5},
		{421, 332, 88, 1578, 0, 1330, 1826, 0.5},
		{500, 149, 7, 9393, 3022, 0, 15316, 0.6},
		{1000, 243, 21, 11101, 2184, 0, 0, 0.5},
		{346, 184, 49, 1283, 142.1, 0, 0, 0.5},
		{50, 60, 10, 282, 65.46, 0, 0, 0.5},
	} {
		n, se, lo, hi := chapman(x.m, x.c, x.r)
		near(t, "n", n, x.n, x.within)
		if x.se > 0 {
			near(t, "se", se, x.se, x.within)
		}
		if x.lo > 0 {
			near(t, "low end", lo, x.lo, x.within)
		}
		if x.hi > 0 {
			near(t, "high end", hi, x.hi, x.within)
		}
	}
}

// A line's estimate is Chapman's less what was seen: 948 and 421 marked, 167 by both, 1202
// seen (Krebs 1989, box 2.1).
func TestMissedByBothIsTheEstimateLessWhatWasSeen(t *testing.T) {
	var x Missed
	x.estimate(948, 421, 167)
	near(t, "missed", x.Estimate, 2383-1202, 0.5)
	x = Missed{}
	if x.estimate(30, 20, 0); !math.IsNaN(x.Estimate) {
		t.Errorf("no passing in common gives %v", x.Estimate)
	}
	if x.estimate(30, 0, 0); !math.IsNaN(x.Estimate) {
		t.Errorf("one system alone gives %v", x.Estimate)
	}
}

// Where one transponder system has nothing at a line, bibs that somebody keyed there are the
// second catch: of 37 that main saw and 30 keyed 28 are the same (Chapman's by hand: 38 × 31
// / 29 less 1 and the 39 seen).
func TestMissedByAllIsToldByAHandToo(t *testing.T) {
	m := makeRace(t, 40)
	keyed := &race.Burst{Count: 1}
	for i := range m.st.Results {
		p := &m.st.Results[i].Passings[2]
		main := p.Bursts[race.Main]
		p.Bursts = [race.Systems]*race.Burst{}
		if i < 37 {
			p.Bursts[race.Main] = main
		}
		if i >= 9 && i < 39 {
			p.Bursts[race.Hand] = keyed
		}
	}
	m.st.Results[39].Filled[2] = -1
	x := Begin(m.in).MissedByAll()[2]
	near(t, "missed", x.Estimate, 38.0*31/29-1-39, 1e-9)
	if x.Observed != 1 || x.Chances != 40 {
		t.Errorf("%d of %d seen before and after alone", x.Observed, x.Chances)
	}
}

// Remission of leukaemia under 6-MP, weeks (Freireich et al. 1963, as in Cox and Oakes 1984;
// from memory): the curve is .857 after 6, .807 after 7, .753 after 10, .690 after 13, .627
// after 16, .538 after 22 and .448 after 23; its median is 23.
func TestProductLimitGivesTheRemissionCurve(t *testing.T) {
	times := []float64{6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35}
	happened := []bool{true, true, true, false, true, false, true, false, false, true, true, false, false, false, true, true, false, false, false, false, false}
	for _, x := range []struct{ q, at float64 }{
		{1 - .858, 6}, {1 - .856, 7}, {1 - .808, 7}, {1 - .806, 10}, {1 - .752, 13}, {1 - .689, 16}, {1 - .626, 22}, {1 - .537, 23}, {0.5, 23},
	} {
		at, ok := kaplanMeier(times, happened, x.q)
		if !ok[0] || at[0] != x.at {
			t.Errorf("quantile %.3f is %v (%v), published %v", x.q, at[0], ok[0], x.at)
		}
	}
	if _, ok := kaplanMeier(times, happened, 0.6); ok[0] {
		t.Error("the curve ends at .448, and yet the 0.6 quantile was told")
	}
}

// Riegel's worked example: 5 km in 22:00 gives 45:52 for 10 km, 1:41:12 for the half and
// 3:31:00 for the marathon.
func TestRiegelPredictsHisExample(t *testing.T) {
	for _, x := range []struct{ metres, seconds float64 }{{10000, 45*60 + 52}, {21097.5, 3600 + 41*60 + 12}, {42195, 3*3600 + 31*60}} {
		near(t, "prediction", longer(1320, 5000, x.metres), x.seconds, 0.6)
	}
}

// Every assignment of small matrices is tried.
func TestAssignRowsIsTheCheapestOfAll(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		n := 1 + g.IntN(4)
		m := n + g.IntN(3)
		cost := make([][]float64, n)
		for i := range cost {
			cost[i] = make([]float64, m)
			for j := range cost[i] {
				cost[i][j] = float64(g.IntN(20) - 10)
			}
		}
		total, used := 0.0, map[int]bool{}
		for i, j := range assignRows(cost) {
			if used[j] {
				t.Fatalf("column %d twice", j)
			}
			used[j] = true
			total += cost[i][j]
		}
		if want := cheapest(cost, 0, make([]bool, m)); total != want {
			t.Fatalf("total %v of %v, want %v", total, cost, want)
		}
	}
}

func cheapest(cost [][]float64, row int, used []bool) float64 {
	if row == len(cost) {
		return 0
	}
	best := math.Inf(1)
	for j := range used {
		if !used[j] {
			used[j] = true
			best = math.Min(best, cost[row][j]+cheapest(cost, row+1, used))
			used[j] = false
		}
	}
	return best
}
