package invent

import (
	"bufio"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// The columns of the truth's tables, as the scorer of the shared races reads them.
var (
	passingColumns = []string{"bib", "line", "split", "crossing", "main_first", "main_strongest", "main_last", "main_seen", "backup_seen",
		"hand_seen", "keep", "speed_mps", "main_err_s", "backup_first", "backup_strongest", "backup_last", "tag_bib", "real", "strongest_ties", "note"}
	athleteColumns = []string{"bib", "state", "finish_at", "gun_s", "net_s", "state_after", "finisher", "course", "wave", "listed", "identity",
		"laps", "finish_split", "note"}
	anomalyColumns = []string{"kind", "bibs", "tag", "line", "split", "note", "also", "must"}
	clockColumns   = []string{"line", "system", "from", "to", "offset_s", "drift_ppm", "behind_m", "stepped", "step_by_s"}
	systemColumns  = []string{"line", "passings", "missed_by_all", "main_seen", "backup_seen", "both_seen", "main_reads", "backup_reads"}
	logColumns     = []string{"line", "system", "file", "form", "lines", "reads", "bad_min", "bad_max", "repeated_min", "repeated_max", "note"}
)

// tally is what systems.csv says of a line.
type tally struct{ passings, missed, main, backup, both int }

// table is a CSV file in the writing.
type table struct {
	f *os.File
	b *bufio.Writer
	w *csv.Writer
}

func newTable(dir, name string, columns []string) (*table, error) {
	f, err := os.Create(filepath.Join(dir, name))
	if err != nil {
		return nil, err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	t := &table{f, b, csv.NewWriter(b)}
	return t, t.w.Write(columns)
}

func (t *table) row(cells ...string) error { return t.w.Write(cells) }

func (t *table) close() error {
	t.w.Flush()
	return cmp.Or(t.w.Error(), t.b.Flush(), t.f.Close())
}

// WriteTruth writes what truly happened, and rulings.sh with what a person who knew it all
// would rule.
func (r *Race) WriteTruth(dir string) error {
	// What the crossings themselves give to find is added for the writing and taken off again.
	trouble, desk, later := r.trouble, r.desk, r.later
	defer func() { r.trouble, r.desk, r.later = trouble, desk, later }()
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	if err := r.writePlanJSON(filepath.Join(dir, "plan.json")); err != nil {
		return err
	}
	counts, err := r.counts()
	if err != nil {
		return err
	}
	tallies, err := r.writePeople(dir)
	if err != nil {
		return err
	}
	for _, write := range []func() error{
		func() error { return r.writeAnomalies(dir) },
		func() error { return r.writeClocks(dir) },
		func() error { return r.writeSystems(dir, tallies, counts) },
		func() error { return r.writeCounts(dir, counts) },
		func() error { return os.WriteFile(filepath.Join(dir, "rulings.sh"), []byte(r.script()), 0o777) },
	} {
		if err := write(); err != nil {
			return err
		}
	}
	return nil
}

// writePeople writes passings.csv and athletes.csv.
func (r *Race) writePeople(dir string) ([]tally, error) {
	pt, err := newTable(dir, "passings.csv", passingColumns)
	if err != nil {
		return nil, err
	}
	tallies := make([]tally, len(r.lines))
	own := make([][]row, len(r.people))
	shown := make([][]row, len(r.people))
	err = r.rows(func(i int, rows []row) error {
		r.look(i, rows)
		for _, w := range rows {
			if err := pt.row(r.passingRow(&w)...); err != nil {
				return err
			}
			t := &tallies[w.line]
			t.add(&w)
			w.ties = nil
			own[w.person] = append(own[w.person], w)
			for _, s := range w.sees {
				shown[s] = append(shown[s], w)
			}
		}
		return nil
	})
	if err = cmp.Or(err, pt.close()); err != nil {
		return nil, err
	}
	at, err := newTable(dir, "athletes.csv", athleteColumns)
	if err != nil {
		return nil, err
	}
	verdicts := make([]verdict, len(r.people))
	for i := range r.people {
		verdicts[i] = r.judge(own[i], shown[i], i)
		if err := at.row(r.verdictRow(i, &verdicts[i])...); err != nil {
			return nil, err
		}
	}
	r.tooClose(verdicts)
	return tallies, at.close()
}

func (t *tally) add(w *row) {
	t.passings++
	if !w.any() {
		t.missed++
	}
	if w.systems[mainSystem].seen {
		t.main++
	}
	if w.systems[backupSystem].seen {
		t.backup++
		if w.systems[mainSystem].seen {
			t.both++
		}
	}
}

func (r *Race) passingRow(w *row) []string {
	c := &r.courses[r.people[w.person].ranOn]
	split := ""
	if w.split >= 0 {
		split = c.marks[w.split].id
	}
	var sees, ties []string
	for _, s := range w.sees {
		sees = append(sees, r.people[s].label())
	}
	keep := r.keepOf(w.line)
	if keep == "strongest" {
		for _, t := range w.ties {
			ties = append(ties, r.stamp(t))
		}
	}
	m, b := &w.systems[mainSystem], &w.systems[backupSystem]
	cells := []string{r.people[w.person].label(), r.lines[w.line].id, split, r.stamp(w.at), r.stamp(m.first), r.stamp(m.strongest), r.stamp(m.last),
		strconv.FormatBool(m.seen), strconv.FormatBool(b.seen), strconv.FormatBool(w.hand), keep, decimals(w.speed, 2), decimals(seconds(w.jumped), 3)}
	if r.lines[w.line].log(backupSystem) != nil {
		cells = append(cells, r.stamp(b.first), r.stamp(b.strongest), r.stamp(b.last))
	} else {
		cells = append(cells, "", "", "")
	}
	return append(cells, strings.Join(sees, " "), strconv.FormatBool(w.real), strings.Join(ties, " "), notes[w.note])
}

func (r *Race) verdictRow(i int, v *verdict) []string {
	p := &r.people[i]
	finish, gun, net, split := "", "", "", ""
	if v.finisher {
		finish, gun = r.stamp(v.finish.at), decimals(seconds(v.finish.at-r.gun(p)), 3)
		net = gun
		if v.start != nil {
			net = decimals(seconds(v.finish.at-v.start.at), 3)
		}
		split = r.courses[p.ranOn].marks[v.finish.split].id
	}
	return []string{p.label(), v.state, finish, gun, net, v.after, strconv.FormatBool(v.finisher), r.courses[p.ranOn].id, r.waveLabel(p),
		strconv.FormatBool(p.listed), p.identity, strconv.Itoa(v.laps), split, p.note}
}

// waveLabel is a person's wave; where each has a gun of their own, the truth has a wave for each.
func (r *Race) waveLabel(p *person) string {
	if p.own != 0 {
		return r.waves[p.wave].id + "/" + p.label()
	}
	return r.waves[p.wave].id
}

func decimals(x float64, n int) string { return strconv.FormatFloat(x, 'f', n, 64) }

func (r *Race) writeAnomalies(dir string) error {
	t, err := newTable(dir, "anomalies.csv", anomalyColumns)
	if err != nil {
		return err
	}
	rows := slices.Clone(r.trouble)
	slices.SortStableFunc(rows, func(a, b trouble) int { return strings.Compare(a.kind, b.kind) })
	for _, a := range rows {
		var bibs []string
		for _, b := range a.bibs {
			bibs = append(bibs, strconv.Itoa(b))
		}
		line := ""
		if a.line >= 0 {
			line = r.lines[a.line].id
		}
		if err := t.row(a.kind, strings.Join(bibs, " "), a.tag, line, a.split, a.note, strings.Join(a.also, " "), a.must); err != nil {
			return err
		}
	}
	return t.close()
}

// writeClocks tells each log's clock against main's, a row for each stretch between jumps.
func (r *Race) writeClocks(dir string) error {
	t, err := newTable(dir, "clocks.csv", clockColumns)
	if err != nil {
		return err
	}
	for l := range r.lines {
		m := r.lines[l].log(mainSystem)
		vs := r.visits[l]
		if m == nil || len(vs) == 0 {
			continue
		}
		for _, s := range []int{backupSystem, handSystem} {
			g := r.lines[l].log(s)
			if g == nil {
				continue
			}
			from, stepped, by := vs[0].at, "", ""
			behind := decimals(r.behindAt(l), 2)
			if s == handSystem {
				behind = "0.00"
			}
			write := func(to int64) error {
				mid := from + (to-from)/2
				off := seconds(g.clock.shows(mid) - m.clock.shows(mid))
				return t.row(r.lines[l].id, systemNames[s], r.stamp(from), r.stamp(to), decimals(off, 4), decimals(g.clock.ppm-m.clock.ppm, 1), behind, stepped, by)
			}
			for k, clocks := range [2]*clock{&m.clock, &g.clock} {
				for _, j := range clocks.jumps {
					if err := write(j.at); err != nil {
						return err
					}
					from, stepped, by = j.at, systemNames[[2]int{mainSystem, s}[k]], fmt.Sprintf("%+.3f", j.by)
				}
			}
			if err := write(vs[len(vs)-1].at); err != nil {
				return err
			}
		}
	}
	return t.close()
}

// behindAt is how far backup's antenna is past main's, over all the directions of a line's splits.
func (r *Race) behindAt(l int) float64 {
	sum, n := 0.0, 0.0
	for c := range r.courses {
		for _, m := range r.courses[c].marks {
			if m.line == l {
				sum += m.dir * r.lines[l].behind
				n++
			}
		}
	}
	return sum / max(1, n)
}

func (r *Race) writeSystems(dir string, tallies []tally, counts []count) error {
	t, err := newTable(dir, "systems.csv", systemColumns)
	if err != nil {
		return err
	}
	for l, y := range tallies {
		var reads [3]int
		for _, c := range counts {
			if c.line == l {
				reads[c.system] += c.reads
			}
		}
		row := []string{r.lines[l].id}
		for _, n := range []int{y.passings, y.missed, y.main, y.backup, y.both, reads[0], reads[1]} {
			row = append(row, strconv.Itoa(n))
		}
		if err := t.row(row...); err != nil {
			return err
		}
	}
	return t.close()
}

func (r *Race) writePlanJSON(path string) error {
	b, err := json.MarshalIndent(r.truthPlan(), "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, append(b, '\n'), 0o666)
}
