// Package pace knows how fast people have ever gone: published records as ceilings by sport
// and by the length of the stretch.
package pace

import "math"

// record is the fastest mean speed over a distance.
type record struct{ metres, speed float64 }

// Records, the fastest value ratified or not (a ceiling must not be lower than what was
// done). Run: 100 m 9.58, 200 m 19.19, 400 m 43.03, 800 m 1:40.91, 1500 m 3:26.00, 5000 m 12:35.36,
// 10,000 m 26:11.00, half marathon 56:41, marathon 1:59:30, 50 km 2:38:43, 100 km 6:05:35,
// 24 h 319.614 km. Walk: 20 km 1:16:10, 50 km 3:32:33. Bike: flying 200 m 8.857 s, the hour
// 56.792 km; but on the road the bunch and descents are faster, so the ceilings for bike
// are raised (see Ceiling). Swim: 50 m and 1500 m long course.
var records = map[string][]record{
	"run": {{60, 11.5}, {100, 10.4384}, {200, 10.4221}, {400, 9.2958}, {800, 7.9279}, {1500, 7.2816}, {5000, 6.6194}, {10000, 6.3654}, {21097.5, 6.2033}, {42195, 5.8849},
		{50000, 5.2504}, {100000, 4.5589}, {319614, 3.6992}},
	"walk": {{1000, 4.9}, {20000, 4.3764}, {35000, 4.1454}, {50000, 3.9206}},
	"bike": {{200, 31}, {1000, 29}, {5000, 26}, {10000, 24}, {20000, 21}, {56792, 17}, {180000, 15.5}},
	"swim": {{50, 2.45}, {100, 2.2}, {1500, 1.7228}, {3800, 1.70}, {10000, 1.60}},
	"ski":  {{1000, 25}, {5000, 14}, {10000, 11}, {50000, 9}},
}

// margin above a record before anybody is called impossible: courses are measured, mats
// stand a few metres off, and the next record is a little faster.
const margin = 1.02

// Ceiling is the fastest mean speed in m/s that is believed over a length, interpolated in
// the logarithm of the length between the records and held flat beyond them; 0 where
// nothing is known (change, kart). A downhill ride is not compared with an hour on the
// track: on the road short stretches run over 25 m/s, so the ceilings for bike stand well
// above the track's.
func Ceiling(sport string, metres float64) float64 {
	rs := records[sport]
	if len(rs) == 0 || metres <= 0 {
		return 0
	}
	if metres <= rs[0].metres {
		return rs[0].speed * margin
	}
	for i := 1; i < len(rs); i++ {
		if a, b := rs[i-1], rs[i]; metres <= b.metres {
			x := (math.Log(metres) - math.Log(a.metres)) / (math.Log(b.metres) - math.Log(a.metres))
			return (a.speed + x*(b.speed-a.speed)) * margin
		}
	}
	return rs[len(rs)-1].speed * margin
}

// Typical is what is assumed of a field before anything is known of it: a mean speed in m/s
// and the spread of its logarithm. Common practice, and wide.
func Typical(sport string) (mean, sdLog float64) {
	switch sport {
	case "walk":
		return 1.8, 0.25
	case "bike":
		return 9, 0.3
	case "swim":
		return 1.1, 0.3
	case "ski":
		return 5, 0.35
	case "kart":
		return 18, 0.3
	case "change":
		return 1, 0.6
	}
	return 2.9, 0.3
}
