// Package ruling tells what rulings mean: what they make of plan and lists, whether one can
// apply, and how one is written and read. Rulings are replayed in order; a later one wins,
// and an undo is a ruling too.
package ruling

import (
	"math"
	"strconv"

	"twinmat/reconcile/race"
)

// BibSplit names one split of one bib.
type BibSplit struct{ Bib, Split string }

// VoidReads says that what was read at a line between two moments of the race clock counts
// for nothing.
type VoidReads struct {
	Line     int
	System   race.System
	All      bool // every system of the line
	From, To race.Instant
	Seq      int
}

// WitnessRead is a bib seen by eye at a line.
type WitnessRead struct {
	Bib  string
	Line int
	At   race.Instant
	Seq  int
}

// TimeRuling is a time from another witness.
type TimeRuling struct {
	At        race.Instant
	PlusMinus race.Millis
	Seq       int
}

// SystemRuling takes one system's time for a split.
type SystemRuling struct {
	System race.System
	Seq    int
}

// VoidPassing says that a passing near a moment didn't happen.
type VoidPassing struct {
	Bib  string
	Line int
	At   race.Instant
	Seq  int
}

// StatusRuling is dns, dnf, dsq, or "" for none.
type StatusRuling struct {
	Status string
	Made   race.Instant
	Seq    int
}

// ClockRuling is a clock decided by hand: an offset (that clock minus its reference's, for a
// reference minus the race clock), from a moment on or for the whole race; or which of two
// clocks it was that stepped.
type ClockRuling struct {
	Line    int
	System  race.System
	Offset  race.Millis
	From    race.Instant // NoInstant: the whole race
	Stepped string       // "" : an offset; else the system that stepped
	Right   string       // before, after: the side that keeps its times
	Seq     int
}

// AcceptRuling settles a suspect as it was shown.
type AcceptRuling struct {
	Seq      int
	Evidence string
}

// Effects is what the standing rulings make of plan and lists, and what they decide. Undone
// ones are left out of everything but Undone and ByBib.
type Effects struct {
	Plan         *race.Plan // guns set; the plan itself when none was
	Athletes     []race.Athlete
	Added        map[string]int // bib to the seq that added it
	Chips        []race.Chip    // in order of precedence: what was assigned last first, then the list's
	AssignedSeq  map[string]int // tag to the last seq that assigned it
	Ignored      map[string]int // tag to seq
	Swaps        [][2]string    // in order; each exchanges all chips of two bibs
	VoidReads    []VoidReads
	Adjust       map[string]race.Millis // summed
	Closed       map[int]int            // course to seq
	Witnesses    []WitnessRead
	SetTimes     map[BibSplit]TimeRuling
	UseSystem    map[BibSplit]SystemRuling
	VoidPassings []VoidPassing
	Status       map[string]StatusRuling
	Clocks       []ClockRuling
	Accepts      map[string]AcceptRuling
	Guns         map[int]int // wave to seq
	Undone       map[int]int // seq to the seq that took it back
	ByBib        map[string][]int
}

// Fold replays the rulings over plan and lists, none of which it changes.
func Fold(p *race.Plan, athletes []race.Athlete, chips []race.Chip, rs []race.Ruling) *Effects {
	f := &Effects{Plan: p, Athletes: athletes, Chips: chips, Undone: Undone(rs), ByBib: map[string][]int{}}
	if len(rs) == 0 {
		return f
	}
	f.Added, f.Ignored, f.AssignedSeq = map[string]int{}, map[string]int{}, map[string]int{}
	f.Adjust, f.Closed, f.Guns = map[string]race.Millis{}, map[int]int{}, map[int]int{}
	f.SetTimes, f.UseSystem = map[BibSplit]TimeRuling{}, map[BibSplit]SystemRuling{}
	f.Status, f.Accepts = map[string]StatusRuling{}, map[string]AcceptRuling{}
	f.Athletes = append([]race.Athlete(nil), athletes...)
	at := map[string]int{}
	for i := range f.Athletes {
		at[f.Athletes[i].Bib] = i
	}
	plan := *p
	plan.Waves = append([]race.Wave(nil), p.Waves...)
	var assigned []race.Chip
	for i := range rs {
		r := &rs[i]
		for _, bib := range []string{r.Bib, r.With} {
			if bib != "" {
				f.ByBib[bib] = append(f.ByBib[bib], r.Seq)
			}
		}
		if _, undone := f.Undone[r.Seq]; undone {
			continue
		}
		f.apply(r, &plan, at, &assigned)
	}
	if len(f.Guns) > 0 {
		f.Plan = &plan
	}
	f.Chips = make([]race.Chip, 0, len(assigned)+len(chips))
	for i := len(assigned) - 1; i >= 0; i-- {
		f.Chips = append(f.Chips, assigned[i])
	}
	f.Chips = append(f.Chips, chips...)
	return f
}

