package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/outbox"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

func newExport() *cobra.Command {
	var out string
	var cleanOnly, strict bool
	c := &cobra.Command{
		Use:   "export RACE",
		Short: "Write the times, splits, suspects and clocks of a race",
		Long: `Export reads a race folder once and writes times.csv, splits.csv, suspects.csv,
clocks.csv, systems.csv, changes.csv and manifest.json, and announcer.html for whoever
speaks at the finish, each whole or not at all.`,
		Example: "  twinmat export saltmarsh\n  twinmat export saltmarsh --out /media/stick --clean-only --strict",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			once.Store(true)
			greatPages()
			f, err := ingest.Read(a[0])
			if err != nil {
				return err
			}
			warn(c, f)
			if f.Journal.Damaged() {
				return fmt.Errorf("no export without all rulings: %s", f.Journal)
			}
			st := reconcile.Compute(f.Input())
			for _, s := range st.IdleRulings() {
				fmt.Fprintln(c.ErrOrStderr(), clean(s))
			}
			report, err := outbox.Write(f.Dir, out, st, version, export.Options{CleanOnly: cleanOnly})
			if err != nil {
				return err
			}
			fmt.Fprintln(c.OutOrStdout(), clean(report.String()))
			if n := export.OpenHolds(st); strict && (n > 0 || export.States(st)[race.Held] > 0) {
				return &status{code: exitHeld, err: errors.New(race.Counted(n, "open suspect holds", "open suspects hold") + " a time or a clock")}
			}
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "folder to write to (default RACE/out)")
	c.Flags().BoolVar(&cleanOnly, "clean-only", false, "leave out all but clean, dns, dnf and dsq")
	c.Flags().BoolVar(&strict, "strict", false, "exit with status 3 when somebody is held")
	return c
}

// warn tells what is odd in plan and lists, and stands in nobody's way.
func warn(c *cobra.Command, f *ingest.Folder) {
	for _, p := range f.Problems {
		fmt.Fprintln(c.ErrOrStderr(), clean(p.String()))
	}
	if s := f.Journal.String(); s != "" {
		fmt.Fprintln(c.ErrOrStderr(), clean(s))
	}
}
