package tui

import (
	"bytes"
	"io"
	"os"
	"strconv"
	"sync"
)

// A painter puts a frame on the terminal the moment it is drawn. bubbletea v1 would let it
// wait for the next tick of its renderer, 8 ms at best and more where processors are busy.
// The renderer goes on writing the same frames after it and has the last word, so that the
// terminal is right whatever happens here: every frame passes both, hence a line that both
// pass over is one that both wrote as it is.
type painter struct {
	out  io.Writer // nil: nothing is painted
	last string    // the frame last painted, and its lines
	was  []string
	text bytes.Buffer
}

// paint writes the lines of a frame that are others than those painted before.
func (p *painter) paint(frame string) {
	if p.out == nil || frame == p.last { // the same string, mostly: told without looking at its text
		return
	}
	now := lines(frame)
	p.text.Reset()
	for i, l := range now {
		if len(p.was) == len(now) && p.was[i] == l {
			continue
		}
		p.text.WriteString("\x1b[")
		p.text.WriteString(strconv.Itoa(i + 1))
		p.text.WriteString(";1H")
		p.text.WriteString(l)
	}
	p.last, p.was = frame, now
	if _, err := p.out.Write(p.text.Bytes()); err != nil {
		p.out = nil // the renderer meets the same error, and tells it
	}
}

// A canvas is the terminal as painter and renderer share it: one write at a time, so that
// theirs don't mix.
type canvas struct {
	*os.File
	mu    *sync.Mutex
	meter *Meter
}

func (c canvas) Write(b []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	n, err := c.File.Write(b)
	c.meter.wrote()
	return n, err
}
