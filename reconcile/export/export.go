// Package export writes a race's state in the forms of the outer surface: CSV after
// RFC 4180 with LF, the same bytes for the same state. Where the files stand and how they
// are replaced is the caller's.
package export

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"

	"twinmat/reconcile/race"
	"twinmat/reconcile/result"
)

// Options say what goes out.
type Options struct {
	CleanOnly bool // only clean, dns, dnf, dsq
}

// A File is one export: its name and how it is written.
type File struct {
	Name  string
	Write func(io.Writer, *race.State, Options) error
}

// Files are the tables, in the order in which they are written.
var Files = []File{
	{"times.csv", Times}, {"splits.csv", Splits}, {"suspects.csv", Suspects}, {"clocks.csv", Clocks}, {"systems.csv", Systems},
}

// Text is a cell of a text column: one that a spreadsheet would take for a formula starts
// with an apostrophe (OWASP, CSV injection; full-width signs are taken for the plain ones).
func Text(s string) string {
	if s == "" {
		return s
	}
	if strings.ContainsRune("=+-@\t\r\n\x00", rune(s[0])) {
		return "'" + s
	}
	for _, p := range [...]string{"＝", "＋", "－", "＠"} {
		if strings.HasPrefix(s, p) {
			return "'" + s
		}
	}
	return s
}

// goesOut tells whether a result is in an export of the clean only.
func goesOut(state string, o Options) bool {
	if !o.CleanOnly {
		return true
	}
	switch state {
	case "clean", "dns", "dnf", "dsq":
		return true
	}
	return false
}

func table(w io.Writer, header string, rows func(put func(...string))) error {
	c := csv.NewWriter(w)
	if err := c.Write(strings.Split(header, ",")); err != nil {
		return err
	}
	var failed error
	rows(func(cells ...string) {
		if failed == nil {
			failed = c.Write(cells)
		}
	})
	if failed != nil {
		return failed
	}
	c.Flush()
	return c.Error()
}

func place(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func decimal(f float64, digits int) string {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return ""
	}
	s := strconv.FormatFloat(f, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-") // no minus nought
	}
	return s
}

func courseID(p *race.Plan, c int) string {
	if c < 0 {
		return ""
	}
	return p.Courses[c].ID
}

// TimesHeader names the columns of times.csv.
const TimesHeader = "course,rank,rank_sex,rank_category,bib,name,sex,category,team,wave,state,official,gun_time,net_time,laps,finish_at,finish_from,plus_minus_s,last_split,held_for"

// Times writes times.csv: a row an athlete, in order of course, rank, bib.
func Times(w io.Writer, st *race.State, o Options) error {
	p := st.Plan
	return table(w, TimesHeader, func(put func(...string)) {
		for _, i := range result.Order(st) {
			x := &st.Results[i]
			if !goesOut(x.State, o) {
				continue
			}
			wave, laps := "", ""
			if x.Wave >= 0 && x.Wave < len(p.Waves) {
				wave = p.Waves[x.Wave].ID
			}
			if x.Course >= 0 && p.Courses[x.Course].LapLength > 0 && (x.Finish >= 0 || x.LastSplit != "") {
				laps = strconv.Itoa(x.Laps)
			}
			put(courseID(p, x.Course), place(x.Rank), place(x.RankSex), place(x.RankCategory), x.Bib, Text(x.Name), Text(x.Sex), Text(x.Category), Text(x.Team),
				wave, x.State, x.Official.String(), x.GunTime.String(), x.NetTime.String(), laps, x.FinishAt.Format(p.Zone), x.From.String(), x.PM.Decimal(),
				x.LastSplit, strings.Join(x.HeldFor, " "))
		}
	})
}

// Splits writes splits.csv: a row a filled split, in order of bib, then split.
func Splits(w io.Writer, st *race.State, o Options) error {
	const header = "bib,course,split,line,at,gun_time,net_time,stretch_time,from,plus_minus_s,main_at,backup_at,hand_at,reads_main,reads_backup"
	p := st.Plan
	return table(w, header, func(put func(...string)) {
		for i := range st.Results {
			x := &st.Results[i]
			if !goesOut(x.State, o) {
				continue
			}
			for s, k := range x.Filled {
				if k < 0 {
					continue
				}
				q := &x.Passings[k]
				stretch, net := race.NoMillis, q.At.Sub(x.StartAt)
				if s == 0 && x.Splits[0].At == 0 && net.Known() {
					net = max(net, 0) // the lean on the gun: net never runs from before it
				}
				switch {
				case s > 0 && x.Filled[s-1] >= 0:
					stretch = q.At.Sub(x.Passings[x.Filled[s-1]].At)
				case s == 0 && x.Splits[0].At > 0:
					stretch = q.At.Sub(x.Gun)
				}
				put(x.Bib, courseID(p, x.Course), x.Splits[s].ID, p.Lines[x.Splits[s].Line].ID, q.At.Format(p.Zone), q.At.Sub(x.Gun).String(), net.String(),
					stretch.String(), q.From.String(), q.PlusMinus.Decimal(), q.Seen[race.Main].Format(p.Zone), q.Seen[race.Backup].Format(p.Zone), q.Seen[race.Hand].Format(p.Zone),
					count(q.Bursts[race.Main]), count(q.Bursts[race.Backup]))
			}
		}
	})
}

func count(b *race.Burst) string {
	if b == nil {
		return "0"
	}
	return strconv.Itoa(b.Count)
}

// Suspects writes suspects.csv, most urgent first.
func Suspects(w io.Writer, st *race.State, _ Options) error {
	return table(w, "id,kind,weight,status,bib,tag,line,split,at,says,proposes", func(put func(...string)) {
		for i := range st.Suspects {
			s := &st.Suspects[i]
			status := "open"
			if s.Settled {
				status = "settled"
			}
			put(s.ID, s.Kind, s.Weight.String(), status, strings.Join(s.Bibs, " "), s.Tag, s.Line, s.Split, s.At.Format(st.Plan.Zone), Text(s.Says), s.Proposes)
		}
	})
}

// Clocks writes clocks.csv: a row a stretch of time on which one model of one log holds.
func Clocks(w io.Writer, st *race.State, _ Options) error {
	p := st.Plan
	return table(w, "line,system,from,to,offset_s,drift_ppm,behind_m,plus_minus_s,spread_s,pairs,source", func(put func(...string)) {
		for _, c := range st.Clocks {
			source := "auto"
			if c.Fixed {
				source = "fixed"
			}
			put(p.Lines[c.Line].ID, p.Logs[c.Source].System.String(), c.From.Format(p.Zone), c.To.Format(p.Zone), decimal(c.Offset, 3), decimal(c.DriftPPM, 1),
				decimal(c.Behind, 2), decimal(c.PlusMinus, 3), decimal(c.Spread, 3), strconv.Itoa(c.Pairs), source)
		}
	})
}

// Systems writes systems.csv: a row a line and system.
func Systems(w io.Writer, st *race.State, _ Options) error {
	p := st.Plan
	return table(w, "line,system,reads,tags,passings,seen_of_all,first,last,bad_lines,repeated_lines,missed_by_all", func(put func(...string)) {
		for _, x := range st.Systems {
			put(p.Lines[x.Line].ID, x.System.String(), strconv.Itoa(x.Reads), strconv.Itoa(x.Tags), strconv.Itoa(x.Passings), decimal(x.SeenOfAll, 4),
				x.First.Format(p.Zone), x.Last.Format(p.Zone), strconv.Itoa(x.BadLines), strconv.Itoa(x.Repeated), decimal(x.MissedByAll, 2))
		}
	})
}
