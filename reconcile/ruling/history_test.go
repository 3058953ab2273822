package ruling

import (
	"encoding/json"
	"fmt"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"twinmat/reconcile/race"
)

// history is a race's rulings as they are made, taken back, put in force again and read
// again after a restart.
type history struct {
	p        *race.Plan
	athletes []race.Athlete
	chips    []race.Chip
	rs       []race.Ruling
}

func (h *history) fold() *Effects { return Fold(h.p, h.athletes, h.chips, h.rs) }

// in is what rulings do, without the record of who did what.
func in(f *Effects) Effects {
	g := *f
	g.Undone, g.ByBib, g.Idle = nil, nil, nil
	return g
}

// stands tells by the definition whether a ruling is in force: no undo of it that is.
func (h *history) stands(seq int) bool {
	for i := range h.rs {
		if x := &h.rs[i]; x.Rule == race.Undo && x.UndoneSeq == seq && x.Seq > seq && h.stands(x.Seq) {
			return false
		}
	}
	return true
}

// likely is a ruling that may well apply.
func likely(t *rapid.T, label string) string {
	pick := func(of ...string) string { return rapid.SampledFrom(of).Draw(t, label) }
	bib := func() string { return pick("1", "2", "3", "7", "8") }
	tag := func() string { return pick("AA01", "AA02", "AA03", "FF01") }
	at := func() string {
		return fmt.Sprintf("%02d:%02d:00", rapid.IntRange(8, 12).Draw(t, label), rapid.IntRange(0, 59).Draw(t, label))
	}
	switch pick(race.RulingKinds[:len(race.RulingKinds)-1]...) {
	case race.AssignChip:
		return "assign-chip --tag " + tag() + " --bib " + bib() + pick("", " --from 10:00:00", " --from 09:00:00 --to 10:00:00")
	case race.IgnoreChip:
		return "ignore-chip --tag " + tag() + pick("", " --tag FF01")
	case race.VoidReads:
		return "void-reads --line " + pick("start", "finish") + " --from 07:00:00 --to " + at()
	case race.AdjustTime:
		return "adjust-time --bib " + bib() + " --by " + pick("+2m", "-12.5s")
	case race.CloseCourse:
		return "close-course --course " + pick("half", "hours")
	case race.SwapBibs:
		return "swap-bibs --bib " + bib() + " --with " + bib()
	case race.SetGun:
		return "set-gun --wave " + pick("A", "B") + " --at " + at()
	case race.SetWave:
		return "set-wave --bib " + bib() + " --wave " + pick("A", "B", "H")
	case race.Witness:
		return "witness --bib " + bib() + " --line finish --at " + at()
	case race.SetTime:
		return "set-time --bib " + bib() + " --split " + pick("10k", "finish", "lap-2") + " --at " + at() + pick("", " --plus-minus 0.5")
	case race.UseSystem:
		return "use-system --bib " + bib() + " --split " + pick("10k", "finish", "lap-2") + " --system " + pick("main", "backup")
	case race.VoidPassing:
		return "void-passing --bib " + bib() + " --line finish --at " + at()
	case race.SetStatus:
		return "set-status --bib " + bib() + " --status " + pick("dns", "dnf", "dsq", "none")
	case race.SetClock:
		return "set-clock --line finish " + pick("--stepped main", "--stepped backup --right after", "--system backup --offset +3.217s", "--system backup --offset -1h --from 10:00:00")
	case race.AddAthlete:
		return "add-athlete --bib " + bib() + " --name New --wave " + pick("A", "B", "H")
	}
	return "accept --suspect " + pick("clash:1:finish", "overdue:2", "swapped:1+3")
}

// do makes a ruling if it can apply.
func (h *history) do(l string) bool {
	r, err := ParseLine(l, h.p)
	if err != nil {
		panic(l + ": " + err.Error())
	}
	r.Why, r.Seq = "why", len(h.rs)+1
	if Check(&r, h.p, h.athletes, h.rs, nil) != nil {
		return false
	}
	h.rs = append(h.rs[:len(h.rs):len(h.rs)], r)
	return true
}

