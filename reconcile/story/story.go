// Package story tells how each time of one bib came about, down to the file and line of
// each read: what a protest needs, on one page.
package story

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Story is how one bib's result came about. Instants are RFC 3339 in the race's zone, on the
// race clock unless said otherwise; "" is what isn't known.
type Story struct {
	Race     string   `json:"race"`
	Date     string   `json:"date"`
	Zone     string   `json:"timezone"`
	Bib      string   `json:"bib"`
	Name     string   `json:"name"`
	Chips    []string `json:"chips"` // those whose reads made the passings below
	Course   string   `json:"course"`
	Wave     string   `json:"wave"`
	Gun      string   `json:"gun"`
	StartAt  string   `json:"start_at"`
	FinishAt string   `json:"finish_at"`
	State    string   `json:"state"`
	GunTime  string   `json:"gun_time"`
	NetTime  string   `json:"net_time"`
	Ranks    string   `json:"ranks_by"` // gun, net
	Adjusted string   `json:"adjusted"`
	Official string   `json:"official"`
	Rounding string   `json:"rounding"`
	Rank     int      `json:"rank"`
	HeldFor  []string `json:"held_for"`
	Cases    []Case   `json:"suspects"`
	Rulings  []string `json:"rulings"`
	Splits   []Split  `json:"splits"`         // in the course's order, the empty ones too
	Other    []Split  `json:"other_passings"` // those that fill no split, each with its reason
}

// Case is a suspect that concerns the bib.
type Case struct {
	ID     string `json:"id"`
	Weight string `json:"weight"`
	Status string `json:"status"` // open, settled
	Ruling int    `json:"ruling"` // that settled it, 0: none
	Says   string `json:"says"`
}

// Split is how one passing's time came about.
type Split struct {
	Split     string   `json:"split"` // "" : none
	Line      string   `json:"line"`
	At        string   `json:"at"` // "" : no passing fills the split
	From      string   `json:"from"`
	PlusMinus string   `json:"plus_minus_s"`
	Why       string   `json:"why"`
	Systems   []System `json:"systems"`
}

// System is what one system saw of a passing.
type System struct {
	System     string `json:"system"`
	OnRace     string `json:"at"`
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
	Tag     string `json:"tag"` // "" in a hand log
	At      string `json:"at"`  // on the log's own clock
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
	x, p := st.Results[i], st.Plan
	s := &Story{Race: p.Name, Date: p.Date.Format("2006-01-02"), Zone: p.Zone.String(),
		Bib: bib, Name: x.Name, State: x.State, Gun: x.Gun.Format(p.Zone), StartAt: x.StartAt.Format(p.Zone), FinishAt: x.FinishAt.Format(p.Zone),
		GunTime: x.GunTime.String(), NetTime: x.NetTime.String(), Ranks: "gun", Official: x.Official.String(), Rank: int(st.RanksOf(x).All), HeldFor: x.HeldFor,
		Cases: cases(st, x), Rulings: rulings(st, x, words)}
	if x.Course >= 0 {
		o := p.Courses[x.Course].Official
		s.Course, s.Rounding = p.Courses[x.Course].ID, o.Rounding.Name
		if o.Net && x.NetTime.Known() {
			s.Ranks = "net"
		}
	}
	if x.Wave >= 0 && x.Wave < len(p.Waves) {
		s.Wave = p.Waves[x.Wave].ID
	}
	if x.Adjust != 0 {
		s.Adjusted = x.Adjust.Decimal()
	}
	for i := range x.Splits {
		if i < len(x.Filled) && x.Filled[i] >= 0 {
			s.Splits = append(s.Splits, passing(st, x, &x.Passings[x.Filled[i]]))
		} else {
			s.Splits = append(s.Splits, empty(st, x, &x.Splits[i]))
		}
	}
	for k := range x.Passings {
		if x.Passings[k].Split < 0 {
			s.Other = append(s.Other, passing(st, x, &x.Passings[k]))
		}
	}
	s.wear()
	return s
}

// wear lists the chips whose reads made the passings, in order.
func (s *Story) wear() {
	for _, list := range [][]Split{s.Splits, s.Other} {
		for i := range list {
			for _, y := range list[i].Systems {
				for _, r := range y.Reads {
					if r.Tag != "" {
						s.Chips = append(s.Chips, r.Tag)
					}
				}
			}
		}
	}
	slices.Sort(s.Chips)
	s.Chips = slices.Compact(s.Chips)
}

