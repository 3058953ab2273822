package suspect

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// byUnknownClock has backup alone read a line, by a clock that nothing tells and that is late by so
// much; guess is how far it was taken to be from main's. Where fills says so its passings fill their
// splits all the same.
func (m *made) byUnknownClock(line int, by race.Millis, guess float64, fills bool) {
	for i := range m.st.Results {
		r := m.st.Results[i]
		for k := range r.Passings {
			p := &r.Passings[k]
			if p.Line != line {
				continue
			}
			p.Bursts[race.Main], p.Seen[race.Main], p.From = nil, race.NoInstant, race.FromBackup
			p.SetUnsure(race.Backup, "no tag was seen by both")
			p.At = p.At.Add(by - race.Millis(guess*1000))
			p.Seen[race.Backup] = p.At
			if !fills {
				r.Filled[p.Split] = -1
				p.Split, p.Fate = -1, race.Extra
			}
		}
		m.settle(i)
	}
	offset := math.NaN()
	if guess != 0 {
		offset = guess
	}
	m.in.Unsure = []ClockUnsure{{Line: line, Source: 2*line + 1, Why: "no tag was seen by both", OffsetS: offset}}
}

// offsetOf is the offset that a proposal sets a clock to.
func offsetOf(t *testing.T, s race.Suspect, clock string) float64 {
	t.Helper()
	var by float64
	if n, _ := fmt.Sscanf(s.Proposes, "set-clock "+clock+" --offset %f", &by); n != 1 {
		t.Errorf("%s proposes %s, want %s's", s.Says, s.Proposes, clock)
		return math.NaN()
	}
	return by
}

// Start and finish are one line, its main is dead, and backup's clock is an hour or so late: what it
// told of the start fills the finish. The first over the start tell how late it is, not who came back.
func TestAStartThatFillsTheFinishTellsOfItsClock(t *testing.T) {
	for _, by := range []race.Millis{3_600_000, 3_605_000, 3_597_000, 5_130_000, -3_600_000, -3_604_000} {
		m := makeRace(t, 200)
		m.plan.Courses[0].Splits[4].Line = 0
		for i := range m.st.Results {
			r := m.st.Results[i]
			r.Passings[4].Line = 0
		}
		m.byUnknownClock(0, by, 0, false)
		if by > 0 {
			for i := range m.st.Results {
				r := m.st.Results[i]
				slices.SortStableFunc(r.Passings, func(a, b race.Passing) int { return int(a.At - b.At) })
				for k := range r.Passings {
					p := &r.Passings[k]
					if p.Split >= 0 {
						r.Filled[p.Split] = k
					} else if r.Filled[4] < 0 {
						r.Filled[4], p.Split, p.Fate = k, 4, race.InSplit
					}
				}
				m.settle(i)
			}
		}
		// The first of all is over the start half a second after the gun.
		if d := offsetOf(t, m.one("line-off:start"), "--line start --system backup") - by.Seconds(); !(math.Abs(d) < 1) {
			t.Errorf("%v: %.3f s off it", by, d)
		}
	}
}

// A clock that was guessed by one who walked home past the line is wrong by that guess: it is that
// clock which is told, and by what the field says of it as it stands.
func TestAClockThatWasGuessedWrongIsTheOneToSet(t *testing.T) {
	m := makeRace(t, 200)
	m.byUnknownClock(0, -71_000, -7943.5, false)
	m.add("3", 0, gunTime.Add(240_000), race.Extra) // main read one, long after the start
	s := m.one("line-off:start")
	if d := offsetOf(t, s, "--line start --system backup") + 71; !(math.Abs(d) < 1) {
		t.Errorf("%.3f s off it", d)
	}
	if strings.Contains(s.Says, "2:00:00") {
		t.Errorf("so many whole hours are as good as any: %s", s.Says)
	}
}

