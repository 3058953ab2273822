package outbox

import (
	"testing"

	"twinmat/reconcile/export"
)

func TestAReportInALine(t *testing.T) {
	r := Report{Dir: "out", States: map[string]int{"clean": 230, "held": 4}, Open: 2, First: true}
	for _, c := range []struct {
		change func()
		want   string
	}{
		{func() {}, "written to out: 230 clean, 4 held; 2 open suspects hold something; no export stood there before"},
		{func() { r.First = false }, "written to out: 230 clean, 4 held; 2 open suspects hold something; nothing differs from the export before"},
		{func() { r.Changes, r.Open = make([]export.Change, 1), 1 }, "written to out: 230 clean, 4 held; 1 open suspect holds something; 1 cell differs from the export before"},
		{func() { r.Changes, r.Other = make([]export.Change, 3), map[string]string{"times.csv": "times (1).csv"} },
			"written to out: 230 clean, 4 held; 1 open suspect holds something; times.csv is held open by another program and still the old one: the new one is times (1).csv; 3 cells differ from the export before"},
	} {
		if c.change(); r.Short() != c.want {
			t.Errorf("%s\nwant %s", r.Short(), c.want)
		}
	}
}
