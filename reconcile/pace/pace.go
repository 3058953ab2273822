// Package pace knows how fast people have ever gone: published records as ceilings by sport
// and by the length of the stretch.
package pace

import "math"

// record is the fastest mean speed over a distance.
type record struct{ metres, speed float64 }

// The fastest men's values, ratified or not: a ceiling must not be lower than what was done.
// Each record's source stands beside it; "memory" marks what was not seen in print.
var records = map[string][]record{
	"run": {
		{60, 11.5},        // flying, in the middle of a 100 m; memory
		{100, 10.4384},    // 9.58; sportingnews.com, list of world records
		{200, 10.4221},    // 19.19; the same
		{400, 9.2958},     // 43.03; the same
		{800, 7.9279},     // 1:40.91; alif.news
		{1500, 7.2816},    // 3:26.00; the same
		{5000, 6.6194},    // 12:35.36; the same
		{10000, 6.3654},   // 26:11.00; the same
		{21097.5, 6.2033}, // 56:41; sports247.my, ratification unsure
		{42195, 5.8849},   // 1:59:30 on 26 April 2026; englishline-test.monexusmedia.uk
		{50000, 5.2504},   // 2:38:43; wikimili.com, status unsure
		{100000, 4.5589},  // 6:05:35; memory, 6:05:41 in revistaatletismo.com
		{319614, 3.6992},  // in 24 h; memory, 309.399 km in multidays.com
	},
	"walk": {
		{1000, 4.9},     // memory
		{20000, 4.3764}, // 1:16:10; worldathletics.org
		{35000, 4.1454}, // 2:20:43; memory
		{50000, 3.9206}, // 3:32:33; a copy of Wikipedia at kiwix.casplantje.nl
	},
	// The track's records, 8.857 s over a flying 200 m (globalkeirin.com) and 56.792 km in an
	// hour (bbci.co.uk), are no ceiling for the road: a bunch rides 60 km/h to the line and
	// descents run over 25 m/s. These are chosen, well above both.
	"bike": {{200, 31}, {1000, 29}, {5000, 26}, {10000, 24}, {20000, 21}, {56792, 17}, {180000, 15.5}},
	"swim": {
		{50, 2.45},     // 20.91 and a little; memory
		{100, 2.2},     // memory
		{1500, 1.7228}, // 14:30.67; tribune.net.ph
		{3800, 1.70},   // open water has no records (its waters differ), and a current helps: chosen
		{10000, 1.60},
	},
	"ski": {{1000, 25}, {5000, 14}, {10000, 11}, {50000, 9}}, // cross-country with its descents; chosen
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
