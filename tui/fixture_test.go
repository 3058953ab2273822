package tui

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"twinmat/reconcile/race"
)

var gunAt = race.Of(time.Date(2026, 5, 17, 8, 0, 0, 0, time.UTC))

var fixtureZone = time.FixedZone("WEST", 3600)

// fixture is an invented race of n athletes in mid-course, made by hand: what each screen
// needs is in it, with names that try the cells.
func fixture(n int) *race.State {
	p := &race.Plan{Name: "Reedholm Ten", Zone: fixtureZone, Date: time.Date(2026, 5, 17, 0, 0, 0, 0, fixtureZone), Resolution: 200}
	for i, id := range []string{"start", "turn", "finish"} {
		p.Lines = append(p.Lines, race.Line{ID: id, Keep: race.KeepFirst, Logs: []int{2 * i, 2*i + 1}})
		p.Logs = append(p.Logs, race.Log{Line: i, System: race.Main, Path: "logs/" + id + "-main.csv"},
			race.Log{Line: i, System: race.Backup, Path: "logs/" + id + "-backup.csv", Offset: race.Offset{Auto: true}})
	}
	for i, id := range []string{"ten", "five"} {
		p.Courses = append(p.Courses, race.Course{ID: id, Sport: "run", Splits: []race.Split{
			{ID: "start", Line: 0, Sport: "run"}, {ID: "turn", Line: 1, At: 5000 - 2500*float64(i), Required: true, Sport: "run"},
			{ID: "finish", Line: 2, At: 10000 - 5000*float64(i), Required: true, Sport: "run"}}})
		p.Waves = append(p.Waves, race.Wave{ID: string(rune('A' + i)), Course: i, Gun: gunAt.Add(race.Millis(i) * 600000)})
	}
	p.Waves = append(p.Waves, race.Wave{ID: "C", Course: 1, Gun: race.NoInstant})
	s := &race.State{Plan: p, Now: gunAt.Add(47 * 60000), ByBib: map[string]int{}, Undone: map[int]int{}, Closed: make([]bool, 2)}
	for i := range n {
		s.ByBib[fmt.Sprint(i+1)] = i
		r, expected := fixtureAthlete(p, i, s.Now)
		s.Results, s.Expected = append(s.Results, r), append(s.Expected, expected)
	}
	fixtureRanks(s)
	fixtureCases(s)
	fixtureSystems(s)
	return s
}

var given = []string{"Ola", "Brin", "Caro", "Dagny", "Emre", "Fenna", "Gil", "Hanneke", "Ína", "Jo\u0301zef", "小林", "Nu\u0308r"}
var family = []string{"Aldertree", "Brackenford", "Corrieshaw", "Dunmere", "Eastling", "Fairholt", "Gorsefield-Thistlewood", "田中"}

