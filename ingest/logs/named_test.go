package logs

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"twinmat/ingest/plan"
)

// A plan may name every form of time that is read, and no other.
func TestThePlanTakesEveryFormOfTime(t *testing.T) {
	for _, form := range append(slices.Clone(formNames[1:]), "unix-days") {
		_, found := plan.Parse(fmt.Appendf(nil, `format = 1
name = "Forms"
date = 2026-05-17
timezone = "UTC"
[[line]]
id = "finish"
  [[line.log]]
  system = "main"
  path = "logs/main.csv"
  time_format = %q
`, form), nil, nil)
		refused := slices.ContainsFunc(found, func(p plan.Problem) bool { return strings.Contains(p.String(), form) })
		if refused != (form == "unix-days") {
			t.Errorf("%s: %v", form, found)
		}
	}
}
