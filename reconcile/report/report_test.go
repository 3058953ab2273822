package report

import (
	"math"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

func made() *race.State {
	p := &race.Plan{Name: "Reed & <Rush>", Date: time.Date(2026, 5, 17, 0, 0, 0, 0, time.UTC), Zone: time.UTC,
		Lines: []race.Line{{ID: "finish", Logs: []int{0, 1}}}, Logs: []race.Log{{System: race.Main}, {System: race.Backup}},
		Courses: []race.Course{{ID: "ten", Splits: []race.Split{{ID: "finish", At: 10000}}}}, Waves: []race.Wave{{ID: "A", Gun: 0}}}
	st := &race.State{Plan: p, Now: 4_000_000, Systems: []race.SystemRow{{System: race.Main, Reads: 9, SeenOfAll: 0.5}, {System: race.Backup, SeenOfAll: math.NaN()}},
		Clocks: []race.ClockStretch{{Source: 1, Offset: 3.217, Says: "runs 3.217 s ahead"}}, Points: [][]race.ClockPoint{nil, {{At: 1000, Residual: .1, Weight: 1}, {At: 9000, Residual: -.2}}},
		Suspects: []race.Suspect{{Finding: &race.Finding{ID: "clash:1:finish", Weight: race.Hold, Says: "<script>alert(1)</script>"}}},
		Rulings:  []race.Ruling{{Seq: 1, Rule: race.Accept, Why: "seen on film"}}, Undone: map[int]int{1: 2}}
	for i, at := range []race.Instant{3_000_000, 3_100_000, 3_200_000} {
		x := &race.Result{Athlete: race.Athlete{Bib: string(rune('1' + i)), Birth: "1987-03-04"}, Splits: p.Courses[0].Splits, Filled: []int{0}, State: "clean"}
		from := race.FromMain
		if i == 2 {
			from = race.FromBackup
		}
		x.Passings = []race.Passing{{At: at, From: from, PlusMinus: 310}}
		st.Results = append(st.Results, x)
	}
	return st
}

func TestThePageStandsAlone(t *testing.T) {
	var b strings.Builder
	err := Write(&b, made(), "1.0", []export.Input{{Path: "logs/finish-main.csv", Size: 9, SHA256: "abc123"}}, func(r *race.Ruling) string { return "as it stands" })
	if err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, want := range []string{"Reed &amp; &lt;Rush&gt;", "runs 3.217 s ahead", "seen on film", "taken back by 2", "abc123", "&#43;3.217", "±0.31 s", "<svg", "clash:1:finish"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, never := range []string{"http:", "https:", "<script", "1987", "<link"} {
		if strings.Contains(page, never) {
			t.Errorf("the page holds %q", never)
		}
	}
}
