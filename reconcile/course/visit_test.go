package course

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// stayed is a passing of line 0 that was read from one second to another.
func stayed(from, to float64) Passing {
	p := seen(0, from)
	p.After = race.Millis(1000 * (to - from))
	return p
}

// Who stays at the line, however long, hasn't gone round; who was away as long as a lap takes
// has. Laps of 1,480 m take nobody less than 200 s.
func TestWhoStaysAtTheLineHasNotGoneRound(t *testing.T) {
	c := &race.Course{Sport: "run", Open: true, LapLength: 1480, Splits: []race.Split{{ID: "lap-1", At: 1480, Sport: "run", Lap: 1}}}
	lies := []Passing{seen(0, 570), seen(0, 1140)}
	want := []int{0, 1}
	for at := 1160.; at < 9000; at += 15 {
		lies, want = append(lies, stayed(at, at+2)), append(want, -1)
	}
	mate := seen(0, 1710)
	mate.Other = true
	for _, k := range []struct {
		name string
		ps   []Passing
		want []int
	}{
		{"a drink in the zone", []Passing{seen(0, 570), stayed(1140, 1340), stayed(1350, 1495), seen(0, 2065), seen(0, 2635)}, []int{0, 1, -1, 2, 3}},
		{"read once more as they leave", []Passing{seen(0, 570), stayed(1140, 1300), stayed(1380, 1450), stayed(1520, 1600), seen(0, 2170), seen(0, 2740)}, []int{0, 1, -1, -1, 2, 3}},
		{"a rest in the zone as long as a lap", []Passing{seen(0, 570), stayed(1140, 1700), seen(0, 2270), seen(0, 2840)}, []int{0, 1, 2, 3}},
		{"a chip that is left beside the antenna", lies, want},
		{"one chip of two is left there", []Passing{seen(0, 570), stayed(1140, 1700), mate, seen(0, 2280)}, []int{0, 1, 2, 3}},
	} {
		got := Assign(c, k.ps, gunAt0(), nil)
		if !slices.Equal(got.Split, k.want) {
			t.Errorf("%s: %v, want %v", k.name, got.Split, k.want)
			continue
		}
		for i, s := range got.Split {
			if s < 0 && got.Fate[i] != race.StayedNear {
				t.Errorf("%s: passing %d is %v", k.name, i, got.Fate[i])
			}
		}
	}
}

// What the quickest of all need for a lap says little of who walks a short one. Away for less than
// their own laps take, they sat beside the line: no lap, and the next one is a rest.
func TestWhoRestsBesideAShortLapHasNotGoneRound(t *testing.T) {
	c := &race.Course{Sport: "run", Open: true, LapLength: 400, Splits: []race.Split{{ID: "lap-1", At: 400, Sport: "run", Lap: 1}}}
	ps, want, at := []Passing(nil), []int(nil), 0.
	walk := func(laps int) {
		for range laps {
			at += 150
			ps, want = append(ps, seen(0, at)), append(want, len(want))
		}
	}
	walk(6)
	for _, since := range []float64{24, 66, 108, 148} { // no gap is shorter than the quickest lap
		ps, want = append(ps, stayed(at+since, at+since+4)), append(want, -1)
	}
	at += 1200
	ps, want = append(ps, seen(0, at)), append(want, 6)
	for k := range 5 {
		at += 150
		ps, want = append(ps, seen(0, at)), append(want, 7+k)
	}
	a := gunAt0()
	a.Lap = 150_000
	if got := Assign(c, ps, a, nil); !slices.Equal(got.Split, want) {
		t.Errorf("%v, want %v", got.Split, want)
	}
}

// Laps that are short are laps: a kart's of fifty seconds, of whom no record is known, with
// what the plan says of speed and without.
func TestShortLapsAreLaps(t *testing.T) {
	c := lapsCourse(6, 1, 1000, "kart")
	for _, most := range []float64{0, 70} {
		a := gunAt0()
		a.MaxSpeed = most
		var ps []Passing
		for k := range 6 {
			ps = append(ps, stayed(48*float64(k+1), 48*float64(k+1)+1))
		}
		if got := Assign(c, ps, a, nil); !slices.Equal(got.Split, []int{0, 1, 2, 3, 4, 5}) {
			t.Errorf("at most %v m/s: %v", most, got.Split)
		}
	}
}