func fixtureAthlete(p *race.Plan, i int, now race.Instant) (r *race.Result, expected race.Instant) {
	c := i % 2
	r = &race.Result{Athlete: race.Athlete{Bib: fmt.Sprint(i + 1), Name: given[i%len(given)] + " " + family[i/3%len(family)], Sex: []string{"f", "m"}[i/2%2],
		Category: []string{"20", "35", "50"}[i%3], Team: []string{"", "Marsh Harriers", "Quay Striders"}[i%3], Wave: c, Start: race.NoInstant},
		Listed: true, Course: c, Gun: p.Waves[c].Gun, Splits: p.Courses[c].Splits, Finish: -1, FinishAt: race.NoInstant, StartAt: race.NoInstant,
		GunTime: race.NoMillis, NetTime: race.NoMillis, Official: race.NoMillis, State: "unseen", Filled: []int{-1, -1, -1}}
	if i%53 == 52 {
		r.State = "dns"
		return r, race.NoInstant
	}
	speed := 5.2 - float64(i*7919%1000)/400 // metres a second: 2.7 to 5.2
	cross := func(k int) race.Instant {
		return r.Gun.Add(race.Millis(3000 + i%40*250)).Add(race.Millis(r.Splits[k].At / speed * 1000))
	}
	for k, sp := range r.Splits {
		at := cross(k)
		if at > now || k == 1 && i%37 == 5 {
			continue
		}
		r.Filled[k] = len(r.Passings)
		r.Passings = append(r.Passings, fixturePassing(p, sp.Line, k, at, i))
		r.LastSplit = sp.ID
		r.State = "running"
	}
	if k := r.Filled[0]; k >= 0 {
		r.StartAt = r.Passings[k].At
	}
	if k := r.Filled[2]; k >= 0 {
		q := &r.Passings[k]
		r.Finish, r.FinishAt, r.From, r.PM = 2, q.At, q.From, q.PlusMinus
		r.GunTime, r.NetTime = q.At.Sub(r.Gun), q.At.Sub(r.StartAt)
		r.Official = race.Rounding{Unit: 1000, Up: true}.Apply(r.GunTime)
		r.State = "clean"
	}
	if last, _ := r.Reached(); r.Finish < 0 && last >= 0 {
		return r, cross(last + 1)
	}
	return r, race.NoInstant
}

func fixturePassing(p *race.Plan, line, split int, at race.Instant, i int) race.Passing {
	q := race.Passing{Line: line, At: at, Split: split, Seen: [race.Systems]race.Instant{race.NoInstant, race.NoInstant, race.NoInstant}}
	for _, sys := range []race.System{race.Main, race.Backup} {
		if (i+int(sys)*3+split)%19 == 0 {
			continue
		}
		shift := race.Millis(int(sys) * 3217)
		seen := at.Add(race.Millis(int(sys) * (i%5 - 2) * 40))
		b := &race.Burst{Source: int32(2*line + int(sys)), First: seen.Add(shift), Peak: -480, Count: 9}
		b.SetStrongest(seen.Add(shift + 400))
		b.SetCentre(seen.Add(shift + 400))
		b.SetLast(seen.Add(shift + 800))
		var reads []race.Read
		for n := range 9 {
			reads = append(reads, race.Read{At: b.First.Add(race.Millis(n * 100)), RSSI: int16(-480 - 20*(n-4)*(n-4)), Line: uint32(n + 1)})
		}
		b.SetSeveral([]string{fmt.Sprintf("AB%06X", 4096+i)}, reads)
		q.Bursts[sys], q.Seen[sys], q.PM[sys] = b, seen, race.Millis(200+400*int(sys))
	}
	switch {
	case q.Bursts[race.Main] != nil:
		q.From, q.PlusMinus = race.FromMain, 200
	case q.Bursts[race.Backup] != nil:
		q.From, q.PlusMinus = race.FromBackup, 600
	}
	return q
}

// copied are the same results, to be changed.
func copied(of []*race.Result) []*race.Result {
	out := make([]*race.Result, len(of))
	for i, x := range of {
		y := *x
		y.Passings, y.Filled = slices.Clone(x.Passings), slices.Clone(x.Filled)
		out[i] = &y
	}
	return out
}

func fixtureRanks(s *race.State) {
	s.Ranks = make([]race.Ranks, len(s.Results))
	for c := range s.Plan.Courses {
		var in []int
		for i := range s.Results {
			if s.Results[i].Course == c && s.Results[i].Finish >= 0 {
				in = append(in, i)
			}
		}
		slices.SortFunc(in, func(a, b int) int { return int(s.Results[a].GunTime - s.Results[b].GunTime) })
		bySex := map[string]int32{}
		for n, i := range in {
			r := s.Results[i]
			bySex[r.Sex]++
			s.Ranks[i] = race.Ranks{All: int32(n + 1), Sex: bySex[r.Sex]}
		}
	}
}