// Undone tells which rulings don't stand, and by which undo. An undo that is itself undone
// takes nothing back.
func Undone(rs []race.Ruling) map[int]int {
	out := map[int]int{}
	for i := len(rs) - 1; i >= 0; i-- { // a later undo is decided before an earlier one
		if r := &rs[i]; r.Rule == race.Undo {
			if _, undone := out[r.Seq]; !undone {
				out[r.UndoneSeq] = r.Seq
			}
		}
	}
	return out
}

func (f *Effects) apply(r *race.Ruling, plan *race.Plan, at map[string]int, assigned *[]race.Chip) {
	switch r.Rule {
	case race.AssignChip:
		tag := race.CanonicalTag(r.Tag)
		*assigned = append(*assigned, race.Chip{Tag: tag, Bib: r.Bib, From: instant(r.From), To: instant(r.To)})
		f.AssignedSeq[tag] = r.Seq
	case race.IgnoreChip:
		for _, t := range append([]string{r.Tag}, r.Tags...) {
			if t != "" {
				f.Ignored[race.CanonicalTag(t)] = r.Seq
			}
		}
	case race.VoidReads:
		sys, one := system(r.System)
		if plan.LineIndex(r.Line) < 0 {
			return // the plan has changed since: the line is gone, and its reads with it
		}
		f.VoidReads = append(f.VoidReads, VoidReads{plan.LineIndex(r.Line), sys, !one, instant(r.From), instant(r.To), r.Seq})
	case race.AdjustTime:
		f.Adjust[r.Bib] += millis(r.Shift)
	case race.CloseCourse:
		if c := plan.CourseIndex(r.Course); c >= 0 {
			f.Closed[c] = r.Seq
		}
	case race.SwapBibs:
		f.Swaps = append(f.Swaps, [2]string{r.Bib, r.With})
	case race.SetGun:
		if w := plan.WaveIndex(r.Wave); w >= 0 {
			plan.Waves[w].Gun, f.Guns[w] = instant(r.Time), r.Seq
		}
	case race.AddAthlete:
		if _, ok := at[r.Bib]; !ok {
			at[r.Bib] = len(f.Athletes)
			f.Added[r.Bib] = r.Seq
			f.Athletes = append(f.Athletes, race.Athlete{Bib: r.Bib, Name: r.Name, Sex: r.Sex, Birth: r.Birth, Category: r.Category, Team: r.Team, Wave: plan.WaveIndex(r.Wave), Start: race.NoInstant})
		}
	case race.SetWave:
		if i, ok := at[r.Bib]; ok {
			f.Athletes[i].Wave = plan.WaveIndex(r.Wave)
		}
	case race.SetStatus:
		s := r.Status
		if s == "none" {
			s = ""
		}
		f.Status[r.Bib] = StatusRuling{s, instant(r.Made), r.Seq}
		if i, ok := at[r.Bib]; ok {
			f.Athletes[i].Status = s
		}
	case race.Undo:
	default:
		f.applyTime(r, plan)
	}
}

// applyTime are the rulings on single passings, splits and clocks.
func (f *Effects) applyTime(r *race.Ruling, plan *race.Plan) {
	sys, _ := system(r.System)
	if r.Line != "" && plan.LineIndex(r.Line) < 0 {
		return
	}
	k := BibSplit{r.Bib, r.Split}
	switch r.Rule {
	case race.Witness:
		f.Witnesses = append(f.Witnesses, WitnessRead{r.Bib, plan.LineIndex(r.Line), instant(r.Time), r.Seq})
	case race.SetTime:
		delete(f.UseSystem, k)
		f.SetTimes[k] = TimeRuling{instant(r.Time), millis(r.PlusMinus), r.Seq}
	case race.UseSystem:
		delete(f.SetTimes, k)
		f.UseSystem[k] = SystemRuling{sys, r.Seq}
	case race.VoidPassing:
		f.VoidPassings = append(f.VoidPassings, VoidPassing{r.Bib, plan.LineIndex(r.Line), instant(r.Time), r.Seq})
	case race.SetClock:
		right := r.Right
		if right == "" {
			right = "before"
		}
		f.Clocks = append(f.Clocks, ClockRuling{plan.LineIndex(r.Line), sys, millis(r.Offset), instant(r.From), r.Stepped, right, r.Seq})
	case race.Accept:
		f.Accepts[r.Suspect] = AcceptRuling{r.Seq, r.Evidence}
	}
}

// system reads a system's name; false for none.
func system(s string) (race.System, bool) {
	for sys := race.Main; sys < race.Systems; sys++ {
		if sys.String() == s {
			return sys, true
		}
	}
	return race.Main, false
}

// millis reads seconds as rulings hold them: "+3.217", "-12.500".
func millis(s string) race.Millis {
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(f) || math.Abs(f) > 1e12 {
		return 0
	}
	return race.Millis(math.Round(f * 1000))
}
