package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// complete tells the shell what a command's words are: folders for a race, files for a log,
// nothing where a word is anybody's to choose.
func complete(root *cobra.Command) {
	for _, c := range root.Commands() {
		if c.ValidArgsFunction != nil || len(c.ValidArgs) > 0 {
			continue
		}
		words := strings.Fields(c.Use)[1:]
		c.ValidArgsFunction = func(_ *cobra.Command, given []string, _ string) ([]string, cobra.ShellCompDirective) {
			if len(given) < len(words) {
				switch words[len(given)] {
				case "RACE", "DIR":
					return nil, cobra.ShellCompDirectiveFilterDirs
				case "LOG":
					return nil, cobra.ShellCompDirectiveDefault
				}
			}
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
	}
}
