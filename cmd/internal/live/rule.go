package live

import (
	"context"
	"errors"
	"fmt"
	"time"

	"twinmat/cmd/internal/outbox"
	"twinmat/ingest/journal"
	"twinmat/reconcile"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

// madeForm is how a ruling tells when it was made: RFC 3339 with milliseconds.
const madeForm = "2006-01-02T15:04:05.000Z07:00"

// State is the last one computed, computing it if there is none.
func (r *Race) State() *race.State {
	r.engineMu.Lock()
	st := r.state
	r.engineMu.Unlock()
	if st == nil {
		st = r.Compute()
	}
	return st
}

// Preview is the race as it stands, and as it would with some rulings more, made one after the other,
// both of the reads that are in now: what comes in meanwhile is no effect of theirs. Each must apply
// to the race as it stands. Nothing is written.
func (r *Race) Preview(xs ...race.Ruling) (before, after *race.State, err error) {
	in := r.input()
	r.engineMu.Lock()
	defer r.engineMu.Unlock()
	before = r.engine.Compute(in)
	for _, x := range xs {
		if err := ruling.Applies(&x, in.Plan, in.Athletes, in.Rulings, before); err != nil {
			if len(xs) > 1 {
				err = fmt.Errorf("%s: %w", ruling.Words(&x), err)
			}
			return nil, nil, err
		}
		x.Seq, x.Made = next(in.Rulings), time.Now().Format(madeForm) // what is read later than it matters
		in.Rulings = append(in.Rulings, bound(x, before))
	}
	return before, r.engine.Compute(in), nil
}

func next(rs []race.Ruling) int {
	if len(rs) == 0 {
		return 1
	}
	return rs[len(rs)-1].Seq + 1
}

// bound ties an accept to the suspect as it is shown, and a time to what the systems say.
func bound(x race.Ruling, st *race.State) race.Ruling {
	if x.Evidence == "" && st != nil {
		x.Evidence = reconcile.Shown(st, &x)
	}
	return x
}

// Make checks a ruling and writes it, with or without a console. When it returns without error
// the ruling is on disk. st is the race as it stands, nil where the ruling needs none.
func Make(j *journal.Journal, x race.Ruling, in reconcile.Input, st *race.State, who string) (race.Ruling, error) {
	if err := ruling.Check(&x, in.Plan, in.Athletes, in.Rulings, st); err != nil {
		return x, fmt.Errorf("refused: %w", err)
	}
	x = bound(x, st)
	x.Made, x.Who = time.Now().Format(madeForm), who
	err := j.Append(&x) // numbers it
	return x, err
}

// Rule writes a ruling. When it returns without error the ruling is on disk, and the next
// state rests on it.
func (r *Race) Rule(x race.Ruling, who string) (race.Ruling, error) {
	if r.readOnly != "" {
		return x, errors.New(r.readOnly)
	}
	r.ruleMu.Lock()
	defer r.ruleMu.Unlock()
	x, err := Make(r.journal, x, r.input(), r.State(), who)
	if err != nil {
		return x, err
	}
	r.mu.Lock()
	r.rulings = append(r.rulings[:len(r.rulings):len(r.rulings)], x)
	r.mu.Unlock()
	r.nudge()
	return x, nil
}

// Export writes the race as it stands at this moment.
func (r *Race) Export(out string, o export.Options) (*outbox.Report, error) {
	r.exportMu.Lock()
	defer r.exportMu.Unlock()
	return outbox.Write(r.dir, out, r.Compute(), r.version, o)
}

// At is the race as it stood at a moment of the race clock: the reads up to then, under
// today's plan and the rulings of today.
func (r *Race) At(t race.Instant) *race.State {
	return reconcile.Compute(reconcile.Until(r.input(), r.State(), t))
}

// ExportEvery writes provisional results so often, until the context ends.
func (r *Race) ExportEvery(ctx context.Context, every time.Duration, o export.Options) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(every):
		}
		report, err := r.Export("", o)
		if err != nil {
			r.note(true, "the export failed: %v", err)
		} else {
			r.note(len(report.Other) > 0, "%s", report.Short())
		}
		r.nudge()
	}
}

// Rulings is how many rulings are on disk.
func (r *Race) Rulings() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.rulings)
}
