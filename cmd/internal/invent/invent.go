// Package invent makes invented races whose truth is known: who crossed which line when,
// what each clock showed, what went wrong, and what a person who knew it all would rule.
//
// A race is made in four steps: a layout (lines, clocks, courses, waves; kinds.go), a field of
// athletes with chips (field.go), what goes wrong with whom (trouble.go), and the crossings
// that follow (story.go). The reads of a crossing are drawn anew whenever they are asked for,
// from the race's seed and the crossing's place in it (physics.go), so that ten million of
// them need no memory. Nobody in it is real.
package invent

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// Rates say how well the systems read; zero values take the kind's own.
type Rates struct {
	Missed   float64 // share of passings that one system misses for itself; negative: none
	Shielded float64 // share of passings that no system sees; negative: none
	Extra    float64 // share of passings after which the chip is read again, 40 to 360 s later
}

// Options choose a race. The same options give the same race, byte for byte.
type Options struct {
	Kind     string
	Seed     uint64
	Athletes int  // 0: the kind's own number
	Plain    bool // nothing goes wrong but what antennas miss
	Rates    Rates
}

// Kinds are the kinds of race, the default first.
var Kinds = []string{"demo", "road", "marathon", "out-and-back", "laps", "open-laps", "day", "relay", "triathlon", "mass-ride",
	"kart", "time-trial", "dirty", "steps", "steps-main", "hand", "two-courses", "village", "flagged", "late-gun", "sessions", "big"}

// About says in a few words what a kind is, "" for no kind.
func About(kind string) string { return abouts[kind] }

var abouts = map[string]string{
	"demo":         "a half marathon in two waves: an outage, a clock off by an hour, chips nobody owns, short cuts",
	"road":         "a 10 km in two waves, by gun time",
	"marathon":     "a marathon in three waves, by net time",
	"out-and-back": "two lines, each passed twice; some turn round too early",
	"laps":         "a criterium in bunches, chips to a hundredth",
	"open-laps":    "six hours of laps over midnight",
	"day":          "24 hours of laps over a change of summer time, logs that show the time of day alone",
	"relay":        "batons with a chip at either end",
	"triathlon":    "two chips each, changes, lines near enough to be heard beside",
	"mass-ride":    "a hundred kilometres on bicycles in four waves",
	"kart":         "motor laps, chips to a few thousandths",
	"time-trial":   "starts of their own, one a minute",
	"dirty":        "every fault that a log may have",
	"steps":        "a backup clock that is set again in mid-race",
	"steps-main":   "a main clock that is set again in mid-race",
	"hand":         "lines with someone at a keyboard",
	"two-courses":  "two courses over the same lines, some on the wrong one, a split in the wrong place",
	"village":      "a 10 km with start and finish on one line",
	"flagged":      "a criterium that takes the lapped off at the leader's finish",
	"late-gun":     "a gun later than the plan tells",
	"sessions":     "chips handed out twice a day, boxes that move at noon",
	"big":          "a city marathon: 50,000 athletes, ten lines, ten million reads",
}

// Race is an invented race in memory: its plan, its people and every crossing of a line,
// in order of line and time. Instants inside are microseconds since 1970-01-01T00:00:00Z on
// the race clock.
type Race struct {
	Kind string
	Seed uint64
	Title,
	Date string

	layout
	rates   Rates
	people  []person
	strays  []stray
	visits  [][]visit // by line, in order of time
	trouble []trouble
	desk    []string // rulings of someone who knows everything, in order: arguments in the shell's form
	later   []string // settled after them, once the rulings above have spoken
}

// Make invents a race.
func Make(o Options) (*Race, error) {
	if o.Kind == "" {
		o.Kind = Kinds[0]
	}
	build, ok := builders[o.Kind]
	if !ok {
		return nil, fmt.Errorf("kind %q: no such kind; want one of %s", o.Kind, strings.Join(Kinds, ", "))
	}
	if o.Athletes < 0 || o.Athletes > 200_000 {
		return nil, fmt.Errorf("%d athletes: want 1 to 200000", o.Athletes)
	}
	r := &Race{Kind: o.Kind, Seed: o.Seed}
	build(r, r.rng("layout"))
	if o.Athletes > 0 {
		r.size = o.Athletes
	}
	r.rates = o.Rates.or(r.usual)
	if err := r.settle(); err != nil {
		return nil, err
	}
	r.enter()
	if o.Plain {
		r.spare()
	} else {
		r.goWrong()
	}
	r.run()
	if !o.Plain {
		r.fail()
	}
	return r, nil
}

// spare leaves out everything that a kind has go wrong.
func (r *Race) spare() {
	r.trouble, r.steps, r.ills = nil, nil, ills{}
	for c := range r.courses {
		for k := range r.courses[c].marks {
			m := &r.courses[c].marks[k]
			m.truly = m.at
		}
	}
}

func (o Rates) or(usual Rates) Rates {
	pick := func(x, y float64) float64 {
		if x == 0 {
			return y
		}
		return max(x, 0)
	}
	return Rates{pick(o.Missed, usual.Missed), pick(o.Shielded, usual.Shielded), pick(o.Extra, usual.Extra)}
}

// rng is a stream of chance of its own for each use, so that a change in one leaves the
// others as they were.
func (r *Race) rng(use string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(r.Kind + "/" + use))
	return rand.New(rand.NewPCG(r.Seed, h.Sum64()))
}

// Athletes is how many rows athletes.csv has.
func (r *Race) Athletes() int {
	n := 0
	for i := range r.people {
		if r.people[i].listed {
			n++
		}
	}
	return n
}

// Guns are the moments of the waves' guns in order, each once.
func (r *Race) Guns() []time.Time {
	var guns []int64
	for i := range r.waves {
		guns = append(guns, r.waves[i].gun)
	}
	slices.Sort(guns)
	var out []time.Time
	for _, g := range slices.Compact(guns) {
		out = append(out, time.UnixMicro(g).In(r.zone))
	}
	return out
}

const (
	milli  = int64(1000)
	second = int64(1_000_000)
	minute = 60 * second
)

func micros(s float64) int64 { return int64(s * 1e6) }

func seconds(us int64) float64 { return float64(us) / 1e6 }

// between is a number drawn evenly from a to b.
func between(g *rand.Rand, a, b float64) float64 { return a + (b-a)*g.Float64() }

// bell is drawn from a normal distribution cut at three deviations.
func bell(g *rand.Rand, mean, deviation float64) float64 {
	return mean + deviation*min(3, max(-3, g.NormFloat64()))
}
