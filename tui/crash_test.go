package tui

import (
	"os"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

type breakingDesk struct{ *fakeDesk }

func (breakingDesk) Explain(string) []string { panic("a hole in the story") }

func (breakingDesk) Words(r race.Ruling) string { panic("no words") }

func TestAPanicLeavesAReportAndEndsTheProgram(t *testing.T) {
	for name, keys := range map[string]string{"in a command": "3 enter", "while drawing": "7"} {
		t.Run(name, func(t *testing.T) {
			d := newDriver(t, 80, 24, 20, func(o *Options) { o.Crash = t.TempDir() })
			s := *d.desk.state
			s.Rulings = []race.Ruling{{Seq: 1, Rule: race.SetStatus}}
			d.desk.state = &s
			d.breaks = true
			d.m.o.Desk = breakingDesk{d.desk}
			d.feed()
			for _, k := range strings.Fields(keys) {
				d.send(press(k))
			}
			if !d.quit || d.m.broken == "" {
				t.Fatal("the program goes on")
			}
			b, err := os.ReadFile(d.m.broken)
			if err != nil || !strings.Contains(string(b), "goroutine") {
				t.Fatalf("no report: %v, %s", err, b)
			}
		})
	}
}
