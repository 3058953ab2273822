package main

import (
	"os"
	"strings"
	"testing"
)

// What Go gives out after greatPages lies where the system was asked for great pages: the flag
// hg of proc_pid_smaps(5).
func TestMemoryIsInGreatPages(t *testing.T) {
	if given, err := os.ReadFile("/sys/kernel/mm/transparent_hugepage/enabled"); err != nil || counted() {
		t.Skip("this system has no great pages, or counts address space: ", err, string(given))
	}
	t.Setenv("GOMEMLIMIT", "")
	greatPages()
	if n := marked(t); n < pagesRoom/2 {
		t.Errorf("%d bytes are marked, want %d", n, pagesRoom)
	}
}

// marked is how many bytes of address space are asked to be great pages.
func marked(t *testing.T) (bytes int) {
	maps, err := os.ReadFile("/proc/self/smaps")
	if err != nil {
		t.Fatal(err)
	}
	size := 0
	for line := range strings.Lines(string(maps)) {
		name, value, _ := strings.Cut(line, ":")
		switch cells := strings.Fields(value); {
		case name == "Size":
			size = atoi(cells[0]) << 10
		case name == "VmFlags":
			for _, flag := range cells {
				if flag == "hg" {
					bytes += size
				}
			}
		}
	}
	return bytes
}
