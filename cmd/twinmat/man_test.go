package main

import (
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"twinmat/cmd/internal/manual"
)

// Every command has words for who asks, and the manual page has every command and flag.
func TestEveryCommandIsExplained(t *testing.T) {
	root := newRoot()
	var b strings.Builder
	if err := manual.Write(&b, root, "v1.2.3"); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, c := range root.Commands() {
		if c.Short == "" || c.Example == "" {
			t.Errorf("%s: short %q, example %q", c.Name(), c.Short, c.Example)
		}
		if c.Hidden {
			continue
		}
		if !strings.Contains(page, `.SS "twinmat `+strings.ReplaceAll(c.Use, "-", `\-`)) {
			t.Errorf("the manual page lacks %s", c.Use)
		}
		c.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if f.Name != "help" && !strings.Contains(page, `.B \-\-`+strings.ReplaceAll(f.Name, "-", `\-`)) {
				t.Errorf("the manual page lacks --%s of %s", f.Name, c.Name())
			}
		})
	}
	for line := range strings.SplitSeq(page, "\n") {
		if strings.HasPrefix(line, "'") {
			t.Errorf("a line of text that roff takes for a macro: %s", line)
		}
	}
}
