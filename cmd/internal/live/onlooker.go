package live

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"twinmat/ingest/journal"
)

const rulingsFault = "rulings read"

var rulingsEvery = time.Second // shorter where a test waits for it

// watchRulings takes in what is ruled elsewhere, at a console that only looks: without it, what it
// shows and exports would be the race of when it was opened.
func (r *Race) watchRulings(ctx context.Context) {
	for last := ""; ; {
		if now := rulingsStamp(r.dir); now != last {
			rs, report, err := journal.Read(r.dir)
			report.Torn = 0 // it is being written
			says := report.String()
			if err != nil {
				says = err.Error()
			}
			r.over(rulingsFault)
			if says != "" {
				r.noteUntil(rulingsFault, "%s", says)
			}
			r.mu.Lock()
			if err == nil {
				r.rulings = rs
			}
			r.mu.Unlock()
			last = now
			r.nudge()
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(rulingsEvery):
		}
	}
}

// rulingsStamp tells whether the rulings on disk may have changed.
func rulingsStamp(dir string) string {
	info, err := os.Stat(filepath.Join(dir, journal.File))
	if err != nil {
		return "none"
	}
	return fmt.Sprint(info.Size(), " ", info.ModTime().UnixNano())
}
