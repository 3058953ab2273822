// Package story tells how each time of one bib came about, down to the file and line of
// each read: what a protest needs, on one page.
package story

import (
	"fmt"
	"math"
	"strings"

	"twinmat/reconcile/race"
)

// Story is how one bib's result came about.
type Story struct {
	Bib      string   `json:"bib"`
	Name     string   `json:"name"`
	Course   string   `json:"course"`
	Wave     string   `json:"wave"`
	Gun      string   `json:"gun"`
	State    string   `json:"state"`
	GunTime  string   `json:"gun_time"`
	NetTime  string   `json:"net_time"`
	Adjusted string   `json:"adjusted"`
	Official string   `json:"official"`
	Rounding string   `json:"rounding"`
	Rank     int      `json:"rank"`
	HeldFor  []string `json:"held_for"`
	Rulings  []string `json:"rulings"`
	Splits   []Split  `json:"splits"`
	Other    []Split  `json:"other_passings"` // those that fill no split, each with its reason
}

// Split is how one passing's time came about.
type Split struct {
	Split     string   `json:"split"` // "" : none
	Line      string   `json:"line"`
	At        string   `json:"at"`
	From      string   `json:"from"`
	PlusMinus string   `json:"plus_minus_s"`
	Why       string   `json:"why"`
	Systems   []System `json:"systems"`
}

// System is what one system saw of a passing.
type System struct {
	System     string `json:"system"`
	OnRace     string `json:"at"`         // on the race clock
	OwnClock   string `json:"own"`        // on the system's own clock
	Correction string `json:"correction"` // seconds, race clock minus own
	Model      string `json:"model"`
	Kept       string `json:"kept"` // first, strongest …
	Reads      []Read `json:"reads"`
}

// Read is one read of a passing.
type Read struct {
	File    string `json:"file"`
	Line    uint32 `json:"line"`
	At      string `json:"at"` // on the log's own clock
	Antenna string `json:"antenna"`
	RSSI    string `json:"rssi"`
	Kept    bool   `json:"kept"`
}

// Of tells the story of a bib, nil if the race has no such bib. words puts a ruling in words.
func Of(st *race.State, bib string, words func(*race.Ruling) string) *Story {
	i, ok := st.ByBib[bib]
	if !ok {
		return nil
	}
	x, p := &st.Results[i], st.Plan
	s := &Story{Bib: bib, Name: x.Name, State: x.State, Gun: x.Gun.Format(p.Zone), GunTime: x.GunTime.String(), NetTime: x.NetTime.String(),
		Official: x.Official.String(), Rank: x.Rank, HeldFor: x.HeldFor}
	if x.Course >= 0 {
		s.Course, s.Rounding = p.Courses[x.Course].ID, p.Courses[x.Course].Official.Rounding.Name
	}
	if x.Wave >= 0 && x.Wave < len(p.Waves) {
		s.Wave = p.Waves[x.Wave].ID
	}
	if x.Adjust != 0 {
		s.Adjusted = x.Adjust.Decimal()
	}
	for k := range st.Rulings {
		r := &st.Rulings[k]
		for _, seq := range x.Rulings {
			if seq != r.Seq {
				continue
			}
			line := fmt.Sprintf("%d, %s by %s: %s (%s)", r.Seq, r.Made, r.Who, words(r), r.Why)
			if undo := st.Undone[seq]; undo > 0 {
				line += fmt.Sprintf("; taken back by %d", undo)
			}
			s.Rulings = append(s.Rulings, line)
		}
	}
	for k := range x.Passings {
		q := passing(st, x, &x.Passings[k])
		if x.Passings[k].Split >= 0 {
			s.Splits = append(s.Splits, q)
		} else {
			s.Other = append(s.Other, q)
		}
	}
	return s
}

func passing(st *race.State, x *race.Result, q *race.Passing) Split {
	p := st.Plan
	s := Split{Line: p.Lines[q.Line].ID, At: q.At.Format(p.Zone), From: q.From.String(), PlusMinus: q.PlusMinus.Decimal()}
	keep := p.Lines[q.Line].Keep
	if q.Split >= 0 {
		s.Split = x.Splits[q.Split].ID
		if k := x.Splits[q.Split].Keep; k != race.KeepUnset {
			keep = k
		}
		s.Why = why(q)
	} else {
		s.Why = "fills no split: " + q.Fate.String()
		if q.Ruling > 0 {
			s.Why += fmt.Sprintf(" by ruling %d", q.Ruling)
		}
	}
	for sys, b := range q.Bursts {
		if b != nil {
			s.Systems = append(s.Systems, system(st, q, race.System(sys), b, keep))
		}
	}
	return s
}

