package follow

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"twinmat/ingest/logs"
	"twinmat/reconcile/race"
)

const header = "tag,time,antenna,rssi\n"

func planOf(path string) *race.Plan {
	return &race.Plan{Zone: time.UTC, Date: time.Date(2026, 5, 17, 0, 0, 0, 0, time.UTC), Lines: []race.Line{{ID: "finish"}},
		Logs: []race.Log{{Path: path, System: race.Main}}}
}

// meaning is what a line is: a read's key, or a bad line's text. It is asked of a log of
// its own, so that only what following does is under test.
type meaning map[string]string

func (m meaning) of(line string) string {
	if k, ok := m[line]; ok {
		return k
	}
	l := logs.New(planOf("x"), 0)
	l.Append(l.File("x"), []byte(header+"ZZ,2026-05-17 09:00:00.000,1,-50\n"+line+"\n"))
	r := l.Reads()
	k := ""
	switch {
	case r.Kept == 2: // the other shows how long a time is here
		x := r.Tags.At(1).Reads[0]
		k = fmt.Sprintf("%s %d %s %d", r.Tags.At(1).Tag, x.At, r.Antennas[x.Antenna], x.RSSI)
	case r.BadLines == 1:
		k = "bad " + line
	}
	if timeEnds.MatchString(line) {
		k = doubtful + line
	}
	m[line] = k
	return k
}

// Whether a line that ends within its time has lost its end depends on the lines around it.
var timeEnds = regexp.MustCompile(`^\w*,[^,]*$`)

const doubtful = "may be a read or a bad line: "

// count is the multiset of a content's whole lines.
func (m meaning) count(content string) map[string]int {
	out := map[string]int{}
	for {
		line, rest, ok := strings.Cut(content, "\n")
		if !ok {
			return out
		}
		content = rest
		if line != "" && line+"\n" != header {
			out[m.of(line)]++
		}
	}
}

// known is what must be known of one file, and what may be: lines stand as often as in the
// content that had them most.
type known struct {
	content string // as it was last taken in
	must    map[string]int
	may     map[string]int
	since   time.Time // when content other than the last taken in first stood
	stands  string
	unsure  bool // whether content or what stood after it was taken in last
}

func newKnown() *known { return &known{must: map[string]int{}, may: map[string]int{}} }

func atMost(into, from map[string]int) {
	for k, n := range from {
		into[k] = max(into[k], n)
	}
}

// see is one look at a content. What goes on from the last content, or differs from it at
// either end, is taken in at once; what may be a share's old answer, or differs only in
// the middle, when it has stood for the second look.
func (k *known) see(m meaning, content string, now time.Time) {
	whole := m.count(content)
	atMost(k.may, whole)
	maps.DeleteFunc(whole, func(k string, _ int) bool { return strings.HasPrefix(k, doubtful) })
	if content != k.stands {
		k.stands, k.since = content, now
	}
	n := len(k.content)
	head := min(n, headBytes, len(content))
	atOnce := content[:head] != k.content[:head] ||
		len(content) >= n && content[max(0, n-tailBytes):n] != k.content[max(0, n-tailBytes):] ||
		strings.HasPrefix(content, k.content)
	switch {
	case now.Sub(k.since) >= 2*secondLook:
		k.unsure = false
	case !atOnce:
		k.unsure = true
	}
	if !k.unsure {
		k.content = content
		atMost(k.must, whole)
	}
}

// told are a log's reads as a multiset by meaning.
func told(r *race.Reads) map[string]int {
	out := map[string]int{}
	for t := range r.Tags.All() {
		for _, x := range t.Reads {
			out[fmt.Sprintf("%s %d %s %d", t.Tag, x.At, r.Antennas[x.Antenna], x.RSSI)]++
		}
	}
	for _, b := range r.Bad {
		if timeEnds.MatchString(b.Text) {
			continue
		}
		out["bad "+b.Text]++
	}
	return out
}

