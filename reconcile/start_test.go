package reconcile_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// lapsOnly is a race of four laps of two kilometres, ridden in four minutes each, whose plan
// has no split for the start. Rider i crosses their line i seconds after the gun; those who
// are unread aren't read there.
func lapsOnly(official race.Official, unread func(i int) bool) *race.State {
	const riders = 40
	p := &race.Plan{Name: "laps", Zone: time.UTC, Date: time.Date(2026, 5, 17, 0, 0, 0, 0, time.UTC), Resolution: 200,
		Lines: []race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 1000, Logs: []int{0}}},
		Logs:  []race.Log{{System: race.Main, From: race.NoInstant, To: race.NoInstant}},
		Waves: []race.Wave{{ID: "A", Gun: nineOClock}}}
	c := race.Course{ID: "laps", Sport: "bike", LapLength: 2000, Official: official}
	for n := range 4 {
		c.Splits = append(c.Splits, race.Split{ID: fmt.Sprintf("lap-%d", n+1), At: 2000 * float64(n+1), Sport: "bike", Lap: n + 1})
	}
	p.Courses = []race.Course{c}
	in := reconcile.Input{Plan: p}
	for i := range riders {
		bib := fmt.Sprint(i + 1)
		in.Athletes = append(in.Athletes, race.Athlete{Bib: bib, Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: "T" + bib, Bib: bib, From: race.NoInstant, To: race.NoInstant})
	}
	in.Reads = []*race.Reads{logOf(0, riders, func(i int) (string, []race.Instant) {
		var at []race.Instant
		for n := range 5 {
			if n > 0 || !unread(i) {
				at = append(at, nineOClock.Add(race.Millis(i*1000+n*(240_000+i*500))))
			}
		}
		return fmt.Sprint("T", i+1), at
	})}
	return reconcile.Compute(in)
}

// A passing at the gun on a lap line is the start: net time runs from it. Where the wave is
// read there, one who wasn't has no net time; where it isn't, net time is that of the gun.
func TestNetTimeOfLapsRunsFromTheStartPassing(t *testing.T) {
	const gone = 24 // seconds after the gun, and rider 25
	for _, c := range []struct {
		name   string
		unread func(i int) bool
		net    race.Millis // of rider 25
	}{
		{"all are read", func(int) bool { return false }, 4 * 252_000},
		{"one isn't", func(i int) bool { return i == gone }, race.NoMillis},
		{"nobody is", func(int) bool { return true }, gone*1000 + 4*252_000},
	} {
		st := lapsOnly(race.Official{Net: true}, c.unread)
		x := &st.Results[st.ByBib["25"]]
		if x.Laps != 4 || x.NetTime != c.net {
			t.Errorf("%s: %d laps, net %s, want %s", c.name, x.Laps, x.NetTime, c.net)
		}
		if x.GunTime != gone*1000+4*252_000 {
			t.Errorf("%s: gun time %s", c.name, x.GunTime)
		}
		told := slices.ContainsFunc(st.Suspects, func(s race.Suspect) bool { return s.ID == "missing-start:25" && s.Weight == race.Hold })
		if told != (c.net == race.NoMillis) || told != (x.State == "held") {
			t.Errorf("%s: missing-start %t, state %s", c.name, told, x.State)
		}
	}
}
