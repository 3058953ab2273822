package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// peakFile names a file into which the test's binary, run as the program, writes the most
// memory that it took. What wait tells of a child won't do: it counts the process that
// the child was forked from.
const peakFile = "TWINMAT_PEAK_FILE"

func init() {
	atEnd = func() {
		if path := os.Getenv(peakFile); path != "" {
			_ = os.WriteFile(path, []byte(statusLine("VmHWM")), 0o600)
		}
	}
}

// statusLine is one of this process's own figures in /proc.
func statusLine(name string) string {
	b, _ := os.ReadFile("/proc/self/status")
	for line := range strings.Lines(string(b)) {
		if s, ok := strings.CutPrefix(line, name+":"); ok {
			return s
		}
	}
	return ""
}

// withPeak runs a command of asItself to its end, and gives what it said and the most memory,
// in bytes, that it took.
func withPeak(t *testing.T, c *exec.Cmd) (said []byte, peak int64) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "peak")
	c.Env = append(c.Env, peakFile+"="+path)
	said, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := fmt.Sscan(string(b), &peak); err != nil {
		t.Fatalf("%q: %v", b, err)
	}
	return said, peak << 10
}
