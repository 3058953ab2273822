package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/replay"
	"twinmat/ingest"
	"twinmat/ingest/plan"
	"twinmat/reconcile/race"
)

func newReplay() *cobra.Command {
	var into, from, to string
	var speed float64
	c := &cobra.Command{
		Use:     "replay RACE --into DIR",
		Short:   "Play a race's logs into a copy as if live, to practise and to test",
		Example: "  twinmat replay saltmarsh --into practice --speed 60 --from 10:40:00\n  twinmat watch practice",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if into == "" {
				return usage("replay wants --into DIR")
			}
			if speed < 0 {
				return usage("--speed %v: want 0 (all at once) or more", speed)
			}
			f, err := ingest.Open(a[0])
			if err != nil {
				return err
			}
			o := replay.Options{Speed: speed, From: race.NoInstant, To: race.NoInstant}
			for _, x := range []struct {
				flag, text string
				at         *race.Instant
			}{{"from", from, &o.From}, {"to", to, &o.To}} {
				if x.text == "" {
					continue
				}
				if *x.at, err = plan.Instant(f.Plan, x.text); err != nil {
					return usage("--%s: %w", x.flag, err)
				}
			}
			if o.From.Known() && o.To.Known() && o.To < o.From {
				return usage("--to %s comes before --from %s", to, from)
			}
			o.Begins = func() {
				fmt.Fprintf(c.ErrOrStderr(), "playing %s into %s; in another terminal: twinmat watch %s\n", clean(a[0]), clean(into), clean(into))
			}
			return replay.Into(c.Context(), a[0], into, o)
		},
	}
	c.Flags().StringVar(&into, "into", "", "new folder for the copy")
	c.Flags().Float64Var(&speed, "speed", 1, "seconds of the race a second; 0: all at once")
	c.Flags().StringVar(&from, "from", "", "what came before is there at once (hh:mm:ss or RFC 3339)")
	c.Flags().StringVar(&to, "to", "", "stop there")
	return c
}
