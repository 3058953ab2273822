package invent

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// The shape of truth/plan.json.
type truthPlan struct {
	Scenario   string       `json:"scenario"`
	Seed       uint64       `json:"seed"`
	Title      string       `json:"title"`
	Date       string       `json:"date"`
	Timezone   string       `json:"timezone"`
	Athletes   int          `json:"athletes"`
	Official   string       `json:"official_clock"`
	Rounding   string       `json:"rounding"`
	Resolution float64      `json:"resolution_s"`
	Limit      float64      `json:"time_limit_s,omitempty"`
	Course     string       `json:"course"`
	Start      string       `json:"start_split"`
	Finish     string       `json:"finish_split"`
	Laps       bool         `json:"laps"`
	Splits     []truthSplit `json:"splits"`
	Lines      []truthLine  `json:"lines"`
	Waves      []truthWave  `json:"waves"`
}

type truthSplit struct {
	ID       string  `json:"id"`
	Line     string  `json:"line"`
	At       float64 `json:"at_m"`
	Required bool    `json:"required"`
}

type truthLine struct {
	ID        string   `json:"id"`
	Keep      string   `json:"keep"`
	Window    float64  `json:"window_s"`
	Tolerance float64  `json:"tolerance_s"`
	Systems   []string `json:"systems"`
}

type truthWave struct {
	ID  string `json:"id"`
	Gun string `json:"gun"`
}

// truthPlan tells the plan as the scorer wants it: the splits of all courses in one list, a
// wave for everyone who has a gun of their own.
func (r *Race) truthPlan() truthPlan {
	c := &r.courses[0]
	p := truthPlan{Scenario: r.Kind, Seed: r.Seed, Title: r.Title, Date: r.Date, Timezone: r.zone.String(), Athletes: r.size, Official: r.official,
		Rounding: r.rounding, Resolution: r.resolve, Limit: seconds(c.timeLimit), Course: c.id, Laps: c.lap > 0}
	if c.start() == 0 {
		p.Start = c.marks[0].id
	}
	if !c.ranksByLaps() {
		p.Finish = c.marks[c.finish()].id
	}
	known := map[string]bool{}
	for k := range r.courses {
		for _, m := range r.courses[k].marks {
			if !known[m.id] {
				known[m.id] = true
				p.Splits = append(p.Splits, truthSplit{m.id, r.lines[m.line].id, m.at, m.required})
			}
		}
	}
	// The finish stands last, whichever course brought it.
	if at := slices.IndexFunc(p.Splits, func(s truthSplit) bool { return s.ID == p.Finish }); at >= 0 {
		last := p.Splits[at]
		p.Splits = append(slices.Delete(p.Splits, at, at+1), last)
	}
	for l := range r.lines {
		window := cmp.Or(r.lines[l].window, r.window)
		t := truthLine{ID: r.lines[l].id, Keep: r.keepOf(l), Window: inSeconds(window), Tolerance: r.tolerance(l)}
		for _, g := range r.lines[l].logs {
			t.Systems = append(t.Systems, systemNames[g.system])
		}
		p.Lines = append(p.Lines, t)
	}
	for _, w := range r.waves {
		p.Waves = append(p.Waves, truthWave{w.id, r.stamp(w.gun)})
	}
	for i := range r.people {
		if x := &r.people[i]; x.own != 0 {
			p.Waves = append(p.Waves, truthWave{r.waveLabel(x), r.stamp(x.own)})
		}
	}
	return p
}

// counts is what each file holds.
func (r *Race) counts() ([]count, error) {
	var out []count
	for l := range r.lines {
		for k := range r.lines[l].logs {
			p := &r.lines[l].logs[k]
			if p.soil != "" {
				_, cs, err := r.soiled(p)
				if err != nil {
					return nil, err
				}
				out = append(out, cs...)
				continue
			}
			c := count{path: p.path, form: p.form, line: l, system: p.system}
			if err := r.each(p, func(*stamped) error { c.reads++; return nil }); err != nil {
				return nil, err
			}
			c.lines = c.reads
			if c.reads > 0 && headers[p.form] != "" && !p.continues {
				c.lines++
			}
			out = append(out, c)
		}
	}
	return out, nil
}

