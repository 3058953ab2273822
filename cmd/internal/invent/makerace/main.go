// Command makerace writes an invented race and its truth, to measure the program on:
// DIR/race is what the program is given, DIR/truth what happened.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"twinmat/cmd/internal/invent"
)

func main() {
	var o invent.Options
	flag.StringVar(&o.Kind, "kind", invent.Kinds[0], "one of "+strings.Join(invent.Kinds, ", "))
	flag.Uint64Var(&o.Seed, "seed", 1, "the same seed gives the same race")
	flag.IntVar(&o.Athletes, "athletes", 0, "how many, 0: the kind's own number")
	flag.BoolVar(&o.Plain, "plain", false, "nothing goes wrong but what antennas miss")
	flag.Float64Var(&o.Rates.Missed, "missed", 0, "share of passings that one system misses for itself; 0: the kind's own, negative: none")
	flag.Float64Var(&o.Rates.Shielded, "shielded", 0, "share of passings that no system sees")
	flag.Float64Var(&o.Rates.Extra, "extra", 0, "share of passings read again 40 to 360 s later")
	dir := flag.String("dir", "", "folder to write race/ and truth/ into")
	truth := flag.Bool("truth", true, "write truth/ too")
	flag.Parse()
	if *dir == "" || flag.NArg() > 0 {
		flag.Usage()
		os.Exit(2)
	}
	if err := write(o, *dir, *truth); err != nil {
		fmt.Fprintln(os.Stderr, "makerace:", err)
		os.Exit(1)
	}
}

func write(o invent.Options, dir string, truth bool) error {
	r, err := invent.Make(o)
	if err != nil {
		return err
	}
	if err := r.Write(filepath.Join(dir, "race")); err != nil || !truth {
		return err
	}
	return r.WriteTruth(filepath.Join(dir, "truth"))
}
