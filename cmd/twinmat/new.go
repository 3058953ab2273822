package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/fresh"
)

func newNew() *cobra.Command {
	return &cobra.Command{
		Use:   "new DIR",
		Short: "Write a race folder with a commented plan to start from",
		Long: `New writes a race folder: race.toml with every key of a plan explained, athletes.csv
and chips.csv with a few invented rows, and an empty logs folder. It asks nothing,
and refuses a folder that holds any of these already.`,
		Example: "  twinmat new saltmarsh\n  twinmat check saltmarsh",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if err := fresh.Write(a[0], time.Now()); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "written to %s; next: edit %s/race.toml, then twinmat check %s\n", clean(a[0]), clean(a[0]), clean(a[0]))
			return nil
		},
	}
}
