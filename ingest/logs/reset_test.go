package logs

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

func feedText(l *Log, path, text string) { l.Append(l.File(path), []byte(text)) }

func newLog(system race.System) *Log {
	return New(planFor("Europe/Lisbon", 2026, 5, 17, race.Log{System: system}), 0)
}

const fiveLines = `tag,time,antenna,rssi
A1,2026-05-17 10:00:00.100,1,-50
A1,2026-05-17 10:00:00.100,1,-50
rubbish
A2,2026-05-17 10:00:01,2,-60
A1,2026-05-17 10:00:02,1,-50
`

// A file begun again and downloaded whole gives what it gave, at every moment of it.
func TestAFileBegunAgainGivesWhatItGave(t *testing.T) {
	l := newLog(race.Main)
	feedText(l, "a.csv", fiveLines)
	before := l.Reads()
	if before.Kept != 3 || before.Repeated != 1 || before.BadLines != 1 {
		t.Fatalf("%+v", before)
	}
	for range 3 {
		l.Reset(0)
		for i := range len(fiveLines) {
			l.Append(0, []byte(fiveLines[i:i+1]))
			r := l.Reads()
			check(t, r)
			if r.Kept != 3 || r.Repeated != 1 || r.BadLines != 1 {
				t.Fatalf("after %d bytes: %d kept, %d repeated, %d bad", i+1, r.Kept, r.Repeated, r.BadLines)
			}
			for j := range r.Tags.Len() {
				if &r.Tags.At(j).Reads[0] != &before.Tags.At(j).Reads[0] {
					t.Fatalf("after %d bytes the reads of %s are another slice", i+1, r.Tags.At(j).Tag)
				}
			}
		}
		if r := l.Reads(); r.Files[0].Gone != 0 {
			t.Errorf("%d lines gone", r.Files[0].Gone)
		}
	}
	feedText(l, "a.csv", "A3,2026-05-17 10:00:03,1,-50\n")
	if r := l.Reads(); r.Kept != 4 || r.Lines != 6 {
		t.Errorf("after one more line: %+v", r)
	}
}

// What a file lost stays known and is told as gone; what it has more of counts.
func TestWhatAFileLosesStaysKnown(t *testing.T) {
	l := newLog(race.Main)
	feedText(l, "a.csv", fiveLines)
	l.Reset(0)
	feedText(l, "a.csv", "tag,time,antenna,rssi\nA2,2026-05-17 10:00:01,2,-60\nA2,2026-05-17 10:00:01,2,-60\nother rubbish\nA9,2026-05-17 10:00:09,,\n")
	r := l.Reads()
	check(t, r)
	// Old: A1 twice, A1 later, A2, one bad. New: A2 twice, A9, one bad. Together each as
	// often as where it is most.
	if r.Kept != 4 || r.Repeated != 2 || r.BadLines != 2 || r.Files[0].Gone != 4 {
		t.Errorf("%d kept, %d repeated, %d bad, %d gone", r.Kept, r.Repeated, r.BadLines, r.Files[0].Gone)
	}
	l.Reset(0)
	r = l.Reads()
	check(t, r)
	if r.Kept != 4 || r.Repeated != 2 || r.BadLines != 2 || r.Files[0].Gone != 8 {
		t.Errorf("emptied: %d kept, %d repeated, %d bad, %d gone", r.Kept, r.Repeated, r.BadLines, r.Files[0].Gone)
	}
}