func fixtureCases(s *race.State) {
	add := func(x race.Suspect) {
		if x.At == 0 {
			x.At = race.NoInstant
		}
		x.Evidence = x.ID + "/1"
		s.Suspects = append(s.Suspects, x)
		for _, b := range x.Holds {
			if i, ok := s.ByBib[b]; ok {
				r := s.Results[i]
				r.HeldFor = append(r.HeldFor, x.ID)
				if r.State == "clean" {
					r.State = "held"
				}
			}
		}
	}
	s.Strays = append(s.Strays, race.StrayTag{Tag: "AB00F77A", Reads: 31, Lines: []int{0, 1, 2}, First: gunAt, Last: gunAt.Add(2700000),
		Passings: []race.Passing{fixturePassing(s.Plan, 2, -1, gunAt.Add(2700000), 901)}})
	add(race.Suspect{Finding: &race.Finding{ID: "unassigned-chip:AB00F77A", Kind: race.UnassignedChip, Weight: race.Hold, Tag: "AB00F77A", Line: "finish", At: gunAt.Add(2700000),
		Says:     "31 reads of AB00F77A at start, turn, finish; nobody has it. Bib 14 is missing with that wave and pace.",
		Proposes: "assign-chip --tag AB00F77A --bib 14", Others: []string{"assign-chip --tag AB00F77A --bib 21", "ignore-chip --tag AB00F77A"}, Strong: true}, Urgency: 90})
	add(race.Suspect{Finding: &race.Finding{ID: "swapped:7+9", Kind: race.Swapped, Bibs: []string{"7", "9"}, Says: "7 and 9 both fit better exchanged: 21 against 3 times as likely.",
		Proposes: "swap-bibs --bib 7 --with 9"}, Urgency: 80})
	for i := range s.Results {
		if r := s.Results[i]; r.Filled[1] < 0 && r.Filled[2] >= 0 && len(s.Suspects) < 60 {
			add(race.Suspect{Finding: &race.Finding{ID: "missing-split:" + r.Bib + ":turn", Kind: race.MissingSplit, Weight: race.Hold, Bibs: []string{r.Bib}, Holds: []string{r.Bib}, Split: "turn",
				Says:     "No system read " + r.Bib + " at turn; from start to finish at the pace of the field: the mats missed it.",
				Proposes: "accept --suspect missing-split:" + r.Bib + ":turn", Others: []string{"set-status --bib " + r.Bib + " --status dsq"}, Strong: true}, Urgency: 50})
		}
	}
	add(race.Suspect{Finding: &race.Finding{ID: "clock-step:turn/backup@10:20", Kind: race.ClockStep, Weight: race.Hold, Line: "turn", At: gunAt.Add(1200000),
		Says: "Backup at turn jumped by 0.750 s at 10:20.", Proposes: "set-clock --line turn --stepped backup", Others: []string{"set-clock --line turn --stepped main"}}, Urgency: 95})
	add(race.Suspect{Finding: &race.Finding{ID: "overdue:30", Kind: race.Overdue, Bibs: []string{"30"}, Split: "finish", Says: "30 was last read at turn; expected 12 minutes ago.",
		Proposes: "set-status --bib 30 --status dnf"}, Urgency: 10})
	slices.SortStableFunc(s.Suspects, func(a, b race.Suspect) int { return b.Urgency - a.Urgency })
}

