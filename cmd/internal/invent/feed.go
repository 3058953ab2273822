package invent

import (
	"cmp"
	"errors"
	"iter"
	"slices"
	"strings"
	"time"
)

// pieces gives what a log's files get, in the order in which they get it, the header a
// moment before the first read. A log that reads nothing has no file. The bytes are good
// until the next piece.
func (r *Race) pieces(p *logPlan) iter.Seq2[piece, error] {
	return func(give func(piece, error) bool) {
		if p.soil != "" {
			lines, _, err := r.soiled(p)
			if err != nil {
				give(piece{}, err)
				return
			}
			for _, l := range lines {
				if !give(l, nil) {
					return
				}
			}
			return
		}
		w := writer{form: p.form, zone: r.zone}
		var buf []byte
		first := true
		stop := r.each(p, func(s *stamped) error {
			if head := headers[p.form]; first && head != "" && !p.continues {
				buf = append(append(buf[:0], head...), '\n')
				if !give(piece{bytes: buf, when: s.write}, nil) {
					return errStopped
				}
			}
			first = false
			buf = w.line(buf[:0], s)
			if !give(piece{bytes: buf, when: s.write}, nil) {
				return errStopped
			}
			return nil
		})
		if stop != nil && !errors.Is(stop, errStopped) {
			give(piece{}, stop)
		}
	}
}

type stopped struct{}

func (stopped) Error() string { return "stopped" }

var errStopped = stopped{}

// filePath is the path of a log's file by its number, below the race folder.
func (p *logPlan) filePath(n int) string {
	if !strings.Contains(p.path, "*") {
		return p.path
	}
	return strings.Replace(p.path, "*", "-"+string(rune('1'+n)), 1)
}

// Feed gives every line of every log in the order in which the systems append them: the
// file's path below the race folder, the bytes with their newline (good until at returns),
// and the moment on the race clock. It stops at the first error and returns it.
func (r *Race) Feed(at func(path string, line []byte, when time.Time) error) error {
	type source struct {
		p    *logPlan
		pull func() (piece, error, bool)
		now  piece
	}
	var from []*source
	for l := range r.lines {
		for k := range r.lines[l].logs {
			p := &r.lines[l].logs[k]
			next, stop := iter.Pull2(r.pieces(p))
			defer stop()
			s := &source{p: p, pull: next}
			now, err, ok := next()
			if err != nil {
				return err
			}
			if ok {
				s.now = now
				from = append(from, s)
			}
		}
	}
	for len(from) > 0 {
		s := slices.MinFunc(from, func(a, b *source) int { return cmp.Compare(a.now.when, b.now.when) })
		if err := at(s.p.filePath(s.now.file), s.now.bytes, time.UnixMicro(s.now.when).In(r.zone)); err != nil {
			return err
		}
		now, err, ok := s.pull()
		switch {
		case err != nil:
			return err
		case !ok:
			from = slices.DeleteFunc(from, func(x *source) bool { return x == s })
		default:
			now.when = max(now.when, s.now.when)
			s.now = now
		}
	}
	return nil
}
