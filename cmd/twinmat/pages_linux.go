package main

import (
	"os"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"

	"golang.org/x/sys/unix"
)

// pagesRoom is of how much memory the system is told to make great pages: more than the
// greatest race takes. It is address space alone until it is used.
const pagesRoom = 1 << 30

// greatPages asks the system to serve memory in pages of megabytes where it does so on request
// only. A great race is looked up all over hundreds of megabytes, once per read: with pages of
// 4 kB a sixth of an export went on finding them. Go takes memory that it has had before it asks
// for more, so a piece that is marked and let go is what the race then lives in. Where address
// space is counted the piece could be refused, which would end the program: there all stays as
// it is.
func greatPages() { pagesOnce() }

var pagesOnce = sync.OnceFunc(func() {
	if strconv.IntSize < 64 || counted() || os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	if unix.Madvise(make([]byte, pagesRoom), unix.MADV_HUGEPAGE) == nil {
		debug.FreeOSMemory()
	}
})

// counted tells whether address space that isn't used counts as memory.
func counted() bool {
	var space unix.Rlimit
	if unix.Getrlimit(unix.RLIMIT_AS, &space) != nil || space.Cur != unix.RLIM_INFINITY {
		return true
	}
	strict, err := os.ReadFile("/proc/sys/vm/overcommit_memory")
	return err != nil || strings.TrimSpace(string(strict)) == "2"
}