func fixtureSystems(s *race.State) {
	for i := range s.Plan.Logs {
		lg := &s.Plan.Logs[i]
		in := &race.Reads{Source: i, Files: []race.File{{Path: lg.Path}}}
		var tags []race.TagReads
		for k := range s.Results {
			for q := range s.Results[k].Passings {
				if b := s.Results[k].Passings[q].Bursts[lg.System]; b != nil && int(b.Source) == i {
					tags = append(tags, race.TagReads{Tag: b.Tags()[0], Reads: b.Reads(nil)})
					in.Kept += len(b.Reads(nil))
				}
			}
		}
		in.Tags = race.TagsOf(tags...)
		in.Lines = in.Kept + 2
		in.BadLines, in.Repeated = 1, 1
		in.Bad = []race.BadLine{{Line: 17, Why: "time \"25:01:02\" is past midnight; want hh:mm:ss", Text: "AB0010,25:01:02,1\x1b[31m"}}
		s.Inputs = append(s.Inputs, in)
		s.Systems = append(s.Systems, race.SystemRow{Line: lg.Line, System: lg.System, Sources: []int{i}, Reads: in.Kept, Tags: len(tags), Passings: len(tags),
			SeenOfAll: 0.947, First: gunAt, Last: s.Now, BadLines: 1, Repeated: 1, MissedByAll: 0.8, MissedSays: "from 12 that main alone and 9 that backup alone saw"})
		s.Sums.Lines += in.Lines
		s.Sums.Kept += in.Kept
		s.Sums.Bad++
		s.Sums.Repeated++
		var pts []race.ClockPoint
		if lg.System == race.Backup {
			for k := range 200 {
				pts = append(pts, race.ClockPoint{At: gunAt.Add(race.Millis(k * 14000)), Residual: math.Sin(float64(k)/9) * 0.05, Weight: float64(k % 11)})
			}
			s.Clocks = append(s.Clocks, race.ClockStretch{Line: lg.Line, Source: i, From: gunAt, To: s.Now, Offset: 3.217, DriftPPM: 9.4, Behind: 2.1,
				PlusMinus: 0.04, Spread: 0.05, Pairs: 200, Says: "runs 3.217 s ahead, gains 0.034 s an hour; stands 2.1 m behind"})
			if lg.Line == 1 {
				s.Clocks = append(s.Clocks, race.ClockStretch{Line: 1, Source: i, From: gunAt.Add(1200000), To: s.Now, Offset: 3.967, DriftPPM: 9.4, Behind: 2.1,
					PlusMinus: 0.05, Spread: 0.05, Pairs: 90, Says: "runs 3.967 s ahead, gains 0.034 s an hour; stands 2.1 m behind"})
			}
		}
		s.Points = append(s.Points, pts)
	}
	s.Sums.InPassings = s.Sums.Kept
}

// fakeDesk is a race that a test holds in its hands: rulings change it by rules simple
// enough to see through.
type fakeDesk struct {
	mu     sync.Mutex
	state  *race.State // guarded by mu
	refuse string
	ruled  []race.Ruling
	said   int // exports

	planned int // changed plans taken in
}

// State is a copy, as each state of a desk's is another: tests change their own.
func (d *fakeDesk) State() *race.State {
	d.mu.Lock()
	defer d.mu.Unlock()
	s, p := *d.state, *d.state.Plan
	p.Courses = slices.Clone(p.Courses)
	s.Plan, s.Results, s.Ranks = &p, copied(s.Results), slices.Clone(s.Ranks)
	return &s
}

func (d *fakeDesk) Parse(line string) (race.Ruling, error) {
	f := strings.Fields(line)
	if len(f) == 0 || !slices.Contains(race.RulingKinds, f[0]) {
		return race.Ruling{}, fmt.Errorf("%q is no kind of ruling", line)
	}
	r := race.Ruling{Rule: f[0]}
	to := map[string]*string{"--bib": &r.Bib, "--with": &r.With, "--tag": &r.Tag, "--line": &r.Line, "--split": &r.Split, "--system": &r.System, "--wave": &r.Wave,
		"--course": &r.Course, "--status": &r.Status, "--suspect": &r.Suspect, "--at": &r.Time, "--by": &r.Shift, "--stepped": &r.Stepped}
	for i := 1; i+1 < len(f); i += 2 {
		if f[i] == "--seq" {
			fmt.Sscan(f[i+1], &r.UndoneSeq)
			continue
		}
		p, ok := to[f[i]]
		if !ok {
			return r, fmt.Errorf("no flag %s", f[i])
		}
		*p = f[i+1]
	}
	return r, nil
}

