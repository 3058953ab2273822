package suspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// gunTime is the first gun of the made races: 2026-05-17, 09:00 in Lisbon.
var gunTime = race.Of(time.Date(2026, 5, 17, 8, 0, 0, 0, time.UTC))

// made is a race made by hand: a half marathon over five lines, two waves ten minutes
// apart, everybody at their own pace with a little noise, read by main and backup alike.
type made struct {
	plan *race.Plan
	st   *race.State
	in   *Input
	t    testing.TB
}

func makeRace(t testing.TB, n int) *made {
	t.Helper()
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	p := &race.Plan{Name: "Made Half", Zone: lisbon, Resolution: 200, MaxSpeed: 12}
	c := race.Course{ID: "half", Sport: "run", Prizes: 10, Official: race.Official{Rounding: race.Roundings[1]}}
	for k, id := range []string{"start", "5k", "10k", "15k", "finish"} {
		p.Lines = append(p.Lines, race.Line{ID: id, Window: 5000, Tolerance: 1000, Logs: []int{2 * k, 2*k + 1}})
		for _, s := range []race.System{race.Main, race.Backup} {
			p.Logs = append(p.Logs, race.Log{Line: k, System: s, Path: fmt.Sprintf("logs/%s-%s.csv", id, s), From: race.NoInstant, To: race.NoInstant})
		}
		c.Splits = append(c.Splits, race.Split{ID: id, Line: k, At: []float64{0, 5000, 10000, 15000, 21097.5}[k], Sport: "run", Required: k > 0 && k < 4})
	}
	p.Courses = []race.Course{c}
	p.Waves = []race.Wave{{ID: "A", Gun: gunTime, Early: 2000}, {ID: "B", Gun: gunTime.Add(600000), Early: 2000}}
	m := &made{plan: p, st: &race.State{Plan: p, ByBib: map[string]int{}, Closed: []bool{false}}, t: t}
	m.in = &Input{State: m.st}
	g := rand.New(rand.NewPCG(7, 11))
	for i := range n {
		wave := i * 2 / n
		sex, cat := "m", "M"
		if i%3 == 0 {
			sex, cat = "f", "W"
		}
		r := &race.Result{Athlete: race.Athlete{Bib: fmt.Sprint(i + 1), Sex: sex, Category: cat, Wave: wave, Start: race.NoInstant}, Listed: true,
			Gun: p.Waves[wave].Gun, Splits: c.Splits, Filled: []int{-1, -1, -1, -1, -1}, State: "unseen", Finish: -1, StartAt: race.NoInstant,
			FinishAt: race.NoInstant, GunTime: race.NoMillis, NetTime: race.NoMillis, Official: race.NoMillis, PM: race.NoMillis}
		pace := 0.32 * math.Exp(0.14*g.NormFloat64()) // seconds a metre
		at := r.Gun.Add(race.Millis(500 + 90000*float64(i%(n/2+1))/float64(n/2+1)))
		for k := range c.Splits {
			if k > 0 {
				at = at.Add(race.Millis(1000 * (c.Splits[k].At - c.Splits[k-1].At) * pace * math.Exp(0.02*g.NormFloat64())))
			}
			r.Passings = append(r.Passings, passingAt(k, at, k))
			r.Filled[k] = k
		}
		m.st.ByBib[r.Bib] = i
		m.st.Results = append(m.st.Results, r)
		m.in.Chips = append(m.in.Chips, race.Chip{Tag: fmt.Sprintf("ABCD%08X", i*7919+13), Bib: r.Bib, From: race.NoInstant, To: race.NoInstant})
	}
	for i := range m.st.Results {
		m.settle(i)
	}
	return m
}

func passingAt(line int, at race.Instant, split int) race.Passing {
	p := race.Passing{Line: line, At: at, From: race.FromMain, PlusMinus: 200, Split: split, Fate: race.InSplit}
	for s := range p.Seen {
		p.Seen[s], p.PM[s] = race.NoInstant, race.NoMillis
	}
	for _, s := range []race.System{race.Main, race.Backup} {
		b := &race.Burst{Source: int32(2*line + int(s)), First: at, Count: 9, Peak: -500}
		b.SetLast(at.Add(900))
		b.SetStrongest(at.Add(400))
		p.Bursts[s] = b
		p.Seen[s], p.PM[s] = at, 200
	}
	return p
}

// settle works out state, finish and Now after a change.
func (m *made) settle(i int) {
	r := m.st.Results[i]
	r.Finish, r.FinishAt = -1, race.NoInstant
	if r.Filled[0] >= 0 {
		r.StartAt = r.Passings[r.Filled[0]].At
	}
	for _, k := range r.Filled {
		if k >= 0 {
			r.State = "running"
		}
	}
	if k := r.Filled[len(r.Filled)-1]; k >= 0 {
		p := &r.Passings[k]
		r.Finish, r.FinishAt, r.From, r.PM, r.State = len(r.Filled)-1, p.At, p.From, p.PlusMinus, "clean"
		r.GunTime, r.NetTime = p.At.Sub(r.Gun), p.At.Sub(r.StartAt)
		m.st.Now = max(m.st.Now, p.At)
	}
	if r.Status != "" {
		r.State = r.Status
	}
}

