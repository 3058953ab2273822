// Package live runs a race while it happens: a follower a log, the plan and the lists
// followed too, one goroutine that computes, and rulings that are on disk before anybody
// sees their effect. A screen or a script stands on top.
package live

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"github.com/fsnotify/fsnotify"

	"twinmat/ingest"
	"twinmat/ingest/journal"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

const (
	pollEvery    = 250 * time.Millisecond // the longest wait for a new read where a folder gives no events
	planEvery    = time.Second            // plan and lists change seldom
	computeEvery = 100 * time.Millisecond // at most so often, in a great race less; a burst is taken in at once
	maxNotices   = 200
	firstWait    = 5 * time.Second // for the first look at every log; a share that hangs holds nobody up for longer
)

// Notice is something that a person should be told once.
type Notice struct {
	At   time.Time
	Text string
	Bad  bool   // it wants somebody
	Over bool   // it holds no more: who hasn't heard of it needs not
	of   string // what is told until it is over, "" : once and for all
}

// Update is the race as it stands, for a screen.
type Update struct {
	State    *race.State
	Revision int
	Notices  []Notice
	Health   []Health
	Pending  string // what a changed plan that waits for a yes would do, "" : none waits
}

// Options say how a race is run.
type Options struct {
	ReadOnly bool
	Copy     string        // a second folder that gets a copy of every ruling, "" : none
	Poll     time.Duration // 0: pollEvery
	NoEvents bool          // poll only
	Invented bool          // reads are of another day and pace: the laptop's clock isn't held against them
}

// Race is a race that is being followed.
type Race struct {
	dir      string
	version  string
	readOnly string // why nothing can be ruled, "" : it can
	poll     time.Duration
	noEvents bool
	invented bool
	stamped  string // plan and lists, as they were opened
	journal  *journal.Journal
	fail     func(any, []byte) // told of a panic in one of our goroutines
	updates  chan Update
	wake     chan struct{} // capacity 1
	hint     chan struct{} // closed and replaced to wake every follower; guarded by mu

	mu           sync.Mutex // guards what follows
	folder       *ingest.Folder
	reads        []*race.Reads
	health       []Health
	ahead        []ahead      // of each log, by the newest state
	now          race.Instant // likewise
	rulings      []race.Ruling
	notices      []Notice
	pending      *ingest.Folder // a changed plan that waits to be taken in, nil: none
	pendingStamp string         // how its files were stamped
	pendingSays  string         // what it would do, "" : none waits
	stopLogs     context.CancelFunc
	begun        map[turn]chan struct{} // closed when the last follower of a log has ended
	tripped      map[string]Trip

	planMu   sync.Mutex // one plan is taken in at a time
	ruleMu   sync.Mutex // a ruling is checked against all before it
	exportMu sync.Mutex // the files of two exports don't mix

	engineMu sync.Mutex // guards what follows
	engine   reconcile.Engine
	state    *race.State
	revision int
}

// Open opens a race folder to run it. Without the lock, or when asked, it is opened to look
// at only.
func Open(path, version string, o Options) (*Race, error) {
	stamped := stamp(folderOf(path)) // before reading: what changes meanwhile is taken in later
	f, err := ingest.Open(path)
	if err != nil {
		return nil, err
	}
	r := &Race{dir: f.Dir, version: version, poll: o.Poll, noEvents: o.NoEvents, invented: o.Invented, stamped: stamped, folder: f, reads: make([]*race.Reads, len(f.Plan.Logs)), rulings: f.Rulings, updates: make(chan Update, 1),
		wake: make(chan struct{}, 1), hint: make(chan struct{}), begun: map[turn]chan struct{}{}, tripped: map[string]Trip{}}
	if r.poll == 0 {
		r.poll = pollEvery
	}
	if o.ReadOnly {
		r.readOnly = "this console was started with --read-only: it shows everything, what a ruling would change too, and makes none; to rule, leave with q and start watch without --read-only"
	} else if j, err := journal.Open(f.Dir); err != nil {
		r.readOnly = whyOnlyLooking(err)
		r.note(true, "read only: %s", r.readOnly)
	} else {
		r.journal, r.rulings = j, j.Rulings()
		if o.Copy != "" {
			if err := j.CopyTo(o.Copy); err != nil {
				return nil, errors.Join(err, j.Close())
			}
		}
	}
	if name := shareOf(f.Dir); name != "" {
		r.note(true, "this race lies on a network share (%s): the lock that keeps a second writer out may not hold there, and its clock of files may lag; a disk of this laptop's own is safer", name)
	}
	for _, p := range f.Problems {
		r.note(false, "%s", p.String())
	}
	if s := f.Journal.String(); s != "" && r.journal == nil {
		r.noteUntil(rulingsFault, "%s", s)
	} else if s != "" {
		r.note(true, "%s", s)
	}
	return r, nil
}

// whyOnlyLooking says what can't be done without the journal, what can, and the way out.
func whyOnlyLooking(err error) string {
	if errors.Is(err, journal.ErrLocked) {
		return fmt.Sprintf("%v, so that nothing can be ruled here: everything can be seen, what a ruling would change too; rule there, or end that console and open this one again", err)
	}
	return fmt.Sprintf("rulings can't be kept here, so that none can be made (%v): everything can be seen; put that right and open the console again", err)
}

// ReadOnly says why nothing can be ruled, "" when it can.
func (r *Race) ReadOnly() string { return r.readOnly }

// Name is the race's name.
func (r *Race) Name() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.folder.Plan.Name
}

// Dir is the race folder.
func (r *Race) Dir() string { return r.dir }

// Updates carries the newest state; one that nobody took is replaced.
func (r *Race) Updates() <-chan Update { return r.updates }