// cases are the suspects that concern an athlete or hold them, in order of the worklist.
func cases(st *race.State, x *race.Result) []Case {
	var out []Case
	for k := range st.Suspects {
		c := &st.Suspects[k]
		if !slices.Contains(c.Bibs, x.Bib) && !slices.Contains(x.HeldFor, c.ID) {
			continue
		}
		y := Case{ID: c.ID, Weight: c.Weight.String(), Status: "open", Says: c.Says}
		if c.Settled {
			y.Status, y.Ruling = "settled", c.SettledBy
		}
		out = append(out, y)
	}
	return out
}

// rulings are those that concern an athlete, in words, with what became of them.
func rulings(st *race.State, x *race.Result, words func(*race.Ruling) string) []string {
	var out []string
	for k := range st.Rulings {
		r := &st.Rulings[k]
		if !slices.Contains(x.Rulings, r.Seq) {
			continue
		}
		line := fmt.Sprintf("%d, %s by %s: %s (%s)", r.Seq, r.Made, r.Who, words(r), r.Why)
		if undo := st.Undone[r.Seq]; undo > 0 {
			line += fmt.Sprintf("; taken back by %d", undo)
		}
		if why := st.Idle[r.Seq]; why != "" {
			line += "; it changes nothing: " + why
		}
		out = append(out, line)
	}
	return out
}

// empty says of a split that nothing fills why that is.
func empty(st *race.State, x *race.Result, at *race.Split) Split {
	s := Split{Split: at.ID, Line: st.Plan.Lines[at.Line].ID, Why: "no read of this bib fits here"}
	for k := range x.Passings {
		if q := &x.Passings[k]; q.Line == at.Line && q.Split < 0 {
			s.Why = "no passing is taken for it; those at this line that fill no split stand below"
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
		if q.Fate == race.InSplit {
			s.Why = "fills no split: the list lacks this bib, and no course is its own"
		}
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
		if q.Unsure(race.Backup) != "" {
			s += "; not sure: " + q.Unsure(race.Backup)
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
	c := q.Seen[sys].Sub(own)
	s.Correction, s.Model = c.Decimal(), model(st, int(b.Source), q.Seen[sys], c)
	in := st.Inputs[b.Source]
	reads := b.Reads(in)
	worn := tags(in, b, reads, sys)
	marked := false
	for _, r := range reads {
		y := Read{Line: r.Line, Tag: worn[place{r.File, r.Line}], At: r.At.Format(p.Zone)}
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

// place is where a read stands in its log.
type place struct {
	file uint8
	line uint32
}

// tags tells whose reads a burst is made of, by their places.
func tags(in *race.Reads, b *race.Burst, reads []race.Read, sys race.System) map[place]string {
	if in == nil || sys == race.Hand {
		return nil
	}
	at := make(map[place]string, len(reads))
	for _, r := range reads {
		at[place{r.File, r.Line}] = ""
	}
	for t := range in.Tags.All() {
		k, _ := slices.BinarySearchFunc(t.Reads, b.First, func(r race.Read, first race.Instant) int { return cmp.Compare(r.At, first) })
		for ; k < len(t.Reads) && t.Reads[k].At <= b.Last(); k++ {
			q := place{t.Reads[k].File, t.Reads[k].Line}
			if _, ours := at[q]; ours {
				at[q] = t.Tag
			}
		}
	}
	return at
}

// model puts in words how a system's own time became one on the race clock.
func model(st *race.State, source int, at race.Instant, correction race.Millis) string {
	best := st.Stretch(source, at)
	switch {
	case best == nil && correction == 0:
		return "the line's reference clock, which is the race clock"
	case best == nil && st.Plan.Logs[source].Offset.Auto:
		return "its clock is not known yet: this is a guess"
	case best == nil:
		return "the line's reference clock, as the plan or a ruling sets it"
	}
	ahead := best.Ahead(at)
	whence := "fitted to " + race.Counted(best.Pairs, "pair", "pairs")
	switch {
	case best.Fixed:
		whence = "as set"
	case best.Pairs == 0:
		whence = fmt.Sprintf("of the clock %q, fitted at another line", st.Plan.Logs[source].Clock)
	}
	s := fmt.Sprintf("its clock reads %+.3f s to main's then (%s, drift %+.1f ppm)", ahead, whence, best.DriftPPM)
	main := 0.0
	if l := &st.Plan.Logs[st.Plan.Reference(st.Plan.Logs[source].Line)]; !l.Offset.Auto {
		main = l.Offset.Fixed.Seconds()
	}
	if main != 0 {
		s += fmt.Sprintf(", and main's %+.3f s to the race clock, as the plan or a ruling sets it", main)
	}
	if rest := correction.Seconds() + ahead + main; math.Abs(rest) >= 0.0005 {
		s += fmt.Sprintf("; %+.3f s for its antenna, %.2f m behind main's", rest, best.Behind)
	}
	return s
}