// miss takes splits away, as if no system had read them.
func (m *made) miss(bib string, splits ...int) {
	i := m.st.ByBib[bib]
	r := m.st.Results[i]
	var left []race.Passing
	for k := range r.Passings {
		if s := r.Passings[k].Split; s < 0 || !slices.Contains(splits, s) {
			left = append(left, r.Passings[k])
		}
	}
	r.Passings = left
	for s := range r.Filled {
		r.Filled[s] = -1
	}
	for k := range left {
		if s := left[k].Split; s >= 0 {
			r.Filled[s] = k
		}
	}
	m.settle(i)
}

// shift moves an athlete's passings from a split on.
func (m *made) shift(bib string, from int, d race.Millis) {
	i := m.st.ByBib[bib]
	r := m.st.Results[i]
	for k := range r.Passings {
		p := &r.Passings[k]
		if p.Split < from {
			continue
		}
		p.At = p.At.Add(d)
		for s := range p.Seen {
			p.Seen[s] = p.Seen[s].Add(d)
		}
	}
	m.settle(i)
}

// add gives an athlete a passing that fills nothing.
func (m *made) add(bib string, line int, at race.Instant, fate race.Fate) {
	i := m.st.ByBib[bib]
	r := m.st.Results[i]
	p := passingAt(line, at, -1)
	p.Fate = fate
	r.Passings = append(r.Passings, p)
	slices.SortStableFunc(r.Passings, func(a, b race.Passing) int { return int(a.At - b.At) })
	for k := range r.Passings {
		if s := r.Passings[k].Split; s >= 0 {
			r.Filled[s] = k
		}
	}
	m.settle(i)
}

func (m *made) result(bib string) *race.Result { return m.st.Results[m.st.ByBib[bib]] }

// stray makes an unknown tag of a bib's passings and takes them from the bib.
func (m *made) stray(bib, tag string) {
	r := m.result(bib)
	x := race.StrayTag{Tag: tag, First: r.Passings[0].At, Last: r.Passings[len(r.Passings)-1].At, Passings: slices.Clone(r.Passings)}
	for k := range x.Passings {
		x.Passings[k].Split = -1
		x.Lines = append(x.Lines, x.Passings[k].Line)
		x.Reads += 18
	}
	m.st.Strays = append(m.st.Strays, x)
	r.Passings, r.State = nil, "unseen"
	for s := range r.Filled {
		r.Filled[s] = -1
	}
	r.Finish, r.FinishAt, r.StartAt = -1, race.NoInstant, race.NoInstant
}

func (m *made) find() []race.Suspect {
	s := Begin(m.in).Find()
	Order(m.in, s)
	return s
}

// one finds a suspect by id and fails without it.
func (m *made) one(id string) race.Suspect {
	m.t.Helper()
	var ids []string
	for _, s := range m.find() {
		if s.ID == id {
			checkForm(m.t, s)
			return s
		}
		ids = append(ids, s.ID)
	}
	m.t.Fatalf("no %s among %s", id, strings.Join(ids, " "))
	return race.Suspect{Finding: &race.Finding{}}
}

// none fails when a suspect of a kind is there.
func (m *made) none(kinds ...string) {
	m.t.Helper()
	for _, s := range m.find() {
		if slices.Contains(kinds, s.Kind) {
			m.t.Errorf("%s: %s", s.ID, s.Says)
		}
	}
}

// checkForm holds what every suspect owes its reader.
func checkForm(t testing.TB, s race.Suspect) {
	t.Helper()
	if s.Says == "" || s.Evidence == "" || s.Proposes == "" {
		t.Errorf("%s lacks evidence or proposal: %+v", s.ID, s)
	}
	if strings.Contains(s.Says, "NaN") || strings.Contains(s.Says, "Inf") || strings.Contains(s.Says, "%!") {
		t.Errorf("%s says %q", s.ID, s.Says)
	}
	if !strings.HasPrefix(s.ID, s.Kind+":") {
		t.Errorf("%s is of kind %s", s.ID, s.Kind)
	}
	for _, p := range append([]string{s.Proposes}, s.Others...) {
		if kind, _, _ := strings.Cut(p, " "); !slices.Contains(race.RulingKinds, kind) {
			t.Errorf("%s proposes %q, which is no ruling", s.ID, p)
		}
		if strings.Contains(p, "--at  ") || strings.HasSuffix(p, "--at ") {
			t.Errorf("%s proposes %q, without its moment", s.ID, p)
		}
	}
	if s.Weight == race.Look && len(s.Holds) > 0 {
		t.Errorf("%s is only worth a look and holds %v", s.ID, s.Holds)
	}
}

// count is how many suspects of a kind are told.
func (m *made) count(kind string) int {
	n := 0
	for _, s := range m.find() {
		if s.Kind == kind {
			n++
		}
	}
	return n
}
