// Package export writes a race's state in the forms of the outer surface: CSV after
// RFC 4180 with LF, the same bytes for the same state. Where the files stand and how they
// are replaced is the caller's.
package export

import (
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
	case race.Clean, race.DNS, race.DNF, race.DSQ:
		return true
	}
	return false
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
	return table(w, p.Zone, TimesHeader, func(t *sheet) {
		for _, i := range result.Order(st) {
			if x := st.Results[i]; goesOut(x.State, o) {
				timesRow(t, p, x, st.Ranks[i])
			}
		}
	})
}

func timesRow(t *sheet, p *race.Plan, x *race.Result, ranks race.Ranks) {
	wave, laps := "", ""
	if x.Wave >= 0 && x.Wave < len(p.Waves) {
		wave = p.Waves[x.Wave].ID
	}
	if x.Course >= 0 && p.Courses[x.Course].LapLength > 0 && (x.Finish >= 0 || x.LastSplit != "") {
		laps = strconv.Itoa(x.Laps)
	}
	t.cell(courseID(p, x.Course))
	t.place(ranks.All)
	t.place(ranks.Sex)
	t.place(ranks.Category)
	t.cell(x.Bib)
	t.cell(Text(x.Name))
	t.cell(Text(x.Sex))
	t.cell(Text(x.Category))
	t.cell(Text(x.Team))
	t.cell(wave)
	t.cell(x.State)
	t.length(x.Official)
	t.length(x.GunTime)
	t.length(x.NetTime)
	t.cell(laps)
	t.at(x.FinishAt)
	t.cell(x.From.String())
	t.seconds(x.PM)
	t.cell(x.LastSplit)
	t.cell(strings.Join(x.HeldFor, " "))
	t.end()
}

// Splits writes splits.csv: a row a filled split, in order of bib, then split.
func Splits(w io.Writer, st *race.State, o Options) error {
	const header = "bib,course,split,line,at,gun_time,net_time,stretch_time,from,plus_minus_s,main_at,backup_at,hand_at,reads_main,reads_backup"
	return table(w, st.Plan.Zone, header, func(t *sheet) {
		for i := range st.Results {
			x := st.Results[i]
			if !goesOut(x.State, o) {
				continue
			}
			for s, k := range x.Filled {
				if k >= 0 {
					splitsRow(t, st.Plan, x, s, &x.Passings[k])
				}
			}
		}
	})
}

func splitsRow(t *sheet, p *race.Plan, x *race.Result, s int, q *race.Passing) {
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
	t.cell(x.Bib)
	t.cell(courseID(p, x.Course))
	t.cell(x.Splits[s].ID)
	t.cell(p.Lines[x.Splits[s].Line].ID)
	t.at(q.At)
	t.length(q.At.Sub(x.Gun))
	t.length(net)
	t.length(stretch)
	t.cell(q.From.String())
	t.seconds(q.PlusMinus)
	t.at(q.Seen[race.Main])
	t.at(q.Seen[race.Backup])
	t.at(q.Seen[race.Hand])
	t.number(count(q.Bursts[race.Main]))
	t.number(count(q.Bursts[race.Backup]))
	t.end()
}

func count(b *race.Burst) int {
	if b == nil {
		return 0
	}
	return int(b.Count)
}

// Suspects writes suspects.csv, most urgent first.
func Suspects(w io.Writer, st *race.State, _ Options) error {
	return table(w, st.Plan.Zone, "id,kind,weight,status,bib,tag,line,split,at,says,proposes", func(t *sheet) {
		for i := range st.Suspects {
			s := &st.Suspects[i]
			status := "open"
			if s.Settled {
				status = "settled"
			}
			t.cells(s.ID, s.Kind, s.Weight.String(), status, strings.Join(s.Bibs, " "), s.Tag, s.Line, s.Split)
			t.at(s.At)
			t.cells(Text(s.Says), s.Proposes)
			t.end()
		}
	})
}

// Clocks writes clocks.csv: a row a stretch of time on which one model of one log holds.
func Clocks(w io.Writer, st *race.State, _ Options) error {
	p := st.Plan
	return table(w, p.Zone, "line,system,from,to,offset_s,drift_ppm,behind_m,plus_minus_s,spread_s,pairs,source", func(t *sheet) {
		for _, c := range st.Clocks {
			source := "auto"
			if c.Fixed {
				source = "fixed"
			}
			t.cells(p.Lines[c.Line].ID, p.Logs[c.Source].System.String())
			t.at(c.From)
			t.at(c.To)
			t.cells(decimal(c.Offset, 3), decimal(c.DriftPPM, 1), decimal(c.Behind, 2), decimal(c.PlusMinus, 3), decimal(c.Spread, 3))
			t.number(c.Pairs)
			t.cell(source)
			t.end()
		}
	})
}

// Systems writes systems.csv: a row a line and system.
func Systems(w io.Writer, st *race.State, _ Options) error {
	p := st.Plan
	return table(w, p.Zone, "line,system,reads,tags,passings,seen_of_all,first,last,bad_lines,repeated_lines,missed_by_all", func(t *sheet) {
		for _, x := range st.Systems {
			t.cells(p.Lines[x.Line].ID, x.System.String())
			t.number(x.Reads)
			t.number(x.Tags)
			t.number(x.Passings)
			t.cell(decimal(x.SeenOfAll, 4))
			t.at(x.First)
			t.at(x.Last)
			t.number(x.BadLines)
			t.number(x.Repeated)
			t.cell(decimal(x.MissedByAll, 2))
			t.end()
		}
	})
}
