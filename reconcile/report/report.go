// Package report tells on one self-contained page how a race's timing went: systems,
// clocks, misses, fills, suspects and how each was settled, rulings with their reasons,
// inputs with their hashes. It needs no network, prints well, and shows no birth dates.
package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"sort"

	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

//go:embed page.html
var page string

// mostSuspects on the page; the rest are counted, suspects.csv has them all.
const mostSuspects = 1000

// Write writes the page. words puts a ruling in words; inputs are the files that the state
// rests on.
func Write(w io.Writer, st *race.State, version string, inputs []export.Input, words func(*race.Ruling) string) error {
	t, err := template.New("page").Parse(page)
	if err != nil {
		return err
	}
	return t.Execute(w, view(st, version, inputs, words))
}

type content struct {
	Name, Date, Now, Version string
	States                   []count
	Sums                     []count
	Lines                    []line
	Clocks                   []clockView
	Fills                    []fill
	Waves                    []waveView
	Suspects                 []race.Suspect
	More                     int
	Rulings                  []rulingView
	Inputs                   []export.Input
}

type count struct {
	What string
	N    int
}

type line struct {
	ID      string
	Systems []systemView
	Missed  string
	Chart   template.HTML
}

type systemView struct {
	System, Reads, Tags, Passings, Seen, First, Last, Bad, Repeated string
}

type clockView struct {
	Line, System, Says string
	Rows               []race.ClockStretch
	Chart              template.HTML
}

type fill struct {
	Line              string
	N                 int
	Middle, Widest    string
	FromHand, Rulings int
}

type waveView struct {
	Wave                    string
	Passings, Missed, Share string
}

type rulingView struct {
	Seq                   int
	Made, Who, Words, Why string
	Undone                int
	Idle                  string // why it changes nothing
}

func view(st *race.State, version string, inputs []export.Input, words func(*race.Ruling) string) *content {
	p := st.Plan
	c := &content{Name: p.Name, Date: p.Date.Format("2 January 2006"), Now: st.Now.Format(p.Zone), Version: version, Inputs: inputs}
	states := export.States(st)
	for _, s := range race.States {
		c.States = append(c.States, count{s, states[s]})
	}
	s := st.Sums
	c.Sums = []count{{"lines in the logs", s.Lines}, {"reads", s.Kept}, {"repeated", s.Repeated}, {"bad", s.Bad}, {"in passings", s.InPassings}, {"of chips nobody owns", s.Unassigned},
		{"of chips left out", s.Ignored}, {"voided", s.Voided}, {"outside a log's hours", s.Elsewhere}, {"in a log that is main's again", s.TwinLog}}
	for l := range p.Lines {
		c.Lines = append(c.Lines, lineView(st, l))
		c.Fills = append(c.Fills, fillView(st, l))
	}
	c.Clocks = clockViews(st)
	c.Waves = waves(st)
	c.Suspects = st.Suspects
	if n := len(c.Suspects) - mostSuspects; n > 0 {
		c.Suspects, c.More = c.Suspects[:mostSuspects], n
	}
	for i := range st.Rulings {
		r := &st.Rulings[i]
		c.Rulings = append(c.Rulings, rulingView{r.Seq, r.Made, r.Who, words(r), r.Why, st.Undone[r.Seq], st.Idle[r.Seq]})
	}
	return c
}

func lineView(st *race.State, l int) line {
	p := st.Plan
	v := line{ID: p.Lines[l].ID}
	for i := range st.Systems {
		x := &st.Systems[i]
		if x.Line != l {
			continue
		}
		v.Missed = x.MissedSays
		v.Systems = append(v.Systems, systemView{x.System.String(), fmt.Sprint(x.Reads), fmt.Sprint(x.Tags), fmt.Sprint(x.Passings), percent(x.SeenOfAll),
			x.First.Clock(p.Zone), x.Last.Clock(p.Zone), fmt.Sprint(x.BadLines), fmt.Sprint(x.Repeated)})
	}
	v.Chart = missChart(st, l)
	return v
}

func percent(f float64) string {
	if math.IsNaN(f) {
		return "–"
	}
	return fmt.Sprintf("%.1f %%", 100*f)
}

// fillView is what one line's times rest on where main has none.
func fillView(st *race.State, l int) fill {
	f := fill{Line: st.Plan.Lines[l].ID}
	var pm []float64
	for i := range st.Results {
		x := st.Results[i]
		for _, k := range x.Filled {
			if k < 0 || x.Passings[k].Line != l {
				continue
			}
			switch q := &x.Passings[k]; q.From {
			case race.FromBackup:
				pm = append(pm, q.PlusMinus.Seconds())
			case race.FromHand:
				f.FromHand++
			case race.FromRuling:
				f.Rulings++
			}
		}
	}
	sort.Float64s(pm)
	f.N = len(pm)
	if f.N > 0 {
		f.Middle, f.Widest = fmt.Sprintf("±%.2f s", pm[f.N/2]), fmt.Sprintf("±%.2f s", pm[f.N-1])
	}
	return f
}

func clockViews(st *race.State) []clockView {
	var out []clockView
	for i := 0; i < len(st.Clocks); {
		j := i
		for j < len(st.Clocks) && st.Clocks[j].Source == st.Clocks[i].Source {
			j++
		}
		s := st.Clocks[i].Source
		out = append(out, clockView{st.Plan.Lines[st.Clocks[i].Line].ID, st.Plan.Logs[s].System.String(), st.Clocks[i].Says, st.Clocks[i:j], residualChart(st, s)})
		i = j
	}
	return out
}

// waves tells, by wave, how many passings of athletes on the course no system saw: a split
// that a later one follows.
func waves(st *race.State) []waveView {
	var out []waveView
	for w := range st.Plan.Waves {
		passed, missed := 0, 0
		for i := range st.Results {
			x := st.Results[i]
			if x.Wave != w {
				continue
			}
			later := false
			for s := len(x.Filled) - 1; s >= 0; s-- {
				switch {
				case x.Filled[s] >= 0:
					passed++
					later = true
				case later:
					missed++
				}
			}
		}
		v := waveView{st.Plan.Waves[w].ID, fmt.Sprint(passed), fmt.Sprint(missed), "–"}
		if passed+missed > 0 {
			v.Share = fmt.Sprintf("%.2f %%", 100*float64(missed)/float64(passed+missed))
		}
		out = append(out, v)
	}
	return out
}