// Run follows the race until the context ends. A panic in one of its goroutines is given to
// fail, and ends the run.
func (r *Race) Run(ctx context.Context, fail func(any, []byte)) {
	r.fail = fail
	r.startLogs(ctx)
	var wg sync.WaitGroup
	if !r.noEvents {
		go r.guarded(func() { r.watchEvents(ctx) })() // a share that hangs may keep it for ever
	}
	wg.Go(r.guarded(func() { r.watchHealth(ctx) }))
	wg.Go(r.guarded(func() { r.watchPlan(ctx) }))
	if r.journal == nil {
		wg.Go(r.guarded(func() { r.watchRulings(ctx) }))
	}
	wg.Go(r.guarded(func() { r.compute(ctx) }))
	wg.Wait()
	r.mu.Lock()
	stop := r.stopLogs
	var ends []chan struct{}
	for _, c := range r.begun {
		ends = append(ends, c)
	}
	r.mu.Unlock()
	stop()
	late := time.After(2 * time.Second) // one whose share hangs is left behind
	for _, c := range ends {
		select {
		case <-c:
		case <-late:
			return
		}
	}
}

// Close gives the journal and its lock back.
func (r *Race) Close() error {
	if r.journal == nil {
		return nil
	}
	return r.journal.Close()
}

func (r *Race) guarded(f func()) func() {
	return func() {
		defer func() {
			if x := recover(); x != nil && r.fail != nil {
				r.fail(x, debug.Stack())
			}
		}()
		f()
	}
}

// nudge asks for a computation; a second nudge before it means nothing more.
func (r *Race) nudge() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

func (r *Race) note(bad bool, format string, a ...any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.put(Notice{At: time.Now(), Text: fmt.Sprintf(format, a...), Bad: bad})
}

// noteUntil tells what wants somebody until it is over; what was told of the same before is.
func (r *Race) noteUntil(of, format string, a ...any) {
	r.over(of)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.put(Notice{At: time.Now(), Text: fmt.Sprintf(format, a...), Bad: true, of: of})
}

// put appends a notice; r.mu is held.
func (r *Race) put(n Notice) {
	r.notices = append(r.notices, n)
	if n := len(r.notices) - maxNotices; n > 0 {
		r.notices = append([]Notice(nil), r.notices[n:]...)
	}
}

// over says that something holds no more.
func (r *Race) over(of string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for i := range r.notices {
		if r.notices[i].of == of {
			r.notices[i].Over = true
		}
	}
}

var newWatcher = fsnotify.NewWatcher // replaced where a test has no more of them

// watchEvents lets the file system wake the followers. It is a hint only: where there are
// no events, polling finds everything.
func (r *Race) watchEvents(ctx context.Context) {
	w, err := newWatcher()
	if err != nil {
		r.note(false, "no file events here (%v): logs are looked at every %v", err, r.poll)
		return
	}
	defer w.Close()
	for _, dir := range r.folders() {
		if err := w.Add(dir); err != nil {
			r.note(false, "no file events for %s (%v): it is looked at every %v", dir, err, r.poll)
		}
	}
	for overflowed := false; ; {
		select {
		case <-ctx.Done():
			return
		case _, ok := <-w.Events:
			if !ok {
				return
			}
		case err, ok := <-w.Errors:
			if !ok {
				return
			}
			if errors.Is(err, fsnotify.ErrEventOverflow) && !overflowed {
				overflowed = true
				r.note(false, "more file events than could be taken: logs are looked at every %v all the same", r.poll)
			}
		}
		r.mu.Lock()
		close(r.hint)
		r.hint = make(chan struct{})
		r.mu.Unlock()
		select { // events come in swarms
		case <-ctx.Done():
			return
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// allRead tells whether every log was looked at once: before that, half the logs would tell
// of silences and misses that aren't there.
func (r *Race) allRead() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, x := range r.reads {
		if x == nil {
			return false
		}
	}
	return true
}

// compute makes a new state whenever something came, at most every computeEvery.
func (r *Race) compute(ctx context.Context) {
	late := time.NewTimer(firstWait)
	defer late.Stop()
	for waited := false; ; {
		select {
		case <-ctx.Done():
			return
		case <-late.C:
			waited = true
		case <-r.wake:
		}
		if !waited && !r.allRead() {
			continue
		}
		waited = true
		start := time.Now()
		r.publish(r.computed())
		select {
		case <-ctx.Done():
			return
		case <-time.After(max(computeEvery, time.Since(start))): // the screen needs its share: half of the time
		}
	}
}

// Compute is the race as it stands now.
func (r *Race) Compute() *race.State {
	st, _ := r.computed()
	return st
}

// computed is the race as it stands now, and which of its states that is.
func (r *Race) computed() (st *race.State, revision int) {
	in := r.input()
	r.engineMu.Lock()
	defer r.engineMu.Unlock()
	r.state = r.engine.Compute(in)
	r.revision++
	return r.state, r.revision
}

// input is a consistent copy of what the state rests on.
func (r *Race) input() reconcile.Input {
	r.mu.Lock()
	defer r.mu.Unlock()
	in := r.folder.Input()
	in.Reads = append([]*race.Reads(nil), r.reads...)
	in.Rulings = r.rulings[:len(r.rulings):len(r.rulings)]
	return in
}

func (r *Race) publish(st *race.State, revision int) {
	r.mu.Lock()
	r.clocksOf(st)
	u := Update{State: st, Revision: revision, Notices: append([]Notice(nil), r.notices...), Health: append([]Health(nil), r.health...), Pending: r.pendingSays}
	r.mu.Unlock()
	select { // the newest replaces one that nobody took
	case <-r.updates:
	default:
	}
	select {
	case r.updates <- u:
	default:
	}
}
