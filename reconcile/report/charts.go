package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// The charts are drawn as SVG in the page itself, in its own colours, so that they follow
// light and dark and print as they are.
const (
	chartW, chartH = 640, 140
	mostPoints     = 1500
	slots          = 48 // bars over the time that a line was in use
)

// residualChart draws each pair's distance from the fitted clock over time, what was
// rejected apart, a mark where the clock stepped.
func residualChart(st *race.State, source int) template.HTML {
	ps := st.Points[source]
	if len(ps) < 2 {
		return ""
	}
	step := max(1, len(ps)/mostPoints)
	var abs []float64
	for _, p := range ps {
		if p.Weight > 0 {
			abs = append(abs, math.Abs(p.Residual))
		}
	}
	slices.Sort(abs)
	top := 0.1
	if len(abs) > 0 {
		top = math.Max(top, 1.2*abs[len(abs)-1])
	}
	from, to := ps[0].At, ps[len(ps)-1].At
	x := func(t race.Instant) float64 { return 40 + 590*float64(t-from)/math.Max(1, float64(to-from)) }
	y := func(r float64) float64 { return 70 - 55*math.Max(-1, math.Min(1, r/top)) }
	var b strings.Builder
	open(&b, fmt.Sprintf("residuals of %d pairs over time, in seconds", len(ps)))
	fmt.Fprintf(&b, `<line class="axis" x1="40" x2="630" y1="70" y2="70"/><text x="2" y="22">%+.2f s</text><text x="2" y="128">%+.2f s</text>`, top, -top)
	for i := 0; i < len(ps); i += step {
		class := "dot"
		if ps[i].Weight == 0 {
			class = "out"
		}
		fmt.Fprintf(&b, `<circle class="%s" cx="%.1f" cy="%.1f" r="1.6"/>`, class, x(ps[i].At), y(ps[i].Residual))
	}
	first := true
	for _, c := range st.Clocks {
		if c.Source != source {
			continue
		}
		if !first {
			fmt.Fprintf(&b, `<line class="step" x1="%.1f" x2="%.1f" y1="10" y2="130"/>`, x(c.From), x(c.From))
		}
		first = false
	}
	ends(&b, st, from, to)
	return template.HTML(b.String())
}

// missChart draws, over time, the passings at a line: those main saw, those that backup or a
// hand filled.
func missChart(st *race.State, l int) template.HTML {
	from, to := race.Instant(math.MaxInt64), race.NoInstant
	visit := func(f func(q *race.Passing)) {
		for i := range st.Results {
			for _, k := range st.Results[i].Filled {
				if k >= 0 && st.Results[i].Passings[k].Line == l {
					f(&st.Results[i].Passings[k])
				}
			}
		}
	}
	visit(func(q *race.Passing) { from, to = min(from, q.At), max(to, q.At) })
	if !to.Known() || to <= from {
		return ""
	}
	var mains, fills [slots]int
	top := 1
	visit(func(q *race.Passing) {
		s := min(slots-1, int(int64(slots)*int64(q.At-from)/int64(to-from)))
		if q.From == race.FromMain {
			mains[s]++
		} else {
			fills[s]++
		}
		top = max(top, mains[s]+fills[s])
	})
	var b strings.Builder
	open(&b, "passings over time: main's, and above them those that were filled")
	w := 590.0 / slots
	for s := range slots {
		m, f := 110*float64(mains[s])/float64(top), 110*float64(fills[s])/float64(top)
		if m > 0 {
			fmt.Fprintf(&b, `<rect class="main" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, 40+w*float64(s), 125-m, w-1, m)
		}
		if f > 0 {
			fmt.Fprintf(&b, `<rect class="fill" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, 40+w*float64(s), 125-m-f, w-1, f)
		}
	}
	fmt.Fprintf(&b, `<text x="2" y="22">%d</text><line class="axis" x1="40" x2="630" y1="125" y2="125"/>`, top)
	ends(&b, st, from, to)
	return template.HTML(b.String())
}

func open(b *strings.Builder, label string) {
	fmt.Fprintf(b, `<svg viewBox="0 0 %d %d" role="img" aria-label="%s">`, chartW, chartH, template.HTMLEscapeString(label))
}

func ends(b *strings.Builder, st *race.State, from, to race.Instant) {
	fmt.Fprintf(b, `<text x="40" y="139">%s</text><text x="630" y="139" text-anchor="end">%s</text></svg>`, from.Clock(st.Plan.Zone), to.Clock(st.Plan.Zone))
}
