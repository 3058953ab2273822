package pace

import "testing"

// Records as published: the distance, the time in seconds. Addresses of the sources seen:
// 100 m, 200 m, 400 m: sportingnews.com's list of world records; 800 m to 10,000 m men:
// alif.news; half marathon 56:41: sports247.my; marathon 1:59:30 of 26 April 2026:
// englishline-test.monexusmedia.uk; 50 km: wikimili.com; 100 km and 24 h: revistaatletismo.com
// and multidays.com; walks: worldathletics.org and kiwix's Wikipedia; hour record:
// bbci.co.uk; flying 200 m 8.857 s: globalkeirin.com; 1500 m swim: tribune.net.ph.
func TestNoRecordIsImpossible(t *testing.T) {
	for _, r := range []struct {
		sport  string
		metres float64
		s      float64
	}{
		{"run", 100, 9.58}, {"run", 200, 19.19}, {"run", 400, 43.03}, {"run", 800, 100.91}, {"run", 1500, 206}, {"run", 5000, 755.36}, {"run", 10000, 1571},
		{"run", 21097.5, 3401}, {"run", 42195, 7170}, {"run", 50000, 9523}, {"run", 100000, 21935}, {"run", 319614, 86400},
		{"walk", 20000, 4570}, {"walk", 21097.5, 4834}, {"walk", 50000, 12753}, {"walk", 35000, 8443}, {"run", 1609.344, 223.13}, {"run", 3000, 437.55}, {"bike", 56792, 3600}, {"bike", 200, 8.857}, {"swim", 1500, 870.67},
	} {
		v := r.metres / r.s
		c := Ceiling(r.sport, r.metres)
		if v > c {
			t.Errorf("%s %v m in %v s is %.4f m/s, above the ceiling of %.4f", r.sport, r.metres, r.s, v, c)
		}
		if r.sport != "bike" && c > 1.06*v {
			t.Errorf("%s %v m: the ceiling %.3f is far above the record %.3f", r.sport, r.metres, c, v)
		}
	}
}

// A bunch rides 60 km/h to the line (UCI's protocol: 17 m a second), and a descent runs
// faster than any hour on a track.
func TestADescentIsNoHourRecord(t *testing.T) {
	if c := Ceiling("bike", 5000); c < 25 {
		t.Errorf("5 km by bike: ceiling %.1f m/s", c)
	}
	if c := Ceiling("bike", 40000); c < 16.67 {
		t.Errorf("40 km by bike: ceiling %.1f m/s", c)
	}
}

// What people of mass races did on a stretch is nobody's short cut (SOURCES.md of the open data
// sets names each fastest one): 5 km at the end of a marathon in 5.754 m/s, a first 5 km in
// 909 s, 12.071 m/s over 90 km by bike, 1.447 m/s over 1.9 km of water, 5.282 m/s over 21.1 km
// after both, 10.836 m/s over 11.8 km by mountain bike. The two of that race who had 39.4 and
// 42.5 m/s had a wrong time.
func TestFastPeoplePass(t *testing.T) {
	for _, r := range []struct {
		sport         string
		metres, speed float64
		human         bool
	}{
		{"run", 5000, 5.754, true}, {"run", 5000, 5000. / 909, true}, {"run", 21097.5, 5.282, true},
		{"bike", 90000, 12.071, true}, {"bike", 11800, 10.836, true}, {"swim", 1900, 1.447, true},
		{"bike", 26700, 39.4, false}, {"bike", 26700, 42.5, false},
	} {
		if c := Ceiling(r.sport, r.metres); (r.speed <= c) != r.human {
			t.Errorf("%s: %.3f m/s over %.0f m, ceiling %.3f", r.sport, r.speed, r.metres, c)
		}
	}
}

func TestCeilingsFallWithLength(t *testing.T) {
	for sport := range records {
		last := Ceiling(sport, 1)
		for m := 10.0; m < 1e6; m *= 1.1 {
			c := Ceiling(sport, m)
			if c > last+1e-9 {
				t.Fatalf("%s: %.3f m/s over %.0f m, more than over less", sport, c, m)
			}
			last = c
		}
	}
	if Ceiling("change", 200) != 0 || Ceiling("kart", 1000) != 0 {
		t.Error("nothing is known of changes and karts")
	}
}
