package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"
)

// tell writes a result as JSON, or as lines for people.
func tell(c *cobra.Command, asJSON bool, v any, lines func() []string) error {
	if asJSON {
		e := json.NewEncoder(c.OutOrStdout())
		e.SetIndent("", "  ")
		return e.Encode(v)
	}
	for _, line := range lines() {
		if _, err := fmt.Fprintln(c.OutOrStdout(), clean(line)); err != nil {
			return err
		}
	}
	return nil
}
