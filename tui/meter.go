package tui

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	tea "github.com/charmbracelet/bubbletea"
)

// A Meter takes down what the console's loop costs, for the load test. In a race there is
// none.
type Meter struct {
	mu   sync.Mutex // the loop and the renderer both write
	took map[string][]time.Duration
	key  time.Time // when the loop took a key that nothing was written after yet, zero: none
}

// began starts a turn of the loop; what it returns ends it.
func (m *Meter) began(msg tea.Msg) func() {
	if m == nil {
		return func() {}
	}
	name := "other"
	switch msg.(type) {
	case tea.KeyMsg, tea.MouseMsg:
		name = "key"
	case bookMsg:
		name = "snapshot"
	case frameMsg:
		name = "frame"
	}
	start := time.Now()
	if name == "key" {
		m.mu.Lock()
		if m.key.IsZero() {
			m.key = start
		}
		m.mu.Unlock()
	}
	return func() {
		m.mu.Lock()
		defer m.mu.Unlock()
		m.note(name, time.Since(start))
	}
}

func (m *Meter) note(name string, d time.Duration) {
	if m.took == nil {
		m.took = map[string][]time.Duration{}
	}
	m.took[name] = append(m.took[name], d)
}

// wrote is told of every write to the terminal.
func (m *Meter) wrote() {
	if m == nil {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.key.IsZero() {
		return
	}
	m.note("key to terminal", time.Since(m.key))
	m.key = time.Time{}
}

// String tells of each kind of turn how many there were, their percentiles and the longest.
func (m *Meter) String() string {
	m.mu.Lock()
	defer m.mu.Unlock()
	var names []string
	for n := range m.took {
		names = append(names, n)
	}
	slices.Sort(names)
	var b strings.Builder
	for _, n := range names {
		d := slices.Sorted(slices.Values(m.took[n]))
		late, _ := slices.BinarySearch(d, frameEvery+1)
		at := func(percent int) time.Duration { return d[(len(d)-1)*percent/100].Round(10 * time.Microsecond) }
		fmt.Fprintf(&b, "%-26s %6d: p50 %v, p90 %v, p99 %v, longest %v, over %v: %d\n", n, len(d), at(50), at(90), at(99), at(100), frameEvery, len(d)-late)
	}
	return b.String()
}
