package main

import (
	"path/filepath"
	"testing"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/ruling"
)

// 5 and 7: what a suspect proposes is a ruling that can be made as it stands.
func TestContractProposalsApply(t *testing.T) {
	dir := shared(t)
	n := 0
	for _, name := range races {
		f, err := ingest.Read(filepath.Join(dir, "races", name, "race"))
		if err != nil {
			t.Fatal(err)
		}
		st := reconcile.Compute(f.Input())
		for i := range st.Suspects {
			s := &st.Suspects[i]
			for _, line := range append([]string{s.Proposes}, s.Others...) {
				if line == "" {
					continue
				}
				x, err := ruling.ParseLine(line, f.Plan)
				if err == nil {
					err = ruling.Applies(&x, f.Plan, f.Athletes, f.Rulings, st)
				}
				if err != nil {
					t.Errorf("%s: %s proposes %q: %v", name, s.ID, line, err)
				}
				n++
			}
		}
	}
	if n == 0 {
		t.Error("no suspect proposes anything")
	}
}

// 6 and 7: what a suspect proposes settles it. The small races; a proposal a time.
func TestContractProposalsSettle(t *testing.T) {
	dir := shared(t)
	for _, name := range []string{"out-and-back", "laps", "triathlon"} {
		f, err := ingest.Read(filepath.Join(dir, "races", name, "race"))
		if err != nil {
			t.Fatal(err)
		}
		st := reconcile.Compute(f.Input())
		for i := range st.Suspects {
			s := &st.Suspects[i]
			x, err := ruling.ParseLine(s.Proposes, f.Plan)
			if err != nil {
				t.Errorf("%s: %s proposes %q: %v", name, s.ID, s.Proposes, err)
				continue
			}
			x.Seq, x.Why, x.Made, x.Evidence = 1, "as proposed", st.Now.Format(f.Plan.Zone), reconcile.Shown(st, &x)
			in := f.Input()
			in.Rulings = append(in.Rulings, x)
			after := reconcile.Compute(in)
			for k := range after.Suspects {
				if y := &after.Suspects[k]; y.ID == s.ID && !y.Settled {
					t.Errorf("%s: %s is open after %q: %s", name, s.ID, s.Proposes, y.Says)
				}
			}
		}
	}
}
