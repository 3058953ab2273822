package main

import (
	"strconv"
	"testing"

	"twinmat/reconcile/race"
)

const triathlonCourse = `[[course]]
id = "c"
sport = "run"
[[course.split]]
id = "swim"
line = "swim-out"
at = "1900m"
sport = "swim"
[[course.split]]
id = "t1"
line = "bike-out"
at = "2000m"
sport = "change"
[[course.split]]
id = "bike"
line = "bike-in"
at = "92km"
sport = "bike"
[[course.split]]
id = "finish"
line = "finish"
at = "113.1km"
`

// triathlon_middle_2017_2019.csv: 14,639 athletes over 1.9, 90 and 21.1 km. SOURCES.md: 12,497
// finishers, 267 DNF, 1,790 DNS, 85 DQ; 10 finishers lack a leg; the fastest swim went at
// 1.447, the fastest bike leg at 12.071, the fastest run at 5.282 m/s, all of them possible.
// Both transitions were published as one, which is the first here. Every finish and every
// leg must come back to the second, every status stand.
func TestTheMiddleDistanceTriathlons(t *testing.T) {
	rows, col := dataRows(t, "triathlon_middle_2017_2019.csv")
	d := newDataRace(t, []string{"swim-out", "bike-out", "bike-in", "finish"}, triathlonCourse)
	statuses := map[string]string{"Finisher": "", "DNF": "dnf", "DNS": "dns", "DQ": "dsq"}
	type legs struct{ swim, bike, run, finish int }
	want := map[string]legs{}
	for _, r := range rows {
		number := func(name string) int {
			n, _ := strconv.Atoi(r[col[name]])
			return n
		}
		bib := r[col["runner"]]
		d.athlete(bib, r[col["sex"]], statuses[r[col["status"]]])
		x := legs{number("swim"), number("bike"), number("run"), number("finish")}
		if r[col["status"]] != "Finisher" {
			continue
		}
		want[bib] = x
		if x.swim > 0 && x.bike > 0 && x.run > 0 {
			d.read(bib, "swim-out", x.swim)
			d.read(bib, "bike-out", x.swim+number("transitions"))
			d.read(bib, "bike-in", x.finish-x.run)
		}
		d.read(bib, "finish", x.finish)
	}
	st := d.state(t)
	states := map[string]int{}
	whole := 0
	for i := range st.Results {
		x := st.Results[i]
		states[x.State]++
		w, finished := want[x.Bib]
		if !finished {
			continue
		}
		if x.GunTime != race.Millis(w.finish)*1000 {
			t.Errorf("%s finished in %v, published %d s", x.Bib, x.GunTime, w.finish)
		}
		at := func(split int) race.Instant {
			if k := x.Filled[split]; k >= 0 {
				return x.Passings[k].At
			}
			return race.NoInstant
		}
		if w.swim == 0 || w.bike == 0 || w.run == 0 {
			continue
		}
		whole++
		for _, leg := range []struct {
			name string
			got  race.Millis
			want int
		}{{"swim", at(0).Sub(x.Gun), w.swim}, {"bike", at(2).Sub(at(1)), w.bike}, {"run", at(3).Sub(at(2)), w.run}} {
			if leg.got != race.Millis(leg.want)*1000 {
				t.Errorf("%s: %s %v, published %d s", x.Bib, leg.name, leg.got, leg.want)
			}
		}
	}
	if n := states["clean"] + states["held"]; n != 12_497 || states["dnf"] != 267 || states["dns"] != 1_790 || states["dsq"] != 85 {
		t.Errorf("states %v", states)
	}
	if whole != 12_487 {
		t.Errorf("%d finishers have all legs", whole)
	}
	if fast := open(st, race.ImpossiblePace); len(fast) > 0 {
		t.Errorf("called impossible: %v", fast)
	}
	t.Logf("%d finishes, %d × 3 legs; %v", len(want), whole, states)
}
