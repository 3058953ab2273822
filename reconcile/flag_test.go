package reconcile_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

const flaggedLaps = 5

// flaggedRace is what comes of so many riders on flagged laps, each with their crossings in seconds
// after the gun, and rulings.
func flaggedRace(riders int, crossings func(i int) []int, rulings ...race.Ruling) *race.State {
	p := fiveOn([]race.Line{{ID: "finish", Window: 5000, Keep: race.KeepFirst, Tolerance: 500, Logs: []int{0}}}, []race.Log{{System: race.Main}})
	c := &p.Courses[0]
	c.Flagged, c.LapLength, c.Sport, c.Splits = true, 3000, "bike", nil
	for n := 1; n <= flaggedLaps; n++ {
		c.Splits = append(c.Splits, race.Split{ID: fmt.Sprintf("lap-%d", n), At: 3000 * float64(n), Sport: "bike", Lap: n})
	}
	in := reconcile.Input{Plan: p, Rulings: rulings}
	for i := range riders {
		in.Athletes = append(in.Athletes, race.Athlete{Bib: fmt.Sprint(i), Start: race.NoInstant})
		in.Chips = append(in.Chips, race.Chip{Tag: fmt.Sprintf("T%02d", i), Bib: fmt.Sprint(i), From: race.NoInstant, To: race.NoInstant})
	}
	in.Reads = []*race.Reads{logOf(0, riders, func(i int) (string, []race.Instant) {
		var at []race.Instant
		for _, s := range crossings(i) {
			at = append(at, nineOClock.Add(1000*race.Millis(s)))
		}
		return fmt.Sprintf("T%02d", i), at
	})}
	return reconcile.Compute(in)
}

// untilFlagged are a rider's crossings, a lap apart, up to the first one after the leader's finish.
func untilFlagged(lap, leader int) (at []int) {
	for t := lap; ; t += lap {
		if at = append(at, t); t >= leader {
			return at
		}
	}
}

// finishIn asks that who is flagged finished with the crossing they were flagged at.
func finishIn(t *testing.T, st *race.State, rider, want int) {
	t.Helper()
	r := st.Results[st.ByBib[fmt.Sprint(rider)]]
	if r.FinishAt != nineOClock.Add(1000*race.Millis(want)) {
		t.Errorf("rider %d finished at %v s, want %d", rider, r.FinishAt.Sub(nineOClock).Seconds(), want)
	}
}

// Somebody who gave up after a lap and is read once by the line, just before the leader comes in, ends
// nobody's race: all others finish with their next lap after the leader.
func TestWhoWasHardlySeenFlagsNobodyOff(t *testing.T) {
	const riders, leader = 12, 2100
	st := flaggedRace(riders+1, func(i int) []int {
		if i == riders {
			return []int{660, leader - 50}
		}
		return untilFlagged(420+20*i, leader)
	})
	for i := range riders {
		at := untilFlagged(420+20*i, leader)
		finishIn(t, st, i, at[len(at)-1])
	}
}

// Who leads into the last lap, gives up on it and rolls home over the line isn't in: those who come
// by after them ride on. That is known before the last of them have come round, and though those who
// cool down come again before the others could have.
func TestWhoComesHomeOnTheLastLapFlagsNobodyOff(t *testing.T) {
	const riders, leader = 30, 2100
	for _, home := range []int{180, 210, 240} {
		for _, now := range []int{2480, 2700, 4000} {
			finish := func(i int) int {
				at := untilFlagged(420+8*i, leader)
				return at[len(at)-1]
			}
			st := flaggedRace(riders+1, func(i int) []int {
				at := []int{405, 810, 1215, 1620, 1620 + home}
				if i < riders {
					at = untilFlagged(420+8*i, leader)
					if i%4 == 0 {
						at = append(at, finish(i)+400+8*i)
					}
				}
				return slices.DeleteFunc(at, func(x int) bool { return x > now })
			})
			for i := range riders {
				if want := finish(i); want <= now {
					finishIn(t, st, i, want)
				}
			}
			if r := st.Results[st.ByBib[fmt.Sprint(riders)]]; r.FinishAt.Known() {
				t.Errorf("home after %d s, at %d s: who gave up finished at %v", home, now, r.FinishAt.Sub(nineOClock))
			}
		}
	}
}

// Who leads, has a puncture on the last lap but one and gives up after it seems to have been missed at a
// lap, and to be in: those who come by after them ride on.
func TestWhoHadAPunctureFlagsNobodyOff(t *testing.T) {
	const riders, leader = 60, 2100
	for _, slow := range []int{740, 770, 800} {
		st := flaggedRace(riders+1, func(i int) []int {
			if i == riders {
				return []int{405, 810, 1215, 1215 + slow}
			}
			return untilFlagged(420+8*i, leader)
		})
		for i := range riders {
			at := untilFlagged(420+8*i, leader)
			finishIn(t, st, i, at[len(at)-1])
		}
		if r := st.Results[st.ByBib[fmt.Sprint(riders)]]; r.FinishAt.Known() {
			t.Errorf("a lap of %d s: who gave up finished at %v", slow, r.FinishAt.Sub(nineOClock))
		}
	}
}

// Who gave up and stands by the line, read about as often as a lap takes, seems to be in once enough laps
// have come of it. Which of their reads are laps is in doubt, though the last one isn't.
func TestWhoStandsByTheLineFlagsNobodyOff(t *testing.T) {
	const riders, leader = 60, 2100
	st := flaggedRace(riders+1, func(i int) []int {
		if i == riders {
			return []int{405, 810, 1215, 1480, 1570, 1640, 2000}
		}
		return untilFlagged(420+8*i, leader)
	})
	for i := range riders {
		at := untilFlagged(420+8*i, leader)
		finishIn(t, st, i, at[len(at)-1])
	}
}

// Where it was ruled that somebody came in, they did, whatever the others rode since.
func TestWhoIsRuledToBeInFlagsTheOthers(t *testing.T) {
	const riders, leader = 60, 2100
	st := flaggedRace(riders+1, func(i int) []int {
		if i == riders {
			return []int{405, 810, 1215, 1985}
		}
		return untilFlagged(420+8*i, leader)
	}, race.Ruling{Seq: 1, Rule: race.SetTime, Bib: fmt.Sprint(riders), Split: "lap-5", Time: nineOClock.Add(1985_000).Format(time.UTC), Why: "seen"})
	finishIn(t, st, riders, 1985)
	finishIn(t, st, 10, 4*(420+80))
}

// A leader of whom a lap was missed is the leader: whoever came by next was flagged, and whether some
// of them ride a lap to cool down changes nothing.
func TestALeaderOfWhomALapWasMissedFlagsTheOthers(t *testing.T) {
	const riders, leader = 30, 2100
	for _, cooling := range []int{0, 2, 3} {
		finish := func(i int) (at []int) { return untilFlagged(450+8*i, leader) }
		st := flaggedRace(riders+1, func(i int) []int {
			if i == riders {
				return []int{420, 840, 1680, 2100}
			}
			at := finish(i)
			if cooling > 0 && i%cooling > 0 {
				at = append(at, at[len(at)-1]+470+8*i)
			}
			return at
		})
		for i := range riders {
			at := finish(i)
			finishIn(t, st, i, at[len(at)-1])
		}
		finishIn(t, st, riders, leader)
	}
}