// What is read late by minutes may be a late gun as well as a clock: neither is proposed.
func TestAClockOrAGunIsToBeLookedAt(t *testing.T) {
	m := makeRace(t, 200)
	m.byUnknownClock(0, 300_000, 0, true)
	s := m.one("line-off:start")
	if s.Proposes != "accept --suspect line-off:start" || len(s.Others) != 1 || !strings.HasPrefix(s.Others[0], "set-clock --line start --system backup --offset +30") {
		t.Errorf("proposes %s, %v", s.Proposes, s.Others)
	}
	m = makeRace(t, 200)
	m.byUnknownClock(0, 20_000, 0, true)
	m.none(race.LineOff)
}

// A start that rests on a clock which nothing tells fills its split, hours late, and the next line's
// passings come before it: the start's clock is off, not theirs.
func TestBehindAStartOfAnUnknownClockNoOtherIsOff(t *testing.T) {
	m := makeRace(t, 200)
	m.byUnknownClock(0, 3_600_000, 0, true)
	for i := range m.st.Results {
		r := m.st.Results[i]
		p := &r.Passings[1]
		p.Split, p.Fate, r.Filled[1] = -1, race.Extra, -1
		m.settle(i)
	}
	if off := m.linesOff(); !slices.Equal(off, []string{"start"}) {
		t.Errorf("told of %v", off)
	}
}

// One wave is over the start minutes before its gun, the other course's in time: the clock they share
// is right.
func TestAClockThatOthersStartInTimeByIsRight(t *testing.T) {
	m := makeRace(t, 200)
	other := m.plan.Courses[0]
	other.ID = "other"
	m.plan.Courses = append(m.plan.Courses, other)
	m.plan.Waves[1].Course, m.st.Closed = 1, []bool{false, false}
	early := func(wave int) {
		for i := range m.st.Results {
			r := m.st.Results[i]
			r.Course = r.Wave
			if p := &r.Passings[0]; wave < 0 || r.Wave == wave {
				p.At, p.Split, p.Fate, r.Filled[0] = p.At.Add(-900_000), -1, race.BeforeGun, -1
			}
			m.settle(i)
		}
	}
	early(1)
	m.none(race.LineOff)
	early(0)
	m.one("line-off:start")
}

// A main that was set by an hour in mid-race brings the lines after it out of order: the step is told,
// and the finish's clock isn't off.
func TestBesideAStepNoLineIsShifted(t *testing.T) {
	m := makeRace(t, 200)
	for i := range m.st.Results {
		r := m.st.Results[i]
		r.Passings[3].At = r.Passings[3].At.Add(6_000_000)
		p := &r.Passings[4]
		p.Split, p.Fate, r.Filled[4] = -1, race.Extra, -1
		m.settle(i)
	}
	m.st.Now = m.st.Now.Add(8 * 3_600_000) // nobody is on the way any more
	if off := m.linesOff(); !slices.Contains(off, "finish") {
		t.Fatalf("without the step, told of %v", off)
	}
	at := gunTime.Add(1_000_000)
	m.in.Steps = []ClockStep{{Line: 3, Source: 7, Before: at, After: at.Add(-5_990_000), SizeS: 6000, PlusMinusS: 0.1, Pairs: 60, Back: true}}
	m.none(race.LineOff)
}

// Nobody who leans on the gun, warms up or comes late moves when the first were over the start; who
// may start as they like tell of none.
func TestTheFirstOverTheStart(t *testing.T) {
	var rush, walk []float64
	for i := range 120 {
		rush = append(rush, 60+0.4+float64(i*i)*0.004)
		walk = append(walk, 60+float64(i)*40)
	}
	rush = append(rush, -900, 20, 57.1, 700)
	if first, ok := firstOver(rush); !ok || first != 60.4 {
		t.Errorf("%.1f, %t", first, ok)
	}
	if first, ok := firstOver(walk); ok {
		t.Errorf("told by %.1f", first)
	}
	if _, ok := firstOver([]float64{1, 2, 3}); ok {
		t.Error("told by three")
	}
}
