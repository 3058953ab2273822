package main

import (
	"runtime/debug"
	"testing"
)

func TestVersion(t *testing.T) {
	module := func(v string, ok bool) func() (*debug.BuildInfo, bool) {
		return func() (*debug.BuildInfo, bool) { return &debug.BuildInfo{Main: debug.Module{Version: v}}, ok }
	}
	for _, c := range []struct {
		name, release string
		build         func() (*debug.BuildInfo, bool)
		want          string
	}{
		{"a release says so", "v1.2.3", module("v9.9.9", true), "v1.2.3"},
		{"go install knows its version", "", module("v1.0.1", true), "v1.0.1"},
		{"a checkout is no version", "", module("(devel)", true), "dev"},
		{"a build without its story", "", module("", false), "dev"},
	} {
		if got := known(c.release, c.build); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}