// Random histories of rulings, undos, undos of undos and restarts: what is in force does
// exactly what it would by itself, a ruling taken back leaves everything as it was before it,
// and one put in force again does what it did.
func TestHistories(t *testing.T) {
	p := plan(t)
	athletes, chips := list(p)
	made, undone, refused := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		h := &history{p: p, athletes: athletes, chips: chips}
		t.Repeat(map[string]func(*rapid.T){
			"rule": func(t *rapid.T) {
				if h.do(likely(t, "rule")) {
					made++
				} else {
					refused++
				}
			},
			"rule and take it back": func(t *rapid.T) {
				before := in(h.fold())
				if !h.do(likely(t, "rule")) {
					refused++
					return
				}
				after := in(h.fold())
				n := len(h.rs)
				if !h.do(fmt.Sprintf("undo --seq %d", n)) {
					t.Fatal("an undo of the last ruling is refused")
				}
				if got := in(h.fold()); !reflect.DeepEqual(got, before) {
					t.Fatalf("taken back\n got %+v\nwant %+v", got, before)
				}
				undone++
				if rapid.Bool().Draw(t, "again") {
					if !h.do(fmt.Sprintf("undo --seq %d", n+1)) {
						t.Fatal("an undo of an undo is refused")
					}
					if got := in(h.fold()); !reflect.DeepEqual(got, after) {
						t.Fatalf("in force again\n got %+v\nwant %+v", got, after)
					}
				}
			},
			"undo any": func(t *rapid.T) {
				if len(h.rs) == 0 {
					t.Skip()
				}
				seq := rapid.IntRange(1, len(h.rs)).Draw(t, "seq")
				stood := h.stands(seq)
				if h.do(fmt.Sprintf("undo --seq %d", seq)) != stood {
					t.Fatalf("ruling %d stood: %v; its undo was taken: %v", seq, stood, !stood)
				}
				if stood {
					undone++
				}
			},
			"restart": func(t *rapid.T) {
				b, err := json.Marshal(h.rs)
				if err != nil {
					t.Fatal(err)
				}
				h.rs = nil
				if err := json.Unmarshal(b, &h.rs); err != nil {
					t.Fatal(err)
				}
			},
			"": func(t *rapid.T) {
				f := h.fold()
				var standing []race.Ruling
				for _, r := range h.rs {
					_, taken := f.Undone[r.Seq]
					if taken == h.stands(r.Seq) {
						t.Fatalf("ruling %d is undone: %v", r.Seq, taken)
					}
					if !taken && r.Rule != race.Undo {
						standing = append(standing, r)
					}
				}
				if got, want := in(f), in(Fold(p, athletes, chips, standing)); !reflect.DeepEqual(got, want) {
					t.Fatalf("\n got %+v\nwant %+v", got, want)
				}
			},
		})
	})
	t.Logf("%d rulings, %d taken back, %d refused", made, undone, refused)
}

func BenchmarkFold(b *testing.B) {
	p := plan(b)
	athletes := make([]race.Athlete, 50_000)
	for i := range athletes {
		athletes[i] = race.Athlete{Bib: fmt.Sprint(i + 1), Start: race.NoInstant}
	}
	var rs []race.Ruling
	for i := range 1000 {
		r := rulings(b, p, []string{fmt.Sprintf("set-status --bib %d --status dnf", i*50+1), fmt.Sprintf("set-time --bib %d --split finish --at 11:00:00", i*50+2),
			fmt.Sprintf("accept --suspect missing-split:%d:10k", i*50+3)}[i%3])[0]
		r.Seq = i + 1
		rs = append(rs, r)
	}
	b.ReportAllocs()
	for b.Loop() {
		Fold(p, athletes, nil, rs)
	}
}