// why tells which system's time was taken and why.
func why(q *race.Passing) string {
	switch {
	case q.From == race.FromRuling:
		return fmt.Sprintf("ruling %d set this time", q.Ruling)
	case q.Ruling > 0:
		return fmt.Sprintf("ruling %d took %s's time", q.Ruling, q.From)
	case q.From == race.FromMain:
		return "main saw it, and main's time counts"
	case q.From == race.FromBackup:
		s := "main has no read here: backup's time, laid on main's clock"
		if q.Unsure[race.Backup] != "" {
			s += "; not sure: " + q.Unsure[race.Backup]
		}
		return s
	case q.From == race.FromHand:
		return "no system has a read here: the time that a person keyed"
	}
	return ""
}

func system(st *race.State, q *race.Passing, sys race.System, b *race.Burst, keep race.Keep) System {
	p := st.Plan
	own := b.Time(keep)
	s := System{System: sys.String(), OnRace: q.Seen[sys].Format(p.Zone), OwnClock: own.Format(p.Zone), Kept: keep.String()}
	if b.Source < 0 {
		s.Model = fmt.Sprintf("seen by eye, ruling %d", b.Witness)
		return s
	}
	s.Correction = q.Seen[sys].Sub(own).Decimal()
	s.Model = model(st, b.Source, q.At)
	in := st.Inputs[b.Source]
	marked := false
	for i := range b.Reads {
		r := &b.Reads[i]
		y := Read{Line: r.Line, At: r.At.Format(p.Zone)}
		if in != nil && int(r.File) < len(in.Files) {
			y.File = in.Files[r.File].Path
		}
		if in != nil && int(r.Antenna) < len(in.Antennas) {
			y.Antenna = in.Antennas[r.Antenna]
		}
		if r.RSSI != race.NoRSSI {
			y.RSSI = fmt.Sprintf("%.1f", float64(r.RSSI)/10)
		}
		if r.At == own && !marked && (keep != race.KeepStrongest || r.RSSI == b.Peak) {
			y.Kept, marked = true, true
		}
		s.Reads = append(s.Reads, y)
	}
	return s
}

// model puts the clock model that held at a moment in words.
func model(st *race.State, source int, at race.Instant) string {
	var best *race.ClockStretch
	gap := race.Millis(math.MaxInt64)
	for i := range st.Clocks {
		c := &st.Clocks[i]
		if c.Source != source {
			continue
		}
		d := max(c.From.Sub(at), at.Sub(c.To), 0)
		if d < gap {
			best, gap = c, d
		}
	}
	if best == nil {
		return "the line's reference clock"
	}
	return fmt.Sprintf("its clock runs %+.3f s to main's, %+.1f ppm, antenna %.2f m behind, ±%.3f s from %d pairs", best.Offset, best.DriftPPM, best.Behind, best.PlusMinus, best.Pairs)
}

// Lines is the story as text for a person.
func (s *Story) Lines() []string {
	var out []string
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	add("bib %s  %s  (%s, wave %s, gun %s)", s.Bib, s.Name, s.Course, s.Wave, s.Gun)
	add("state %s, rank %d", s.State, s.Rank)
	add("official %s = gun time %s, net time %s%s, rounding %s", orNone(s.Official), orNone(s.GunTime), orNone(s.NetTime), adjusted(s.Adjusted), s.Rounding)
	if len(s.HeldFor) > 0 {
		add("held for %s", strings.Join(s.HeldFor, " "))
	}
	for _, r := range s.Rulings {
		add("ruling %s", r)
	}
	for _, list := range [][]Split{s.Splits, s.Other} {
		for _, q := range list {
			name := q.Split
			if name == "" {
				name = "(no split)"
			}
			add("")
			add("%s at line %s: %s from %s ±%s s", name, q.Line, q.At, orNone(q.From), q.PlusMinus)
			add("  %s", q.Why)
			for _, y := range q.Systems {
				add("  %s: %s on its own clock, %s s to the race clock: %s", y.System, y.OwnClock, y.Correction, y.OnRace)
				add("    %s; %d reads, the %s kept", y.Model, len(y.Reads), y.Kept)
				for _, r := range y.Reads {
					mark := " "
					if r.Kept {
						mark = "*"
					}
					add("    %s %s:%d  %s  antenna %s  %s dBm", mark, r.File, r.Line, r.At, r.Antenna, r.RSSI)
				}
			}
		}
	}
	return out
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func adjusted(s string) string {
	if s == "" {
		return ""
	}
	return ", adjusted by " + s + " s"
}
