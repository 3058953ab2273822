package tui

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"time"

	tea "github.com/charmbracelet/bubbletea"
)

// A book of a big race takes some milliseconds to make: never more than this share of the
// time goes into it.
const restPerWork = 4

// A feeder is the one goroutine that sends data to the program. Keys queue behind every
// goroutine that waits to send, so there is never a second one.
type feeder struct {
	program interface {
		Send(tea.Msg)
		Kill()
	}
	updates <-chan Update
	crash   string
	version string
	report  string        // path of the crash report, set before done is closed
	done    chan struct{} // closed by run
}

// run sends at most one book a frame, always of the newest snapshot; notices of those
// between are kept. A steady feed still arrives: it waits for time, not for a pause.
func (f *feeder) run(ctx context.Context) {
	defer close(f.done)
	defer func() {
		if r := recover(); r != nil {
			f.report = CrashReport(f.crash, f.version, r, debug.Stack())
			f.program.Kill()
		}
	}()
	var last *book
	for {
		var u Update
		var ok bool
		select {
		case <-ctx.Done():
			return
		case u, ok = <-f.updates:
			if !ok {
				<-ctx.Done()
				return
			}
		}
		u, ok = newest(u, f.updates)
		began := time.Now()
		last = newBook(u, last)
		f.program.Send(bookMsg{last})
		if !ok {
			<-ctx.Done()
			return
		}
		rest := max(frameEvery, restPerWork*time.Since(began))
		select {
		case <-ctx.Done():
			return
		case <-time.After(rest):
		}
	}
}

// newest takes what waits in the channel; false when it was closed.
func newest(u Update, from <-chan Update) (Update, bool) {
	for {
		select {
		case v, ok := <-from:
			if !ok {
				return u, false
			}
			v.Notices = append(u.Notices[:len(u.Notices):len(u.Notices)], v.Notices...)
			if v.State == nil {
				v.State, v.Revision = u.State, u.Revision
			}
			if v.Health == nil {
				v.Health = u.Health
			}
			u = v // with the plan that waits now, if one does
		default:
			return u, true
		}
	}
}

// CrashReport leaves what is known of a panic in a folder, "" for that of temporary files, and
// returns its path, or in words why there is none. Names and times are not in it.
func CrashReport(dir, version string, what any, stack []byte) string {
	if dir == "" {
		dir = os.TempDir()
	}
	path := filepath.Join(dir, fmt.Sprintf("twinmat-crash-%d.txt", os.Getpid()))
	body := fmt.Sprintf("twinmat %s, %s/%s\n%v\n\n%s", version, runtime.GOOS, runtime.GOARCH, what, stack)
	if err := os.WriteFile(path, []byte(body), 0o600); err != nil {
		return fmt.Sprintf("nowhere (%v): %v", err, what)
	}
	return path
}
