package suspect

import (
	"math"
	"slices"
	"time"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// field is what all kinds look at: every athlete's times by split, and what the athletes
// together tell of each course and wave. Kinds that explain others' evidence (a gun, a
// line, a course, a swap) leave word here, so that one cause isn't told many times.
type field struct {
	in      *Input
	st      *race.State
	plan    *race.Plan
	times   [][]race.Instant // per result, per split; NoInstant: not filled
	paces   [][]float64      // per result, per split: log pace of the stretch that ends there; NaN unknown
	both    [][]compared     // per result, per split: how main and backup saw it
	hints   []hints          // per result
	wide    []race.Millis    // per result: the most that main and backup differ, where backup's time can be trusted
	wave    []int32          // per result: theirs, if they have no gun of their own; -1
	sign    []uint64         // per result: of what its passings tell but for how systems differ
	pen     []uint64         // per result: of how long they stood at lines before their gun
	ends    []int            // per result: the last filled split, -1 none
	level   []float64        // per result: log seconds a metre against the field; NaN unknown
	setOut  []race.Instant   // per result: when they crossed the start before their gun, and not again after; NoInstant
	delays  []float64        // per result: seconds from the gun to the start passing; NaN: it tells of no wave's start
	courses []onCourse
	waves   []waveStart
	classes classes
	groups  groupLevels // nil: not asked for yet
	crossed []int       // per line: about how many passings of anybody listed

	word
	before word // that of the search before
	news   news

	there     lists[seenAt]       // per line
	room      []seenAt            // for a line's passings, strays' too
	quiet     []quiet             // per line
	captured  []captured          // per line; nil: not counted yet
	chips     *chipList           // nil: not asked for yet
	kin       *kin                // likewise
	parting   []parting           // per result; nil: not asked for yet
	stories   map[[2]int32]*story // by result and wave
	settledIn []bool              // per result: their story is their own course's, whatever time passes
	leaving   leaving
	guns      []gunTold // per wave; nil: not told yet
	startOver []bool    // per wave: everybody of it should be over its start
	swaps     swaps
	reach     reach
	kept      byKind
	turn      int // how often it was searched
	unowned   unowned
	lacks     lackers
	mixed     []race.Suspect // bibs whose chips part
	unstarted []race.Suspect // who have no start passing
	searched  bool           // all kinds have looked since anything was read
	out       *underWay      // nil: not worked out yet
	centres   centres
	agreement agreement
	first     firstOn
}

// word is what kinds leave for those after them.
type word struct {
	lineOff     map[[2]int]bool // course and split whose times are off for the whole field
	moved       map[[2]int]bool // of those: so far off that they fill no split
	unequal     map[int]bool    // per course: a line is off, and by as much for fast and slow: their paces mean little beside it
	stepped     []bool          // per line: its main was set in mid-race, and is not ruled on; nil: none
	doubtful    []bool          // per wave: its gun is in doubt
	otherCourse []bool          // per result
	others      int             // how many of them
	exchanged   map[int]int     // result to the result it was likely swapped with
	disordered  map[string]bool // bibs whose passings are out of order
	flew        map[int]bool    // results whose finish was too fast to be one
}

// news is what is another since the search before.
type news struct {
	all      bool   // everything is read anew
	changed  []int  // results of which anything is another
	moved    []int  // of them, who passed elsewhere or at other times, or was seen by other systems
	asked    []bool // per course: of those who tell of its field somebody passed at other times
	relearnt []bool // per course: what its field tells of stretches, and everybody's level there
	went     []bool // per wave: how it went over its start
	over     bool   // other waves than before should be over it by now
	sameWord bool   // the word that kinds leave is what it was; known once they all have left it
}

// onCourse is a course's field.
type onCourse struct {
	results   []int     // indexes of State.Results
	asked     []int     // those of them who tell of the field,
	taught    taught    // and what they tell by
	effect    []float64 // per split: log pace of the stretch that ends there, for an athlete of level 0
	scale     []float64 // robust spread of an athlete's stretch about level + effect
	usual     []float64 // seconds that an athlete of level 0 needs for it
	stretches []int     // of how many athletes each effect is told
	splits    []race.Split
	least     [][]float64 // seconds that anybody needs from split a, by a+1, to split b; nil: splits are too many for a table

	place    []int32 // per result: where it stands in results
	company  company
	against  map[stretchAgainst]against // what was compared of its field; nil: nothing since effect was told
	weights  map[lateBy]float64         // what speaks for a late clock, likewise
	off      [][]float64                // what offOwnPace gave last; nil: effect is another since
	offStale []int                      // but for these results
	waits    waits                      // of those of the asked, from split to split
	tails    [][2]float64               // per split: spreads of off, below and above the middle
	levelled bool                       // mid and sd are found
	mid, sd  float64                    // of the field's levels
}

// waveStart is how a wave came over the start line.
type waveStart struct {
	results []int     // those who start with it, with no gun of their own
	delays  []float64 // seconds from the gun to each start passing after it, sorted
	late    float64   // nobody of the wave is normally later than that, seconds; NaN unknown
}

func newField(in *Input) *field {
	f := &field{in: in, st: in.State, plan: in.State.Plan}
	n := len(f.st.Results)
	f.times, f.paces, f.both, f.hints = make([][]race.Instant, n), make([][]float64, n), make([][]compared, n), make([]hints, n)
	f.sign, f.pen, f.wide, f.wave = make([]uint64, n), make([]uint64, n), make([]race.Millis, n), make([]int32, n)
	f.ends, f.level, f.delays = make([]int, n), slices.Repeat([]float64{math.NaN()}, n), make([]float64, n)
	f.setOut = make([]race.Instant, n)
	f.courses, f.waves = make([]onCourse, len(f.plan.Courses)), make([]waveStart, len(f.plan.Waves))
	f.crossed, f.classes, f.stories = make([]int, len(f.plan.Lines)), classesOf(f.st), map[[2]int32]*story{}
	f.settledIn = make([]bool, n)
	f.there.moment = func(x *seenAt) int64 { return int64(x.at) }
	f.begin()
	f.news = news{all: true, relearnt: slices.Repeat([]bool{true}, len(f.courses)), went: slices.Repeat([]bool{true}, len(f.waves))}
	f.roomBySplit()
	for i := range f.st.Results {
		f.enter(i)
	}
	for c := range f.courses {
		f.courses[c].least = f.leastTable(f.courses[c].splits)
	}
	f.inRows(n, func(from, to int) {
		for i := from; i < to; i++ {
			f.read(i)
		}
	})
	for i := range f.st.Results {
		for k := range f.st.Results[i].Passings {
			f.crossed[f.st.Results[i].Passings[k].Line]++
		}
	}
	for c := range f.courses {
		f.teach(&f.courses[c])
		f.polish(&f.courses[c])
	}
	for w := range f.waves {
		f.start(w)
	}
	return f
}

// roomBySplit lays out what is kept per result and split, of one piece.
func (f *field) roomBySplit() {
	total := 0
	for i := range f.st.Results {
		total += len(f.st.Results[i].Filled)
	}
	times, paces, both := make([]race.Instant, total), make([]float64, total), make([]compared, total)
	for i := range f.st.Results {
		k := len(f.st.Results[i].Filled)
		f.times[i], times = times[:k:k], times[k:]
		f.paces[i], paces = paces[:k:k], paces[k:]
		f.both[i], both = both[:k:k], both[k:]
	}
}

// enter gives a result its place in its wave and on its course.
func (f *field) enter(i int) {
	r := f.st.Results[i]
	if f.wave[i] = -1; r.Wave >= 0 && !r.Start.Known() {
		f.wave[i] = int32(r.Wave)
		f.waves[r.Wave].results = append(f.waves[r.Wave].results, i)
	}
	if r.Course < 0 {
		return
	}
	c := &f.courses[r.Course]
	if c.place == nil {
		c.place = make([]int32, len(f.st.Results))
	}
	c.place[i] = int32(len(c.results))
	c.results = append(c.results, i)
	if f.in.tells(i) {
		c.asked = append(c.asked, i)
	}
	if len(r.Splits) > len(c.splits) {
		c.splits = r.Splits
	}
}

// begin forgets the word of an earlier turn.
func (f *field) begin() {
	f.before = f.word
	f.word = word{lineOff: map[[2]int]bool{}, moved: map[[2]int]bool{}, unequal: map[int]bool{}, doubtful: make([]bool, len(f.plan.Waves)), otherCourse: make([]bool, len(f.st.Results)),
		exchanged: map[int]int{}, disordered: map[string]bool{}, flew: map[int]bool{}}
}

// stretch is an athlete's log pace over the stretch that ends at a split: since the split
// before, or since the gun where the course has no start line.
func (f *field) stretch(i, k int) (float64, bool) {
	if k >= len(f.paces[i]) {
		return 0, false
	}
	y := f.paces[i][k]
	return y, !math.IsNaN(y)
}

// polish is Tukey's median polish of log pace, athletes by stretches (Exploratory Data
// Analysis, 1977): what remains compares an athlete with himself, the course's hills and
// the field's fading taken out.
func (f *field) polish(c *onCourse) {
	n := len(c.splits)
	c.effect, c.scale, c.stretches, c.levelled = make([]float64, n), make([]float64, n), make([]int, n), false
	c.off, c.offStale, c.tails, f.groups, c.usual = nil, nil, nil, nil, nil
	c.against, c.weights = map[stretchAgainst]against{}, map[lateBy]float64{}
	for n := range c.asked {
		c.taught.level[n] = math.NaN()
	}
	for round := range 4 {
		f.in.each(n, func(k int) {
			col := make([]float64, 0, len(c.asked))
			for n := range c.asked {
				if y, ok := c.taught.stretch(n, k); ok {
					if l := c.taught.level[n]; !math.IsNaN(l) {
						y -= l
					}
					col = append(col, y)
				}
			}
			c.effect[k], c.stretches[k] = robust.Median(col), len(col)
			if round == 3 {
				_, c.scale[k] = robust.Spread(col)
			}
		})
		f.inRows(len(c.asked), func(from, to int) {
			var row []float64
			for n := from; n < to; n++ {
				c.taught.level[n], row = c.level(c.taught.paces[n], row)
			}
		})
	}
	f.inRows(len(c.results), func(from, to int) {
		var row []float64
		for _, i := range c.results[from:to] {
			f.level[i], row = c.level(f.paces[i], row)
		}
	})
	c.paced()
}

// level is that of an athlete with these paces; row is room, and given back.
func (c *onCourse) level(paces, row []float64) (float64, []float64) {
	row = row[:0]
	for k, y := range paces {
		if !math.IsNaN(y) && !math.IsNaN(c.effect[k]) {
			row = append(row, y-c.effect[k])
		}
	}
	return robust.Median(row), row
}

// inRows goes from 0 to n by the thousand, several rows at once: what is done to one must
// not touch another's.
func (f *field) inRows(n int, do func(from, to int)) {
	const row = 1024
	f.in.each((n+row-1)/row, func(k int) { do(k*row, min(n, (k+1)*row)) })
}

// took is how long an athlete of this level needs over the stretches after split a up to
// split b, in seconds; a = -1: from the gun. NaN where the field can't tell.
func (c *onCourse) took(level float64, a, b int) float64 {
	sum := 0.0
	for k := a + 1; k <= b && k < len(c.splits); k++ {
		from := 0.0
		if k > 0 {
			from = c.splits[k-1].At
		}
		switch metres := c.splits[k].At - from; {
		case !(metres > 0):
		case level == 0 && k < len(c.usual):
			sum += c.usual[k]
		default:
			sum += float64(metres * math.Exp(level+c.effect[k]))
		}
	}
	return sum
}

// paced finds how long an athlete of level 0 needs over each stretch.
func (c *onCourse) paced() {
	c.usual = make([]float64, 0, len(c.splits))
	for k := range c.splits {
		c.usual = append(c.usual, c.took(0, k-1, k))
	}
}

// startSplit is where the course's start line stands among its splits: 0, or -1 for none.
func startSplit(splits []race.Split) int {
	if len(splits) > 0 && splits[0].At == 0 {
		return 0
	}
	return -1
}

// early is how little before its gun a wave's start passing still belongs to it.
func (f *field) early(wave int) race.Millis {
	if wave < 0 {
		return 0
	}
	return f.plan.Waves[wave].Early
}

// start gathers a wave's start delays.
func (f *field) start(w int) {
	x := &f.waves[w]
	x.delays = x.delays[:0]
	for _, i := range x.results {
		if d := f.delays[i]; !math.IsNaN(d) {
			x.delays = append(x.delays, d)
		}
	}
	slices.Sort(x.delays)
	x.late = lateLimit(x.delays)
}

// smallWave starters or more have a slowest tenth that a few late ones don't make.
const smallWave = 40

// lateLimit is beyond what delay somebody no longer started with the wave: well past its
// slow end, told from the middle of it, since those who started with another wave are in
// the tail.
func lateLimit(sorted []float64) float64 {
	if len(sorted) < 5 {
		return math.NaN()
	}
	m, hi := quantile(sorted, 0.5), quantile(sorted, 0.9)
	if len(sorted) < smallWave { // two who started late are its slowest tenth: the quarter tells as much
		q := quantile(sorted, 0.75)
		return q + float64(5*(q-m)) + 10
	}
	return hi + float64(1.5*(hi-m)) + 10
}

// uncounted tells whether a status says that the athlete's time doesn't count.
func uncounted(r *race.Result) bool {
	return r.Status == race.DNS || r.Status == race.DNF || r.Status == race.DSQ
}

// last is the last filled split, -1 for none.
func (f *field) last(i int) int { return f.ends[i] }

// when writes an instant as rulings take it.
func (f *field) when(t race.Instant) string { return t.Format(f.plan.Zone) }

// dayAndClock writes the time of day, with its date where that is another than an athlete's gun's.
func (f *field) dayAndClock(r *race.Result, t race.Instant) string {
	day := func(t race.Instant) string { return t.Time(f.plan.Zone).Format(time.DateOnly) }
	if r.Gun.Known() && t.Known() && day(t) != day(r.Gun) {
		return day(t) + " " + f.clock(t)
	}
	return f.clock(t)
}

// clock writes the time of day.
func (f *field) clock(t race.Instant) string { return t.Clock(f.plan.Zone) }

// line is the id of a line.
func (f *field) line(l int) string { return f.plan.Lines[l].ID }