// compareAll holds what is told against what must and may be known.
func compareAll(t *testing.T, r *race.Reads, files map[string]*known) {
	t.Helper()
	must, may := map[string]int{}, map[string]int{}
	for _, k := range files {
		for x, n := range k.must {
			must[x] += n
		}
		for x, n := range k.may {
			may[x] += n
		}
	}
	have := told(r)
	mustAll, mayAll := 0, 0
	for x, n := range must {
		mustAll += n
		if strings.HasPrefix(x, "bad ") {
			if have[x] < n {
				t.Fatalf("bad line %q: %d of %d", x, have[x], n)
			}
		} else if have[x] == 0 {
			t.Fatalf("lost: %q\n%+v", x, r.Bad)
		}
	}
	for x, n := range have {
		if strings.HasSuffix(x, "  -32768") {
			continue // doubtful
		}
		if strings.HasPrefix(x, "bad ") && n > may[x] || may[x] == 0 {
			t.Fatalf("never stood in a file so often: %q, %d of %d", x, n, may[x])
		}
	}
	for _, n := range may {
		mayAll += n
	}
	if all := r.Kept + r.Repeated + r.BadLines; all < mustAll || all > mayAll {
		t.Fatalf("%d lines; wanted %d to %d", all, mustAll, mayAll)
	}
}

// world is a folder with the files of one log, which others write.
type world struct {
	t     *testing.T
	rng   *rand.Rand
	dir   string
	names []string
	files map[string]string // "": not there
	there map[string]bool
	row   int
}

func (w *world) path(name string) string { return filepath.Join(w.dir, filepath.FromSlash(name)) }

func (w *world) rows(n int) string {
	var b strings.Builder
	for range n {
		w.row++
		i := w.row
		if w.rng.IntN(12) == 0 {
			i = 1 + w.rng.IntN(i) // a line that stood before
		}
		if i%17 == 0 {
			fmt.Fprintf(&b, "rubbish %d\n", i)
			continue
		}
		fmt.Fprintf(&b, "A%d,2026-05-17 10:%02d:%02d.%03d,%d,-%d\n", i%9, i/60%60, i%60, i%1000, 1+i%3, 40+i%30)
	}
	return b.String()
}

func (w *world) write(name, content string) {
	w.files[name], w.there[name] = content, true
	if err := os.WriteFile(w.path(name), []byte(content), 0o644); err != nil {
		w.t.Fatal(err)
	}
}

// step does one thing to one file, as writers, downloads and tidy people do.
func (w *world) step() {
	r := w.rng
	name := w.names[r.IntN(len(w.names))]
	c := w.files[name]
	if !w.there[name] || c == "" {
		w.write(name, header+w.rows(r.IntN(30)))
		return
	}
	lines := strings.SplitAfter(strings.TrimPrefix(c, header), "\n")
	switch r.IntN(12) {
	case 0, 1, 2, 3: // append, cut anywhere
		more := w.rows(1 + r.IntN(40))
		w.write(name, c+more[:1+r.IntN(len(more))])
	case 4: // cut to a length
		if len(c) > len(header) {
			w.write(name, c[:len(header)+r.IntN(len(c)-len(header))])
		}
	case 5: // emptied, and begun anew
		w.write(name, "")
		if r.IntN(2) == 0 {
			w.write(name, header+w.rows(r.IntN(80)))
		}
	case 6: // downloaded anew in place: the same rows in another order, and some more
		r.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
		w.write(name, header+strings.Join(lines, "")+w.rows(r.IntN(5)))
	case 7: // rows taken out
		if len(lines) > 2 {
			i := r.IntN(len(lines) - 1)
			w.write(name, header+strings.Join(append(append([]string(nil), lines[:i]...), lines[i+1:]...), ""))
		}
	case 8: // replaced by a rename
		tmp := w.path("tmp")
		c = header + w.rows(r.IntN(100))
		if err := os.WriteFile(tmp, []byte(c), 0o644); err != nil {
			w.t.Fatal(err)
		}
		if err := os.Rename(tmp, w.path(name)); err != nil {
			w.t.Fatal(err)
		}
		w.files[name] = c
	case 9: // rotated by a rename, or copied and cut
		other := w.names[r.IntN(len(w.names))]
		if other == name {
			return
		}
		w.write(other, c)
		w.write(name, header)
	case 10: // a line spoilt in place, the length kept
		if i := r.IntN(len(lines)); len(lines[i]) > 3 && strings.HasSuffix(lines[i], "\n") {
			lines[i] = strings.Repeat("#", len(lines[i])-1) + "\n"
			w.write(name, header+strings.Join(lines, ""))
		}
	case 11: // gone; it may come back
		if err := os.Remove(w.path(name)); err != nil {
			w.t.Fatal(err)
		}
		w.there[name] = false
	}
}

