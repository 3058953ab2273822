package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"twinmat/ingest/ready"
)

func newInspect() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "inspect LOG",
		Short: "Tell what a log is, and the lines of the plan for it",
		Long: `Inspect reads a log to its end and tells its delimiter, columns, form of time, span
and tags, its bad lines with the reason, and the [[line.log]] lines to paste into
race.toml. A log that lies in a race folder is read by that race's date and zone.`,
		Example: "  twinmat inspect saltmarsh/logs/finish-main.csv\n  twinmat inspect stick/unknown.txt --json",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			t, err := ready.Inspect(a[0])
			if err != nil {
				return err
			}
			if err := tell(c, asJSON, t, t.Lines); err != nil {
				return err
			}
			if t.Reads == 0 {
				return fmt.Errorf("%s: no line holds a tag and a time that can be read", a[0])
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return c
}