func (r *Race) writeCounts(dir string, counts []count) error {
	t, err := newTable(dir, "logs.csv", logColumns)
	if err != nil {
		return err
	}
	for _, c := range counts {
		row := []string{r.lines[c.line].id, systemNames[c.system], c.path, c.form}
		for _, n := range []int{c.lines, c.reads, c.badMin, c.badMax, c.repMin, c.repMax} {
			row = append(row, strconv.Itoa(n))
		}
		if err := t.row(append(row, c.note)...); err != nil {
			return err
		}
	}
	return t.close()
}

// tooClose notes neighbours among the first ten of a course whose times the chips can't tell apart.
func (r *Race) tooClose(vs []verdict) {
	type one struct {
		person int
		time   int64
		sure   bool
	}
	for c := range r.courses {
		if r.courses[c].ranksByLaps() {
			continue
		}
		var all []one
		for i := range vs {
			v, p := &vs[i], &r.people[i]
			if !v.finisher || v.finish.systems[mainSystem].first == 0 || r.waves[p.wave].course != c {
				continue
			}
			t := v.finish.systems[mainSystem].kept(r.keepOf(v.finish.line)) - r.gun(p)
			if r.official == "net" && v.start != nil {
				t = v.finish.systems[mainSystem].kept(r.keepOf(v.finish.line)) - v.start.systems[mainSystem].kept(r.keepOf(v.start.line))
			}
			all = append(all, one{i, t, v.state == "clean" && v.finish.systems[mainSystem].seen && (v.start == nil || v.start.systems[mainSystem].seen)})
		}
		slices.SortStableFunc(all, func(a, b one) int { return cmp.Compare(a.time, b.time) })
		for k := 1; k < min(10, len(all)); k++ {
			a, b := all[k-1], all[k]
			d := seconds(b.time - a.time)
			if d >= r.resolve {
				continue
			}
			must := "no"
			if d < .8*r.resolve && a.sure && b.sure {
				must = "yes"
			}
			split := r.courses[c].marks[r.courses[c].finish()].id
			r.note(trouble{kind: "too-close", bibs: []int{r.people[a.person].bib, r.people[b.person].bib}, line: -1, split: split, must: must,
				note: fmt.Sprintf("%d ms apart", int(math.Round(d*1000)))})
		}
	}
}

// script is rulings.sh.
func (r *Race) script() string {
	var b strings.Builder
	b.WriteString(scriptHead)
	for _, s := range r.desk {
		b.WriteString("rule " + s + "\n")
	}
	for _, s := range r.later {
		b.WriteString(s + "\n")
	}
	b.WriteString(scriptTail)
	return b.String()
}

const scriptHead = `#!/bin/bash
# Rules what someone who knows the whole truth would rule.
#   RACE=folder [TWINMAT=program] bash rulings.sh
# Leaves with 0 when every ruling was taken, else with 1.
set -u
: "${RACE:?set RACE to the race folder}"
program=${TWINMAT:-twinmat}
ok=0 no=0 none=0 out=

rule() {
  if $program rule "$RACE" "$@" >/dev/null; then ok=$((ok + 1)); return; fi
  no=$((no + 1))
  echo "not taken: $*" >&2
}

# accept KIND BIB SPLIT TAG WHY takes every open suspect that fits; an empty word fits all.
# They are looked up in an export made after the rulings before.
accept() {
  local ids
  if [ -z "$out" ]; then
    out=$(mktemp -d)
    trap 'rm -rf "$out"' EXIT
    $program export "$RACE" --out "$out" >/dev/null || echo "no export" >&2
  fi
  ids=$(awk -F, -v kind="$1" -v bib="$2" -v mark="$3" -v tag="$4" '
    NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
    $at["kind"] != kind || $at["status"] != "open" { next }
    bib != "" && $at["bib"] != bib { next }
    mark != "" && $at["split"] != "" && $at["split"] != mark { next }
    tag != "" && $at["tag"] != tag { next }
    { print $at["id"] }' "$out/suspects.csv" 2>/dev/null)
  [ -n "$ids" ] || none=$((none + 1))
  for id in $ids; do rule accept --suspect "$id" --why "$5"; done
}

`

const scriptTail = `
echo "rulings: $ok taken, $no not; $none times there was nothing to accept" >&2
[ "$no" -eq 0 ]
`
