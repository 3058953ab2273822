package main

import "runtime/debug"

// release is set when a release is built: -ldflags "-X main.release=v1.2.3".
var release string

// version names the program in exports and reports.
var version = known(release, debug.ReadBuildInfo)

// known is the release, else what `go install` wrote into the program, else "dev": two
// builds of one checkout must not differ in what they export.
func known(release string, build func() (*debug.BuildInfo, bool)) string {
	if release != "" {
		return release
	}
	if b, ok := build(); ok && b.Main.Version != "" && b.Main.Version != "(devel)" {
		return b.Main.Version
	}
	return "dev"
}
