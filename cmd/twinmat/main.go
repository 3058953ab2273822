// Command twinmat reconciles the reads of two timing systems while a race runs. Each file
// here wires one command; what they do lives in ingest, reconcile and tui.
package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/hush"
	"twinmat/ingest"
	"twinmat/reconcile/race"
)

// All packages have begun when this one does.
func init() { hush.Over() }

// The exit statuses of every command.
const (
	exitFailed = 1 // it could not be done
	exitUsage  = 2 // the call or the plan is wrong
	exitHeld   = 3 // done, but --strict and someone is held, or check found problems
)

// status is an error that says how the program exits. A silent one has said what it had to.
type status struct {
	code   int
	err    error
	silent bool
}

func (s *status) Error() string {
	if s.err == nil {
		return fmt.Sprintf("status %d", s.code)
	}
	return s.err.Error()
}

func (s *status) Unwrap() error { return s.err }

func usage(format string, a ...any) error {
	return &status{code: exitUsage, err: fmt.Errorf(format, a...)}
}

func main() {
	os.Exit(program(os.Args[1:]))
}

// program is all that the process does; its exit status.
func program(args []string) int {
	keepSmall()
	return run(args)
}

func run(args []string) int {
	root := newRoot()
	root.SetArgs(args)
	return exit(root.Execute())
}

// exit tells what went wrong on standard error, and is the exit status for it.
func exit(err error) int {
	if err == nil {
		return 0
	}
	var s *status
	var bad *ingest.BadPlan
	switch {
	case errors.As(err, &s):
		if !s.silent {
			fmt.Fprintln(os.Stderr, "twinmat:", clean(s.Error()))
		}
		return s.code
	case errors.As(err, &bad):
		for _, p := range bad.Problems {
			fmt.Fprintln(os.Stderr, clean(p.String()))
		}
		return exitUsage
	}
	fmt.Fprintln(os.Stderr, "twinmat:", clean(err.Error()))
	return exitFailed
}

func newRoot() *cobra.Command {
	c := &cobra.Command{
		Use:   "twinmat",
		Short: "Reconcile the reads of two timing systems while the race runs",
		Long: `twinmat turns the raw reads of a main and a backup timing system into one
trustworthy time for each athlete, while the race runs.

Exit status: 0 done; 1 it could not be done; 2 the call or the plan is wrong;
3 done, but --strict and someone is held, or check found problems.`,
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          args(cobra.NoArgs), // a word that is no command is a wrong call
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usage("%w; see '%s --help'", err, c.CommandPath())
	})
	c.AddCommand(newNew(), newCheck(), newInspect(), newDemo(), newExport(), newRule(), newExplain(), newWatch(), newReplay(), newReport(), newMan())
	complete(c)
	return c
}

// args wraps cobra's argument checks, so that a wrong call exits with its own status and says what
// is wanted: a name with a space in it, and no quotes round it, is two.
func args(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, a []string) error {
		err := check(c, a)
		switch {
		case err == nil:
			return nil
		case !c.HasParent():
			return usage("%w; see '%s --help'", err, c.CommandPath())
		}
		return usage("want '%s %s', and %s came; see '%s --help'", c.Parent().CommandPath(), c.Use, race.Counted(len(a), "name", "names"), c.CommandPath())
	}
}
