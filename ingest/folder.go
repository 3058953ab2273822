// Package ingest opens a race folder: plan and lists, logs, the copies that the console
// kept of them, and rulings, as the input of the computation. Its folders read one kind of
// file each.
package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"twinmat/ingest/follow"
	"twinmat/ingest/journal"
	"twinmat/ingest/logs"
	"twinmat/ingest/plan"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Folder is a race folder as it was read.
type Folder struct {
	*plan.Race
	Problems []plan.Problem
	Reads    []*race.Reads // per source
	Rulings  []race.Ruling
	Journal  journal.Report
}

// BadPlan is a plan that can't be used; it lists everything that is wrong with it.
type BadPlan struct{ Problems []plan.Problem }

func (b *BadPlan) Error() string {
	n, first := 0, ""
	for _, p := range b.Problems {
		if !p.Warning {
			if n == 0 {
				first = p.String()
			}
			n++
		}
	}
	if n == 1 {
		return first
	}
	return fmt.Sprintf("%s (and %d more)", first, n-1)
}

// Read reads a race folder (or its race.toml) once, whole: logs end where they end. The
// error is a *BadPlan when plan or lists can't be used.
func Read(path string) (*Folder, error) {
	f, err := Open(path)
	if err != nil {
		return nil, err
	}
	if !f.copied() {
		if reads, err := logs.ReadAll(f.Dir, f.Plan); err == nil {
			f.Reads = reads
			return f, nil
		} // else log by log, which tells what is wrong with one
	}
	f.Reads = make([]*race.Reads, len(f.Plan.Logs))
	errs := make([]error, len(f.Plan.Logs))
	var wg sync.WaitGroup
	slots := make(chan struct{}, 2)
	for s := range f.Plan.Logs {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			f.Reads[s], errs[s] = follow.Read(f.Dir, f.Plan, s)
		})
	}
	wg.Wait()
	for s, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.Plan.Logs[s].Path, err)
		}
	}
	return f, nil
}

// copied tells whether the console may have kept copies of the logs, which count with them,
// or a log has more files than are followed.
func (f *Folder) copied() bool {
	if _, err := os.Lstat(filepath.Join(f.Dir, "kept")); !errors.Is(err, fs.ErrNotExist) {
		return true
	}
	for i := range f.Plan.Logs {
		if paths, err := logs.Match(f.Dir, f.Plan.Logs[i].Path); err != nil || len(paths) > follow.MaxFiles {
			return true
		}
	}
	return false
}

// Open reads plan, lists and rulings, not the logs.
func Open(path string) (*Folder, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("no race there: %w", err)
	}
	r, problems := plan.Load(path)
	if r == nil || !plan.Sound(problems) {
		return nil, &BadPlan{problems}
	}
	rs, report, err := journal.Read(r.Dir)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Join(r.Dir, "rulings.jsonl"), err)
	}
	return &Folder{Race: r, Problems: problems, Rulings: rs, Journal: report}, nil
}

// Input is what the computation takes of the folder.
func (f *Folder) Input() reconcile.Input {
	return reconcile.Input{Plan: f.Plan, Athletes: f.Athletes, Chips: f.Chips, ZerosDropped: f.ZerosDropped, Reads: f.Reads, Rulings: f.Rulings}
}
