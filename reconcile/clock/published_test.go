package clock

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
)

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Max(math.Abs(want), 1e-300)) && got != want {
		t.Errorf("%s: got %.16g, want %.16g", what, got, want)
	}
}

// NIST StRD linear least squares, Norris:
// https://www.itl.nist.gov/div898/strd/lls/data/Norris.shtml
func TestLeastSquaresGivesNorrisCertifiedDigits(t *testing.T) {
	x := []float64{.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, .4, .6, 775.5, 666.9, 338, 447.5, 11.6, 556, 228.1,
		995.8, 887.6, 120.2, .3, .3, 556.8, 339.1, 887.2, 999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, .5}
	y := []float64{.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3, .1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3,
		998, 888.8, 119.6, .3, .6, 557.6, 339.3, 888, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, .2}
	e, err := leastSquares(y, [][]float64{x}, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "B0", e.B[0], -0.262323073774029, 1e-12)
	near(t, "B1", e.B[1], 1.00211681802045, 1e-13)
	near(t, "sd B0", e.SD[0], 0.232818234301152, 1e-12)
	near(t, "sd B1", e.SD[1], 0.429796848199937e-03, 1e-12)
	near(t, "residual sd", e.S, 0.884796396144373, 1e-12)
	near(t, "SSE", e.SSE, 26.6173985294224, 1e-12)
}

// NIST StRD, Pontius (quadratic): https://www.itl.nist.gov/div898/strd/lls/data/Pontius.shtml
func TestLeastSquaresGivesPontiusCertifiedDigits(t *testing.T) {
	y := []float64{.11019, .21956, .32949, .43899, .54803, .65694, .76562, .87487, .98292, 1.09146, 1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
		.11052, .22018, .32939, .43886, .54798, .65739, .76596, .87474, .983, 1.0915, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829}
	x, xx := make([]float64, 40), make([]float64, 40)
	for i := range x {
		x[i] = 150000 * float64(i%20+1)
		xx[i] = x[i] * x[i]
	}
	e, err := leastSquares(y, [][]float64{x, xx}, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "B0", e.B[0], 0.673565789473684e-03, 1e-9)
	near(t, "B1", e.B[1], 0.732059160401003e-06, 1e-11)
	near(t, "B2", e.B[2], -0.316081871345029e-14, 1e-10)
	near(t, "sd B0", e.SD[0], 0.107938612033077e-03, 1e-9)
	near(t, "sd B1", e.SD[1], 0.157817399981659e-09, 1e-9)
	near(t, "sd B2", e.SD[2], 0.486652849992036e-16, 1e-9)
	near(t, "SSE", e.SSE, 0.155761768796992e-05, 1e-9)
	near(t, "residual sd", e.S, 0.205177424076185e-03, 1e-9)
}

// NIST StRD, NoInt1 and NoInt2: lines through the origin.
func TestLeastSquaresWithoutConstantGivesNoIntCertifiedDigits(t *testing.T) {
	var x, y []float64
	for i := range 11 {
		x, y = append(x, float64(60+i)), append(y, float64(130+i))
	}
	e, err := leastSquares(y, [][]float64{x}, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "NoInt1 B1", e.B[0], 2.07438016528926, 1e-13)
	near(t, "NoInt1 sd", e.SD[0], 0.165289256198347e-01, 1e-12)
	near(t, "NoInt1 SSE", e.SSE, 127.272727272727, 1e-12)
	e, err = leastSquares([]float64{3, 4, 4}, [][]float64{{4, 5, 6}}, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "NoInt2 B1", e.B[0], 0.727272727272727, 1e-13)
	near(t, "NoInt2 sd", e.SD[0], 0.420827318078432e-01, 1e-12)
	near(t, "NoInt2 SSE", e.SSE, 0.272727272727273, 1e-12)
}

// gonum.org/v1/gonum/stat.LinearRegression on clean and on noisy points.
func TestLeastSquaresAgreesWithGonum(t *testing.T) {
	var x, y []float64
	for i := range 200 {
		x = append(x, float64(i*i%977))
		y = append(y, 3.217+8e-6*x[i]+math.Sin(float64(i))/9)
	}
	a, b := stat.LinearRegression(x, y, nil, false)
	e, err := leastSquares(y, [][]float64{x}, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "intercept", e.B[0], a, 1e-12)
	near(t, "slope", e.B[1], b, 1e-10)
}

// Sen, JASA 63 (1968), section 6.
func TestTheilSenOnSensOwnExample(t *testing.T) {
	x, y := []float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}
	l := theilSen(x, y)
	near(t, "slope", l.slope, 4, 1e-15)
	near(t, "intercept", l.intercept, 6, 1e-15)
}

// SciPy's tests of theilslopes (separate intercepts).
func TestTheilSenOnSciPysExamples(t *testing.T) {
	l := theilSen([]float64{0, 1, 2}, []float64{0, 1, 1})
	near(t, "slope", l.slope, .5, 1e-15)
	if l := theilSen([]float64{0, 0, 0}, []float64{0, 1, 0}); !math.IsNaN(l.slope) || l.intercept != 0 {
		t.Errorf("equal x: got %+v, want no slope and 0", l)
	}
	l = theilSen([]float64{0, 1, 3}, []float64{0, 1, 1})
	near(t, "slope without the masked point", l.slope, 1./3, 1e-15)
}

// R's stats::mad examples; summacalculator.com; Kvasaheim's exercise.
func TestMADOnPublishedValues(t *testing.T) {
	near(t, "mad(1:9)", mad([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9}), 2.9652, 1e-5)
	near(t, "mad(c(1:8,100))", mad([]float64{1, 2, 3, 4, 5, 6, 7, 8, 100}), 2.9652, 1e-5)
	near(t, "1,1,2,2,4,6,9", mad([]float64{1, 1, 2, 2, 4, 6, 9}), 1.4826, 1e-5)
	near(t, "Kvasaheim", mad([]float64{43, 50, 11, 74, 52, 83, 72}), 29.6516, 1e-4)
}

// Tukey's c = 4.685: R packages PCRA and robustlmm.
func TestTukeysWeights(t *testing.T) {
	near(t, "Tukey w(0)", tukeyWeight(0), 1, 0)
	near(t, "Tukey w(c/2)", tukeyWeight(4.685/2), .5625, 1e-12)
	if tukeyWeight(4.685) != 0 || tukeyWeight(-50) != 0 {
		t.Error("Tukey's weight is 0 from c on")
	}
}
