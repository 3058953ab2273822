// Package tui is the live console: it shows snapshots of the race and turns keys into
// questions and rulings. It never works a time out itself; what it doesn't find in a
// snapshot it asks of the Desk.
//
// A snapshot (race.State) is made elsewhere, never changes, and comes through one channel.
// One goroutine takes it from there, prepares what the screens need (book) and sends it to
// the program; everything else happens in the program's own loop.
package tui

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// Desk is what the console asks of the running race. Every call may block; the console
// makes them away from its own loop, rulings one after the other.
type Desk interface {
	// Preview is the race as it stands and as it would with these rulings, made one after the
	// other, both of the same reads; nothing is written. The error says why one can't apply to the
	// race as it stands; whether it still does after those before it, Rule says.
	Preview(rs ...race.Ruling) (before, after *race.State, err error)
	// Rule keeps the ruling and tells its number; it is on disk when Rule returns no error.
	Rule(r race.Ruling) (seq int, err error)
	// Parse reads the arguments of `rule`: "set-status --bib 327 --status dnf".
	Parse(line string) (race.Ruling, error)
	// Words is a ruling told in words. It alone is asked while drawing and never blocks.
	Words(r race.Ruling) string
	// Export writes the files and says what was written.
	Export() (said string, err error)
	// Since lists the bibs whose exported cells would be others now than in the files that
	// were exported last, by whom and when ever; exported is false where there are none.
	Since(now *race.State) (bibs []string, exported bool, err error)
	// Explain is the story of a bib's times, a line each.
	Explain(bib string) []string
	// At is the race as it stood at an earlier moment.
	At(t race.Instant) (*race.State, error)
	// TakePlan takes in the changed plan that waits for a yes.
	TakePlan() error
}

// An Update is a new snapshot of the race.
type Update struct {
	State    *race.State
	Revision int
	Notices  []Notice
	Health   []Health
	Pending  string // what a changed plan that waits for a yes would do, "" : none waits
}

// Level is what it costs to miss a notice.
type Level uint8

// The levels of a notice.
const (
	Quiet  Level = iota // for the record: shown until the next key
	Needed              // somebody must look at it
	Urgent              // times are being lost while nobody does
)

// A Notice is something to be told once. Notices with the same Key are one.
type Notice struct {
	Key   string
	Level Level
	Says  string
	Over  bool     // it holds no more: it is told to nobody, and taken back where it waits
	cases []string // ids of the new ones that it tells of together
	many  int      // more of them than anybody settles one by one: only counted
}

// Health is how the following of one log stands.
type Health struct {
	Source  int       // index in Plan.Logs
	Grew    time.Time // when reads last came, on Options.Clock's clock; zero: none since the start
	Missing bool      // no such file yet
	Waiting int       // bytes of a last line that has no newline yet
	Trouble string    // what is wrong with it, "" : nothing
}

// Options are what a run of the console needs.
type Options struct {
	ReadOnly bool
	Why      string // why nothing can be ruled here
	ASCII    bool
	Theme    string // sun, night, mono; "" : chosen by the terminal
	Updates  <-chan Update
	Desk     Desk
	Clock    func() time.Time // the laptop's clock, for the screen and for times taken by a key
	Who      string           // who rules
	Title    string
	Bell     bool

	Input   *os.File // nil: the terminal
	Output  *os.File
	Version string // for a crash report
	Crash   string // folder for a crash report; "" : the system's for temporary files
	Meter   *Meter // nil: nothing is measured
}

// The painter shows a frame at once; so often bubbletea's renderer looks whether there is a new
// one to write after it.
const framesASecond = 30

// At thirty frames a second data seems to move by itself, and a slow link still keeps up.
const frameEvery = 33 * time.Millisecond

// Run shows the console until it is left or ctx ends. It returns an error when the program
// broke; the terminal is whole again by then.
func Run(ctx context.Context, o Options) error {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	theme, profile := chooseTheme(o.Theme, os.Getenv)
	m := newRoot(o, newLook(theme, o.ASCII, profile))
	m.profile = profile
	opts := []tea.ProgramOption{tea.WithContext(ctx), tea.WithAltScreen(), tea.WithMouseCellMotion(),
		tea.WithReportFocus(), tea.WithFPS(framesASecond), tea.WithFilter(newSieve().filter)}
	if o.Input != nil {
		opts = append(opts, tea.WithInput(o.Input))
	}
	if o.Output == nil {
		o.Output = os.Stdout
	}
	to := canvas{o.Output, &sync.Mutex{}, o.Meter}
	opts = append(opts, tea.WithOutput(to))
	m.painter.out = to
	m.steady = time.Now
	p := tea.NewProgram(m, opts...)
	inner, stop := context.WithCancel(ctx)
	f := &feeder{program: p, updates: o.Updates, crash: o.Crash, version: o.Version, done: make(chan struct{})}
	go f.run(inner)
	_, err := p.Run()
	stop()
	<-f.done
	if f.report == "" {
		f.report = m.broken
	}
	if f.report != "" {
		return fmt.Errorf("the console broke; a report is in %s", f.report)
	}
	if errors.Is(err, tea.ErrProgramKilled) && ctx.Err() != nil {
		return nil
	}
	return err
}
