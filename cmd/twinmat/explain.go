package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/ruling"
	"twinmat/reconcile/story"
)

func newExplain() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:     "explain RACE BIB",
		Short:   "Tell how each of a bib's times came about, down to file and line",
		Example: "  twinmat explain saltmarsh 214",
		Args:    args(cobra.ExactArgs(2)),
		RunE: func(c *cobra.Command, a []string) error {
			greatPages()
			f, err := ingest.Read(a[0])
			if err != nil {
				return err
			}
			warn(c, f)
			s := story.Of(reconcile.Compute(f.Input()), a[1], ruling.Words)
			if s == nil {
				return fmt.Errorf("no bib %q in this race", a[1])
			}
			return tell(c, asJSON, s, s.Lines)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return c
}
