package standing

import (
	"testing"

	"twinmat/reconcile/race"
)

// Six have swum and ridden, each three times as long as they swam; a seventh is on the
// bicycle, an eighth ran out of the water alone.
func swimmers() *race.State {
	gun := race.Instant(1_779_000_000_000)
	p := &race.Plan{Courses: []race.Course{{ID: "c", Splits: []race.Split{{ID: "swim", At: 1500, Sport: "swim"}, {ID: "bike", At: 41500, Sport: "bike"}, {ID: "finish", At: 51500, Sport: "run"}}}}}
	st := &race.State{Plan: p, Now: gun.Add(8_000_000)}
	for i := range 7 {
		r := race.Result{Gun: gun, StartAt: race.NoInstant, State: "running", Splits: p.Courses[0].Splits, Filled: []int{0, -1, -1}, Finish: -1}
		swim := race.Millis(1_500_000 + 60_000*i)
		r.Passings = append(r.Passings, race.Passing{At: gun.Add(swim), Split: 0})
		if i < 6 {
			r.Passings = append(r.Passings, race.Passing{At: gun.Add(4 * swim), Split: 1})
			r.Filled[1] = 1
		}
		st.Results = append(st.Results, r)
	}
	return st
}

// Nobody rides as slowly as they swim: the field tells how long the next leg takes.
func TestTheFieldTellsHowLongAnotherSportTakes(t *testing.T) {
	st := swimmers()
	for _, o := range StillOut(st) {
		r := &st.Results[o.Result]
		switch {
		case o.Result == 6 && o.Expected != r.Gun.Add(4*1_860_000):
			t.Errorf("on the bicycle: expected %s after the gun", o.Expected.Sub(r.Gun))
		case o.Result == 6 && o.Late != 8_000_000-4*1_860_000:
			t.Errorf("late by %s", o.Late)
		case o.Result < 6 && (o.Expected.Known() || o.Late != 0):
			t.Errorf("nobody has run yet, and nobody's pace tells: %+v", o)
		}
	}
}

// After a start no pace is known: those who have come tell how long it takes.
func TestAfterTheStartTheFieldTells(t *testing.T) {
	gun := race.Instant(1_779_000_000_000)
	p := &race.Plan{Courses: []race.Course{{ID: "c", Splits: []race.Split{{ID: "start"}, {ID: "5k", At: 5000}}}}}
	st := &race.State{Plan: p, Now: gun.Add(2_000_000)}
	for i := range fieldLeast + 1 {
		began := gun.Add(race.Millis(i) * 10_000)
		r := race.Result{Gun: gun, StartAt: began, State: "running", Splits: p.Courses[0].Splits, Filled: []int{0, -1}, Finish: -1, Passings: []race.Passing{{At: began}}}
		if i < fieldLeast {
			r.Passings = append(r.Passings, race.Passing{At: began.Add(1_500_000 + race.Millis(i)*60_000), Split: 1})
			r.Filled[1], r.Finish, r.State = 1, 1, "clean"
		}
		st.Results = append(st.Results, r)
	}
	l := StillOut(st)
	if len(l) != 1 || l[0].Expected != st.Results[fieldLeast].StartAt.Add(1_620_000) {
		t.Fatalf("%+v", l)
	}
	st.Results[0].Filled[1] = -1 // one fewer tells nothing
	for _, o := range StillOut(st) {
		if o.Expected.Known() {
			t.Errorf("%+v from %d", o, fieldLeast-1)
		}
	}
}

// The first few to come tell nothing of a field that is still on its way.
func TestTheFirstToComeMakeNobodyLate(t *testing.T) {
	gun := race.Instant(1_779_000_000_000)
	p := &race.Plan{Courses: []race.Course{{ID: "c", Splits: []race.Split{{ID: "start"}, {ID: "5k", At: 5000}}}}}
	st := &race.State{Plan: p, Now: gun.Add(1_100_000)}
	for i := range 40 {
		began := gun.Add(race.Millis(i) * 1_000)
		r := race.Result{Gun: gun, StartAt: began, State: "running", Splits: p.Courses[0].Splits, Filled: []int{0, -1}, Finish: -1, Passings: []race.Passing{{At: began}}}
		if took := race.Millis(960_000 + 20_000*i); began.Add(took) < st.Now {
			r.Passings = append(r.Passings, race.Passing{At: began.Add(took), Split: 1})
			r.Filled[1], r.Finish, r.State = 1, 1, "clean"
		}
		st.Results = append(st.Results, r)
	}
	out := StillOut(st)
	if came := 40 - len(out); came < fieldLeast {
		t.Fatalf("%d came", came)
	}
	for _, o := range out {
		if o.Expected.Known() || o.Late > 0 {
			t.Errorf("%d: expected %s after the gun, late by %s", o.Result, o.Expected.Sub(gun), o.Late)
		}
	}
	st.Now = gun.Add(1_360_000) // half of them have come
	for i := range st.Results {
		r := &st.Results[i]
		if took := race.Millis(960_000 + 20_000*i); r.Finish < 0 && r.StartAt.Add(took) < st.Now {
			r.Passings = append(r.Passings, race.Passing{At: r.StartAt.Add(took), Split: 1})
			r.Filled[1], r.Finish, r.State = 1, 1, "clean"
		}
	}
	out = StillOut(st)
	if l := out[len(out)-1]; l.Expected != st.Results[l.Result].StartAt.Add(960_000+19*20_000) {
		t.Errorf("the last of %d: expected %s after its start", len(out), l.Expected.Sub(st.Results[l.Result].StartAt))
	}
}