func (d *fakeDesk) Words(r race.Ruling) string {
	var parts []string
	for _, v := range []string{r.Tag, r.Bib, r.With, r.Line, r.Split, r.System, r.Wave, r.Status, r.Suspect, r.Time, r.Stepped} {
		if v != "" {
			parts = append(parts, v)
		}
	}
	if r.UndoneSeq > 0 {
		parts = append(parts, fmt.Sprint(r.UndoneSeq))
	}
	return r.Rule + ": " + strings.Join(parts, " ")
}

// Preview makes each ruling in turn.
func (d *fakeDesk) Preview(rs ...race.Ruling) (before, after *race.State, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.refuse != "" {
		return nil, nil, fmt.Errorf("%s", d.refuse)
	}
	s := *d.state
	s.Suspects = slices.Clone(s.Suspects)
	s.Results, s.Ranks = copied(s.Results), slices.Clone(s.Ranks)
	s.Rulings = slices.Clone(s.Rulings)
	s.Undone = map[int]int{}
	maps.Copy(s.Undone, d.state.Undone)
	for _, r := range rs {
		rule(&s, r)
	}
	slices.SortStableFunc(s.Suspects, func(a, b race.Suspect) int { // as reconcile has them: the settled stand last
		switch {
		case a.Settled == b.Settled:
			return 0
		case a.Settled:
			return 1
		}
		return -1
	})
	return d.state, &s, nil
}

// rule settles the suspects that the ruling's bib, tag or id names, and sets a status.
func rule(s *race.State, r race.Ruling) {
	r.Seq = len(s.Rulings) + 1
	for i := range s.Suspects {
		x := &s.Suspects[i]
		if x.ID == r.Suspect || x.Tag != "" && x.Tag == r.Tag || r.Bib != "" && slices.Contains(x.Bibs, r.Bib) || r.Stepped != "" && x.Line == r.Line {
			x.Settled, x.SettledBy = true, r.Seq
			for _, b := range x.Holds {
				if y := s.Results[s.ByBib[b]]; y.State == "held" {
					y.State, y.HeldFor = "clean", nil
				}
			}
		}
	}
	if i, ok := s.ByBib[r.Bib]; ok && r.Rule == race.SetStatus {
		s.Results[i].State, s.Ranks[i] = r.Status, race.Ranks{}
	}
	if r.Rule == race.Undo {
		s.Undone[r.UndoneSeq] = r.Seq
		for i := range s.Suspects {
			if s.Suspects[i].SettledBy == r.UndoneSeq {
				s.Suspects[i].Settled, s.Suspects[i].SettledBy = false, 0
			}
		}
	}
	r.Made = "2026-05-17T09:47:00.000+01:00"
	s.Rulings = append(s.Rulings, r)
}

func (d *fakeDesk) Rule(r race.Ruling) (int, error) {
	_, s, err := d.Preview(r)
	if err != nil {
		return 0, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.state, d.ruled = s, append(d.ruled, r)
	return len(s.Rulings), nil
}

func (d *fakeDesk) Export() (string, error) {
	d.said++
	return "written to /races/reedholm/out: 230 clean, 4 held; 2 open suspects hold something; 3 cells differ from the export before", nil
}

func (d *fakeDesk) Since(*race.State) ([]string, bool, error) {
	if d.said == 0 {
		return nil, false, nil
	}
	return []string{"7", "12"}, true, nil
}

func (d *fakeDesk) Explain(bib string) []string {
	s := d.State()
	out := []string{"finish of " + bib + ": logs/finish-main.csv:31"}
	for i := range s.Rulings {
		if r := &s.Rulings[i]; r.Bib == bib {
			out = append(out, fmt.Sprintf("because of ruling %d", r.Seq))
		}
	}
	return out
}

func (d *fakeDesk) TakePlan() error {
	d.planned++
	return nil
}

func (d *fakeDesk) At(t race.Instant) (*race.State, error) {
	s := *d.State()
	s.Now = t
	return &s, nil
}
