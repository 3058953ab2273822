package main

import (
	"github.com/spf13/cobra"

	"twinmat/cmd/internal/manual"
)

func newMan() *cobra.Command {
	return &cobra.Command{
		Use:     "man",
		Short:   "Write the manual page, made from the help of every command",
		Long:    "Man writes the manual page in roff to standard output.",
		Example: "  twinmat man > twinmat.1\n  twinmat man | man -l -",
		Hidden:  true,
		Args:    args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			return manual.Write(c.OutOrStdout(), c.Root(), version)
		},
	}
}
