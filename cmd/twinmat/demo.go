package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"twinmat/cmd/internal/invent"
)

func newDemo() *cobra.Command {
	var o invent.Options
	var w watchOptions
	var dir string
	var speed float64
	var writeOnly bool
	c := &cobra.Command{
		Use:     "demo",
		Short:   "An invented race, fed as if live, with the console open on it",
		Long:    "Demo invents a race, feeds its logs as if live, and opens the console on it.\n\nKinds:\n" + kindList(),
		Example: "  twinmat demo\n  twinmat demo --kind triathlon --speed 120\n  twinmat demo --dir saltmarsh --write-only",
		Args:    args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			if !slices.Contains(invent.Kinds, o.Kind) {
				return usage("no kind %q; there are %s", o.Kind, strings.Join(invent.Kinds, ", "))
			}
			if speed <= 0 || o.Athletes < 0 {
				return usage("--speed wants more than 0, --athletes 0 or more")
			}
			r, err := invent.Make(o)
			if err != nil {
				return err
			}
			if dir, err = demoFolder(dir, o.Kind); err != nil {
				return err
			}
			if writeOnly {
				if err := r.Write(dir); err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "written to %s; next: twinmat export %s\n", clean(dir), clean(dir))
				return nil
			}
			return demo(c.Context(), r, dir, speed, w)
		},
	}
	c.Flags().StringVar(&o.Kind, "kind", invent.Kinds[0], "which kind of race")
	c.Flags().StringVar(&dir, "dir", "", "a new folder for it (default: one for temporary files)")
	c.Flags().Float64Var(&speed, "speed", 30, "seconds of the race a second")
	c.Flags().Uint64Var(&o.Seed, "seed", 1, "another seed is another race")
	c.Flags().IntVar(&o.Athletes, "athletes", 0, "how many (default: the kind's own number)")
	c.Flags().BoolVar(&writeOnly, "write-only", false, "write the finished race and stop")
	watchFlags(c, &w)
	return c
}

func kindList() string {
	var b strings.Builder
	for _, k := range invent.Kinds {
		fmt.Fprintf(&b, "  %-13s %s\n", k, invent.About(k))
	}
	return b.String()
}

// demoFolder is where the race goes; one that holds a race already is left alone.
func demoFolder(dir, kind string) (string, error) {
	if dir == "" {
		return os.MkdirTemp("", "twinmat-"+kind+"-")
	}
	if _, err := os.Stat(filepath.Join(dir, "race.toml")); err == nil {
		return "", fmt.Errorf("%s holds a race already; demo wants a new folder", dir)
	}
	return dir, os.MkdirAll(dir, 0o755)
}

// demo feeds the race from a minute before its first gun, and opens the console on it.
func demo(ctx context.Context, r *invent.Race, dir string, speed float64, w watchOptions) error {
	if ctx == nil {
		ctx = context.Background()
	}
	if err := r.WriteLists(dir); err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	fed := make(chan error, 1)
	from := beginning(r)
	go func() { fed <- feed(ctx, r, dir, from, speed) }()
	began := time.Now()
	w.on = func(t time.Time) time.Time { return from.Add(time.Duration(float64(t.Sub(began)) * speed)) }
	w.clock = func() time.Time { return w.on(time.Now()) }
	err := watch(ctx, dir, w)
	stop()
	if ferr := <-fed; err == nil && ferr != nil && !errors.Is(ferr, context.Canceled) {
		err = ferr
	}
	if err == nil {
		fmt.Printf("the invented race is in %s\n", clean(dir))
	}
	return err
}

// beginning is a minute before the first gun.
func beginning(r *invent.Race) time.Time {
	guns := r.Guns()
	if len(guns) == 0 {
		return time.Now()
	}
	return slices.MinFunc(guns, time.Time.Compare).Add(-time.Minute)
}

// feed appends the race's log lines at its pace. What came before its beginning is there at
// once.
func feed(ctx context.Context, r *invent.Race, dir string, clock time.Time, speed float64) error {
	const tick = 50 * time.Millisecond
	files := map[string]*os.File{}
	defer func() {
		for _, f := range files {
			f.Close()
		}
	}()
	return r.Feed(func(path string, line []byte, when time.Time) error {
		for when.Sub(clock) > time.Duration(float64(tick)*speed) {
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-time.After(tick):
				clock = clock.Add(time.Duration(float64(tick) * speed))
			}
		}
		f := files[path]
		if f == nil {
			full := filepath.Join(dir, filepath.FromSlash(path))
			if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
				return err
			}
			var err error
			if f, err = os.OpenFile(full, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o644); err != nil {
				return err
			}
			files[path] = f
		}
		_, err := f.Write(line)
		return err
	})
}
