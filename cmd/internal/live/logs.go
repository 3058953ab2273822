package live

import (
	"context"
	"time"

	"twinmat/ingest/follow"
	"twinmat/reconcile/race"
)

// startLogs follows every log of the plan, each in a goroutine of its own: a share that
// hangs stops only its own.
func (r *Race) startLogs(ctx context.Context) {
	ctx, stop := context.WithCancel(ctx)
	r.mu.Lock()
	defer r.mu.Unlock()
	p := r.folder.Plan
	r.stopLogs = stop
	r.reads = make([]*race.Reads, len(p.Logs))
	r.health = make([]Health, len(p.Logs))
	reads, health := r.reads, r.health // of this plan; a later one has its own
	now := time.Now()
	for s, l := range p.Logs {
		health[s] = Health{Status: follow.Status{Source: s}, Path: l.Path, Looked: now}
		of := turn{l.Path, earlier(p, s)}
		before, end := r.begun[of], make(chan struct{})
		r.begun[of] = end
		go r.guarded(func() {
			defer close(end)
			if before != nil {
				<-before // two may not write one copy
			}
			r.follow(ctx, p, s, reads, health)
		})()
	}
}

// turn is one of the logs of a plan that have the same path: a box that moves from line to line
// writes one file, and from and to say what of it belongs where. The first of them keeps the copy
// and tells what becomes of the file.
type turn struct {
	path string
	nth  int
}

// earlier is how many logs of a plan before one have its path.
func earlier(p *race.Plan, s int) int {
	n := 0
	for _, l := range p.Logs[:s] {
		if l.Path == p.Logs[s].Path {
			n++
		}
	}
	return n
}

// Replaced where a test has a share that hangs.
var (
	newFollower = follow.New
	pollLog     = (*follow.Log).Poll
)

// follow looks at one log until the context ends.
func (r *Race) follow(ctx context.Context, p *race.Plan, s int, reads []*race.Reads, health []Health) {
	var l *follow.Log
	defer func() {
		if l != nil {
			l.Close()
		}
	}()
	leads := earlier(p, s) == 0
	for first := true; ctx.Err() == nil; {
		r.mu.Lock()
		hint := r.hint // before the look: what comes during it makes another
		r.mu.Unlock()
		var changed bool
		var err error
		if l == nil {
			l, err = newFollower(r.dir, p, s, follow.Options{Keep: r.journal != nil && leads})
			if err != nil {
				l = nil // it is tried again
			}
		}
		st := follow.Status{Source: s}
		var now *race.Reads
		if l != nil {
			changed, err = pollLog(l)
			st = l.Status()
			if changed || first {
				now = l.Reads()
			}
		}
		if err != nil {
			st.Fault = err.Error()
		}
		if ctx.Err() != nil {
			return // another plan may hold by now
		}
		was, last := r.seen(s, st, now, first, reads, health)
		if leads {
			r.tellOf(p.Logs[s].Path, st, was, now, first, last)
		}
		if now != nil || st.Fault != was.Fault {
			r.nudge()
		}
		if now != nil {
			first = false
		}
		select {
		case <-ctx.Done():
			return
		case <-hint:
		case <-time.After(r.poll):
		}
	}
}

// seen notes what a look at a log showed: now are its reads, nil: as before. It returns how the
// log stood before, and its newest read then.
func (r *Race) seen(s int, st follow.Status, now *race.Reads, first bool, reads []*race.Reads, health []Health) (was follow.Status, last race.Instant) {
	r.mu.Lock()
	defer r.mu.Unlock()
	h := &health[s]
	was, last = h.Status, h.LastAt
	h.Status, h.Looked = st, time.Now()
	if now != nil {
		if before := reads[s]; before == nil || first {
			h.LastAt = latest(now)
		} else {
			h.LastAt = latestSince(now, before, h.LastAt)
		}
		reads[s] = now
		h.OnRace = r.onRace(s, h.LastAt)
		if n := now.Lines - now.Repeated - now.BadLines - now.Waiting; n > h.reads || first {
			if !first { // a header, rubbish and what is downloaded again are nothing new
				h.LastNew = h.Looked
				h.came(r.now)
			}
			h.reads = n
		}
		h.tally(Tally{now.Lines, now.BadLines})
	}
	return was, last
}

// tellOf tells what became of a log's files since the look before, when its newest read was last.
func (r *Race) tellOf(path string, st, was follow.Status, now *race.Reads, first bool, last race.Instant) {
	if st.Fault != was.Fault {
		r.over("fault " + path)
		switch {
		case st.Fault == "":
			r.note(false, "%s is being read", path)
		case first || st.Files > 0: // the health of a log that has files tells it
			r.note(false, "%s", st.Fault)
		default:
			r.noteUntil("fault "+path, "%s", st.Fault)
		}
	}
	if st.Begun > was.Begun {
		r.note(false, "%s was cut, replaced or downloaded anew: it is read again from the beginning, and what it held stays", path)
		if gone := lost(now); gone > 0 {
			r.note(true, "a gap is possible: %s lacks %s that it held (kept here), and what was written to it after the last look, from %s on, may be in no file any more; is there a copy of it on the box?",
				path, race.Counted(gone, "line", "lines"), r.clock(last))
		}
	}
}

// lost is how many lines a log's files once held and hold no more.
func lost(x *race.Reads) int {
	n := 0
	for i := 0; x != nil && i < len(x.Files); i++ {
		n += x.Files[i].Gone
	}
	return n
}

// clock writes the time of day of an instant.
func (r *Race) clock(t race.Instant) string {
	if !t.Known() {
		return "its beginning"
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	return t.Clock(r.folder.Plan.Zone)
}
