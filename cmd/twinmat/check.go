package main

import (
	"time"

	"github.com/spf13/cobra"

	"twinmat/ingest/ready"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

func newCheck() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "check RACE",
		Short: "Before the race: plan, athletes, chips, logs and clocks",
		Long: `Check looks a race folder over as a colleague would before the start, and changes
nothing in it: plan, lists, chips against athletes, waves, logs (are they there, do
they grow, can they be read), and the clocks as test chips walked over the lines tell
them. Its last line says whether the race can be timed as it stands, and why.

Each finding begins with how much it matters:
  problem   to be mended before the race; exit status 3 (2 when the plan can't be used)
  wait      not there yet, and comes with the day
  look      odd; nothing need be done
  ok        as it should be`,
		Example: "  twinmat check saltmarsh\n  twinmat check saltmarsh --json",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			s, err := ready.Read(a[0], time.Now)
			if err != nil {
				return err
			}
			var st *race.State
			if s.Race != nil {
				st = reconcile.Compute(s.Input())
			}
			f := ready.Look(s, st)
			if err := tell(c, asJSON, f, f.Lines); err != nil {
				return err
			}
			switch {
			case f.PlanWrong:
				return &status{code: exitUsage, silent: true}
			case f.Problems > 0:
				return &status{code: exitHeld, silent: true}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return c
}
