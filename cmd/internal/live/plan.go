package live

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"twinmat/ingest"
	"twinmat/ingest/plan"
	"twinmat/reconcile/race"
)

// folders are those whose events may tell of new reads.
func (r *Race) folders() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	seen := map[string]bool{r.dir: true}
	out := []string{r.dir}
	for _, l := range r.folder.Plan.Logs {
		dir := filepath.Join(r.dir, filepath.Dir(filepath.FromSlash(l.Path)))
		if info, err := os.Stat(dir); err == nil && info.IsDir() && !seen[dir] {
			seen[dir] = true
			out = append(out, dir)
		}
	}
	return out
}

// folderOf is the folder of a race that is named by it or by its race.toml.
func folderOf(path string) string {
	if info, err := os.Stat(path); err == nil && !info.IsDir() {
		return filepath.Dir(path)
	}
	return path
}

// stamp tells whether plan and lists may have changed.
func stamp(dir string) string {
	s := ""
	for _, n := range []string{"race.toml", "athletes.csv", "chips.csv"} {
		if info, err := os.Stat(filepath.Join(dir, n)); err == nil {
			s += fmt.Sprintf("%s %d %d\n", n, info.Size(), info.ModTime().UnixNano())
		}
	}
	return s
}

const planFault = "plan"

// watchPlan takes in plan and lists when they change and are sound; otherwise the last
// sound ones stay, and it is said what is wrong with the new.
func (r *Race) watchPlan(ctx context.Context) {
	last := r.stamped
	seen := last
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(planEvery):
		}
		now := stamp(r.dir)
		steady := now == seen // half a list is a sound, shorter list: wait until it is written
		seen = now
		if now == last || !steady {
			continue
		}
		last = now
		r.wait(nil, "", "") // what waited is no longer what stands there
		r.over(planFault)
		f, err := ingest.Open(r.dir)
		if err != nil {
			r.noteUntil(planFault, "plan or lists changed and can't be used, the last sound ones stay: %v", err)
			r.nudge()
			continue
		}
		if danger := r.danger(f); len(danger) > 0 {
			what := strings.Join(danger, "; ")
			r.wait(f, now, what)
			r.note(false, "plan or lists changed and wait for a yes (Y): %s", what)
			r.nudge()
			continue
		}
		r.adopt(ctx, f)
	}
}

// danger lists what a changed plan would do that somebody must say yes to.
func (r *Race) danger(f *ingest.Folder) []string {
	r.mu.Lock()
	old := r.folder.Race
	r.mu.Unlock()
	r.engineMu.Lock()
	st := r.state
	r.engineMu.Unlock()
	changes, dropped := plan.Compare(old, f.Race)
	for _, bib := range dropped {
		if st == nil {
			continue
		}
		if i, ok := st.ByBib[bib]; ok && len(st.Results[i].Passings) > 0 {
			changes = append(changes, "bib "+bib+", who has passings, is gone")
		}
	}
	return changes
}

// wait keeps a changed plan until somebody says yes; nil: none waits.
func (r *Race) wait(f *ingest.Folder, stamp, what string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.pending, r.pendingStamp, r.pendingSays = f, stamp, what
}

// Pending says what a changed plan that waits for a yes would do, "" : none waits.
func (r *Race) Pending() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.pendingSays
}

// TakePlan takes in the changed plan that waits.
func (r *Race) TakePlan(ctx context.Context) error {
	r.mu.Lock()
	f, of := r.pending, r.pendingStamp
	r.mu.Unlock()
	if f == nil {
		return fmt.Errorf("no changed plan waits")
	}
	if of != stamp(r.dir) {
		return fmt.Errorf("plan or lists changed once more meanwhile; what that would do is shown in a moment")
	}
	r.adopt(ctx, f)
	return nil
}

// adopt goes on with another plan: the logs are read again under it.
func (r *Race) adopt(ctx context.Context, f *ingest.Folder) {
	r.planMu.Lock()
	defer r.planMu.Unlock()
	r.mu.Lock()
	same := sameLogs(r.folder.Plan, f.Plan)
	r.folder, r.pending, r.pendingSays = f, nil, ""
	stop := r.stopLogs
	r.mu.Unlock()
	r.note(false, "plan and lists were taken in anew")
	if !same {
		stop()
		r.startLogs(ctx)
	}
	r.nudge()
}

// sameLogs tells whether what was read under one plan holds under another.
func sameLogs(a, b *race.Plan) bool {
	if len(a.Logs) != len(b.Logs) || len(a.Lines) != len(b.Lines) || !a.Date.Equal(b.Date) || a.Zone.String() != b.Zone.String() || len(a.Waves) != len(b.Waves) {
		return false
	}
	for i := range a.Logs {
		x, y := a.Logs[i], b.Logs[i]
		if fmt.Sprint(x.Path, x.System, x.Line, x.Zone, x.Columns, x.Delimiter, x.TimeFormat) != fmt.Sprint(y.Path, y.System, y.Line, y.Zone, y.Columns, y.Delimiter, y.TimeFormat) {
			return false
		}
	}
	for i := range a.Waves {
		if a.Waves[i].Gun != b.Waves[i].Gun { // clock-only times hang on the first gun's day
			return false
		}
	}
	return true
}