// Whatever others do to the files between two looks, every whole line that stood at a look
// is known afterwards, as often as in the content that had it most, and nothing else is;
// also after a restart, and to who reads the folder once. The seeds are the numbers from 0.
func TestRandomSchedulesLoseNothing(t *testing.T) {
	schedules := 300
	if n, err := strconv.Atoi(os.Getenv("TWINMAT_SCHEDULES")); err == nil {
		schedules = n
	} else if testing.Short() {
		schedules = 60
	}
	m := meaning{}
	looks := 0
	for seed := range schedules {
		looks += schedule(t, m, uint64(seed))
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
	t.Logf("%d schedules, %d looks", schedules, looks)
}

func schedule(t *testing.T, m meaning, seed uint64) (looks int) {
	defer func() {
		if t.Failed() {
			t.Logf("seed %d, look %d", seed, looks)
		}
	}()
	rng := rand.New(rand.NewPCG(seed, 11))
	w := &world{t: t, rng: rng, dir: t.TempDir(), names: []string{"logs/a.csv", "logs/a1.csv", "logs/a2.csv"}[:1+rng.IntN(3)], files: map[string]string{}, there: map[string]bool{}}
	if err := os.Mkdir(w.path("logs"), 0o755); err != nil {
		t.Fatal(err)
	}
	files := map[string]*known{}
	for _, n := range w.names {
		files[n] = newKnown()
	}
	p := planOf("logs/a*.csv")
	now := time.Unix(1e9, 0)
	start := func() *Log {
		l, err := New(w.dir, p, 0, Options{Keep: true, Clock: func() time.Time { return now }})
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	l := start()
	look := func() {
		looks++
		if _, err := l.Poll(); err != nil {
			t.Fatal(err)
		}
		for n, k := range files {
			if w.there[n] {
				k.see(m, w.files[n], now)
			}
		}
		compareAll(t, l.Reads(), files)
	}
	for range 40 {
		for range rng.IntN(3) {
			w.step()
		}
		now = now.Add(time.Duration(rng.IntN(1500)) * time.Millisecond)
		if rng.IntN(5) == 0 {
			now = now.Add(secondLook)
		}
		look()
		if rng.IntN(10) == 0 {
			if err := l.Close(); err != nil {
				t.Fatal(err)
			}
			l = start()
			compareAll(t, l.Reads(), files)
		}
	}
	for n, c := range w.files { // at rest, no half line waiting
		if !w.there[n] {
			c = files[n].content
			if c == "" {
				continue
			}
			w.write(n, c)
		}
		if c != "" && !strings.HasSuffix(c, "\n") {
			w.write(n, c+"\n")
		}
	}
	for range 4 {
		now = now.Add(secondLook)
		look()
	}
	live := l.Reads()
	again := start()
	for range 2 { // a file cut to nothing left no copy of that: it is looked at twice
		if _, err := again.Poll(); err != nil {
			t.Fatal(err)
		}
		now = now.Add(secondLook)
	}
	once, err := Read(w.dir, p, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range []*race.Reads{again.Reads(), once} {
		if r.Kept != live.Kept || r.Repeated != live.Repeated || r.BadLines != live.BadLines || r.Lines != live.Lines || !maps.Equal(told(r), told(live)) {
			t.Fatalf("live %d lines %d kept %d repeated %d bad %d waiting; again %d %d %d %d %d\n%v\n%v", live.Lines, live.Kept, live.Repeated, live.BadLines, live.Waiting, r.Lines, r.Kept, r.Repeated, r.BadLines, r.Waiting, told(live), told(r))
		}
	}
	again.Close()
	l.Close()
	return looks
}