// Any sequence of contents: every line counts as often as in the content that has it most,
// whatever the order of the contents.
func TestContentsAddUpInAnyOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 2))
	for round := range 300 {
		var contents []string
		for range 1 + rng.IntN(4) {
			var b strings.Builder
			b.WriteString("tag,time,antenna,rssi\n")
			for range rng.IntN(30) {
				if rng.IntN(8) == 0 {
					fmt.Fprintf(&b, "rubbish %d\n", rng.IntN(3))
					continue
				}
				fmt.Fprintf(&b, "T%d,2026-05-17 10:00:0%d,%d,-50\n", rng.IntN(3), rng.IntN(4), 1+rng.IntN(2))
			}
			contents = append(contents, b.String())
		}
		want := map[string]int{}
		for _, c := range contents {
			have := map[string]int{}
			for _, line := range strings.Split(c, "\n")[1:] {
				if line != "" {
					have[line]++
				}
			}
			for line, n := range have {
				want[line] = max(want[line], n)
			}
		}
		lines, kept, bad := 0, 0, 0
		for line, n := range want {
			lines += n
			if strings.HasPrefix(line, "rubbish") {
				bad += n
			} else {
				kept++
			}
		}
		// Another file of the log has lines of its own, which add to these.
		other := rng.IntN(2) == 0
		for range 2 {
			rng.Shuffle(len(contents), func(i, j int) { contents[i], contents[j] = contents[j], contents[i] })
			l := newLog(race.Main)
			for i, c := range contents {
				if i > 0 {
					l.Reset(0)
				}
				feedText(l, "a.csv", c)
				if other && i == 0 {
					feedText(l, "b.csv", "tag,time,antenna,rssi\nT1,2026-05-17 10:00:01,1,-50\n")
				}
				if rng.IntN(2) == 0 {
					check(t, l.Reads())
				}
			}
			r := l.Reads()
			check(t, r)
			wantLines, wantKept := lines, kept
			if other {
				wantLines++
				if want["T1,2026-05-17 10:00:01,1,-50"] == 0 {
					wantKept++
				}
			}
			if r.Lines != wantLines || r.Kept != wantKept || r.BadLines != bad {
				t.Fatalf("round %d: %d lines, %d kept, %d bad; want %d, %d, %d", round, r.Lines, r.Kept, r.BadLines, wantLines, wantKept, bad)
			}
		}
	}
}

// Times of day keep the day they had when the file is begun again, cut at its head or not.
func TestDaysStayWhenAFileIsBegunAgain(t *testing.T) {
	text := "tag,time\nA,22:00:00\nB,23:00:00\nC,00:30:00\nD,01:00:00\n"
	l := newLog(race.Main)
	feedText(l, "a.csv", text)
	want := told(l.Reads())
	l.Reset(0)
	feedText(l, "a.csv", text)
	if got := told(l.Reads()); got != want {
		t.Error(firstDifference(got, want))
	}
	l.Reset(0)
	feedText(l, "a.csv", "tag,time\nC,00:30:00\nD,01:00:00\nE,01:30:00\n")
	r := l.Reads()
	check(t, r)
	if r.Kept != 5 || r.Tags.At(4).Reads[0].At != race.Instant(unix("2026-05-18T01:30:00+01:00")) {
		t.Errorf("%d reads, the last at %s", r.Kept, r.Tags.At(4).Reads[0].At.Time(l.plan.Zone))
	}
}

// A line that waits for its newline is one line more, and no read.
func TestALineWithoutItsNewlineWaits(t *testing.T) {
	for text, want := range map[string][3]int{ // waiting; after Finish: reads, bad
		"A1,2026-05-17 10:00:05,1,-5":         {1, 1, 0},
		"A1,2026-05-17 10:00:05,1,-":          {1, 0, 1},
		"A1,2026-05-17 10:00:05,1":            {1, 0, 1},
		"A1,2026-05-17 10:0":                  {1, 0, 1},
		"A":                                   {1, 0, 1},
		"  ":                                  {0, 0, 0},
		"\"A1\",\"2026-05-17 10:00:05\",1,-5": {1, 1, 0},
		"tag,time,antenna,rssi":               {1, 0, 0},
	} {
		l := newLog(race.Main)
		feedText(l, "a.csv", "tag,time,antenna,rssi\nA0,2026-05-17 10:00:00,1,-50\n"+text)
		r := l.Reads()
		check(t, r)
		if r.Waiting != want[0] || r.Kept != 1 {
			t.Errorf("%q: %d waiting, %d kept", text, r.Waiting, r.Kept)
		}
		l.Finish()
		l.Finish()
		r = l.Reads()
		check(t, r)
		if r.Waiting != 0 || r.Kept != 1+want[1] || r.BadLines != want[2] {
			t.Errorf("%q finished: %d waiting, %d kept, %d bad", text, r.Waiting, r.Kept, r.BadLines)
		}
	}
	// Where the time ends the line, half of it isn't the whole.
	l := newLog(race.Main)
	feedText(l, "a.csv", "tag,time\nA0,2026-05-17 10:00:00.123\nA1,2026-05-17 10:00:01.1")
	l.Finish()
	if r := l.Reads(); r.Kept != 1 || r.BadLines != 1 {
		t.Errorf("half a time: %d kept, %d bad", r.Kept, r.BadLines)
	}
}
