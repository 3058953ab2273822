package main

import (
	"bytes"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/outbox"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/report"
	"twinmat/reconcile/ruling"
)

func newReport() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:     "report RACE",
		Short:   "Write one self-contained page on how the timing went",
		Example: "  twinmat report saltmarsh\n  twinmat report saltmarsh --out saltmarsh.html",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			greatPages()
			f, err := ingest.Read(a[0])
			if err != nil {
				return err
			}
			warn(c, f)
			if out == "" {
				out = filepath.Join(f.Dir, "report.html")
			}
			if err := outbox.MayWrite(f.Dir, f.Plan, out); err != nil {
				return err
			}
			st := reconcile.Compute(f.Input())
			inputs, err := outbox.Inputs(f.Dir, st)
			if err != nil {
				return err
			}
			var b bytes.Buffer
			if err := report.Write(&b, st, version, inputs, ruling.Words); err != nil {
				return err
			}
			as, err := outbox.Replace(out, b.Bytes())
			if err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "written to %s\n", clean(as))
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "the page (default RACE/report.html)")
	return c
}
