package main

import (
	"errors"
	"fmt"
	"os"
	"os/user"
	"strings"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/live"
	"twinmat/ingest"
	"twinmat/ingest/journal"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

func newRule() *cobra.Command {
	return &cobra.Command{
		Use:   "rule RACE KIND … --why TEXT",
		Short: "Make one ruling, without a screen",
		Long:  "Rule writes one ruling to the race's rulings.jsonl. It is on disk when the command returns.\n\n" + ruling.Help(),
		Example: "  twinmat rule saltmarsh assign-chip --tag 3A08000000000007 --bib 214 --why 'given a spare at the desk'\n" +
			"  twinmat rule saltmarsh undo --seq 7 --why 'wrong bib'",
		DisableFlagParsing: true, // every kind has flags of its own
		RunE: func(c *cobra.Command, a []string) error {
			if asksHelp(a) {
				return c.Help()
			}
			if len(a) < 2 || strings.HasPrefix(a[0], "-") {
				return usage("rule wants a race and a kind of ruling; see 'twinmat rule --help'")
			}
			return rule(c, a[0], a[1], a[2:])
		},
	}
}

// asksHelp tells whether a call of rule is for its help: --help before the flags of a kind, where no
// value may stand.
func asksHelp(a []string) bool {
	for _, word := range a[:min(len(a), 3)] {
		if word == "--help" || word == "-h" {
			return true
		}
	}
	return false
}

func rule(c *cobra.Command, path, kind string, flags []string) error {
	f, err := ingest.Open(path)
	if err != nil {
		return err
	}
	x, err := ruling.Parse(kind, flags, f.Plan)
	if err != nil {
		return &status{code: exitUsage, err: err}
	}
	if x.Why == "" {
		return usage("%s lacks --why TEXT: a ruling needs its reason", kind)
	}
	if err := ruling.Call(&x); err != nil {
		return usage("%w", err)
	}
	j, err := journal.Open(f.Dir)
	if errors.Is(err, journal.ErrLocked) {
		return fmt.Errorf("%w; make it at that console (: takes a ruling in full), or leave the console first", err)
	}
	if err != nil {
		return err
	}
	defer j.Close()
	if s := j.Report().String(); s != "" {
		fmt.Fprintln(c.ErrOrStderr(), clean(s))
	}
	f.Rulings = j.Rulings()
	var st *race.State
	if ruling.NeedsState(&x, f.Athletes, f.Rulings) {
		g, err := ingest.Read(path)
		if err != nil {
			return err
		}
		g.Rulings = f.Rulings
		st = reconcile.Compute(g.Input())
	}
	x, err = live.Make(j, x, reconcile.Input{Plan: f.Plan, Athletes: f.Athletes, Rulings: f.Rulings}, st, who())
	if err != nil {
		return err
	}
	fmt.Fprintln(c.OutOrStdout(), clean(fmt.Sprintf("ruling %d is on disk: %s", x.Seq, ruling.Words(&x))))
	return nil
}

// who rules: the name that the operator goes by on this machine.
func who() string {
	if s := os.Getenv("TWINMAT_WHO"); s != "" {
		return s
	}
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return "operator"
}
