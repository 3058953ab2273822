package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/live"
	"twinmat/cmd/internal/outbox"
	"twinmat/ingest/journal"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
	"twinmat/reconcile/story"
	"twinmat/tui"
)

type watchOptions struct {
	readOnly, ascii, quiet bool
	theme                  string
	every                  time.Duration
	copyTo                 string
	clock                  func() time.Time          // nil: the laptop's
	on                     func(time.Time) time.Time // a moment of the laptop's clock on that clock, nil: the same
}

func newWatch() *cobra.Command {
	var o watchOptions
	c := &cobra.Command{
		Use:   "watch RACE",
		Short: "The live console",
		Long: `Watch follows a race while it runs: who comes, what must be looked at, and what
each ruling would change before it is made. A second console on the same race opens
to look at only.`,
		Example: "  twinmat watch saltmarsh\n  twinmat watch saltmarsh --export-every 1m",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			return watch(c.Context(), a[0], o)
		},
	}
	watchFlags(c, &o)
	return c
}

func watchFlags(c *cobra.Command, o *watchOptions) {
	c.Flags().BoolVar(&o.readOnly, "read-only", false, "look, don't rule")
	c.Flags().BoolVar(&o.ascii, "ascii", false, "draw with plain letters only")
	c.Flags().BoolVar(&o.quiet, "quiet", false, "no bell")
	c.Flags().Var((*themeFlag)(&o.theme), "theme", "sun, night or mono (default: what the terminal says)")
	c.Flags().StringVar(&o.copyTo, "copy", "", "a second folder, on a stick or a share, that gets a copy of every ruling")
	c.Flags().Var((*everyFlag)(&o.every), "export-every", "write provisional results so often, e.g. 1m")
}

// themeFlag is one of the console's themes.
type themeFlag string

func (f *themeFlag) String() string { return string(*f) }
func (f *themeFlag) Type() string   { return "string" }
func (f *themeFlag) Set(s string) error {
	if !slices.Contains(tui.ThemeNames, s) {
		return fmt.Errorf("want one of %s", strings.Join(tui.ThemeNames, ", "))
	}
	*f = themeFlag(s)
	return nil
}

// everyFlag is a length of time that passes.
type everyFlag time.Duration

func (f *everyFlag) String() string {
	if *f == 0 {
		return ""
	}
	return time.Duration(*f).String()
}
func (f *everyFlag) Type() string { return "duration" }
func (f *everyFlag) Set(s string) error {
	d, err := time.ParseDuration(s)
	if err != nil || d <= 0 {
		return errors.New("want a length of time such as 30s or 1m")
	}
	*f = everyFlag(d)
	return nil
}

// Where the engine and the garbage collector have every processor that Go knows of, a key waits
// up to 10 ms at each step for one of them to be taken back. With so many more threads than the
// machine has processors, the system shares them out, and it prefers a thread that has slept.
const keptForScreen = 2

// watch runs the race and its console until the console is left.
func watch(ctx context.Context, path string, o watchOptions) (err error) {
	if o.readOnly && o.copyTo != "" {
		return usage("--copy follows the rulings of this console, and --read-only makes none")
	}
	if ctx == nil {
		ctx = context.Background()
	}
	if procs := runtime.GOMAXPROCS(0); os.Getenv("GOMAXPROCS") == "" {
		defer runtime.GOMAXPROCS(procs)
		runtime.GOMAXPROCS(procs + keptForScreen)
	}
	greatPages()
	r, err := live.Open(path, version, live.Options{ReadOnly: o.readOnly, Copy: o.copyTo, Invented: o.on != nil})
	if err != nil {
		return err
	}
	defer r.Close()
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var broke error
	done := make(chan struct{})
	go func() {
		defer close(done)
		r.Run(ctx, func(x any, stack []byte) {
			broke = fmt.Errorf("twinmat broke; a report is in %s", tui.CrashReport("", version, x, stack))
			stop()
		})
	}()
	if o.every > 0 && r.ReadOnly() == "" {
		go r.ExportEvery(ctx, o.every, export.Options{})
	}
	updates := make(chan tui.Update, 1)
	go relay(ctx, r, updates, o.on)
	var meter *tui.Meter
	if file := os.Getenv("TWINMAT_METER"); file != "" { // for the load test
		meter = &tui.Meter{}
		defer func() { err = errors.Join(err, os.WriteFile(file, []byte(meter.String()), 0o600)) }()
	}
	err = tui.Run(ctx, tui.Options{ReadOnly: r.ReadOnly() != "", Why: r.ReadOnly(), ASCII: o.ascii, Theme: o.theme, Updates: updates,
		Desk: desk{r, ctx}, Clock: o.clock, Who: who(), Title: r.Name(), Bell: !o.quiet, Version: version, Meter: meter})
	stop()
	select { // a share that hangs must not keep the terminal
	case <-done:
	case <-time.After(3 * time.Second):
	}
	if broke != nil {
		return broke
	}
	if err == nil && r.ReadOnly() == "" {
		fmt.Printf("%s: %s on disk in %s\n", clean(r.Name()), race.Counted(r.Rulings(), "ruling", "rulings"), filepath.Join(r.Dir(), "rulings.jsonl"))
	}
	return err
}

// relay turns the race's updates into the console's.
func relay(ctx context.Context, r *live.Race, out chan<- tui.Update, on func(time.Time) time.Time) {
	for {
		select {
		case <-ctx.Done():
			return
		case u := <-r.Updates():
			x := forConsole(u, on)
			select {
			case <-ctx.Done():
				return
			case out <- x:
			}
		}
	}
}

// forConsole is an update in the console's words.
func forConsole(u live.Update, on func(time.Time) time.Time) tui.Update {
	x := tui.Update{State: u.State, Revision: u.Revision, Pending: u.Pending}
	for _, n := range u.Notices {
		level := tui.Quiet
		if n.Bad {
			level = tui.Needed
		}
		x.Notices = append(x.Notices, tui.Notice{Key: n.At.String() + n.Text, Level: level, Says: n.Text, Over: n.Over})
	}
	for _, h := range u.Health {
		grew := h.LastNew
		if on != nil && !grew.IsZero() {
			grew = on(grew)
		}
		x.Health = append(x.Health, tui.Health{Source: h.Source, Grew: grew, Missing: h.Files == 0, Waiting: int(h.Waiting), Trouble: h.Fault})
	}
	return x
}

// desk answers the console from the running race.
type desk struct {
	*live.Race
	ctx context.Context // of the run
}

func (d desk) TakePlan() error { return d.Race.TakePlan(d.ctx) }

func (d desk) Rule(x race.Ruling) (int, error) {
	x, err := d.Race.Rule(x, who())
	if unsaved, ok := errors.AsType[*journal.NotSaved](err); ok {
		err = unsaved.Err // the console says itself that nothing was saved
	}
	return x.Seq, err
}

func (d desk) Parse(line string) (race.Ruling, error) { return ruling.ParseLine(line, d.State().Plan) }

func (d desk) Words(x race.Ruling) string { return ruling.Words(&x) }

func (d desk) Export() (string, error) {
	report, err := d.Race.Export("", export.Options{})
	if err != nil {
		return "", err
	}
	return report.Short(), nil
}

// Since compares with the files in the race's out folder.
func (d desk) Since(now *race.State) ([]string, bool, error) { return outbox.Since(d.Dir(), "", now) }

func (d desk) Explain(bib string) []string {
	s := story.Of(d.State(), bib, ruling.Words)
	if s == nil {
		return nil
	}
	return s.Lines()
}

func (d desk) At(t race.Instant) (*race.State, error) { return d.Race.At(t), nil }
