package suspect

import (
	"math"
	"slices"
	"strings"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// astray is somebody whose passings don't fit who the list says they are.
type astray struct {
	result int
	gain   []float64 // per wave: nats by which they fit better as its; 0 as their own
	level  []float64 // per wave: the level that they would have there
}

// strayed are those who have gone astray, in order of result.
func (f *field) strayed() []astray {
	groups := f.groupLevels()
	another := f.news.taught() || !slices.Equal(f.otherCourse, f.before.otherCourse) || !slices.Equal(f.doubtful, f.before.doubtful)
	return f.swaps.odd.again(f, another, f.news.changed, func(i int, add func(astray)) {
		if x, ok := f.goneAstray(i, groups); ok {
			add(x)
		}
	})
}

// goneAstray tells whether anything speaks against an athlete's being who the list says, and
// as whom they would fit.
func (f *field) goneAstray(i int, groups groupLevels) (astray, bool) {
	k := f.classes.class[i]
	if k < 0 || f.wave[i] < 0 || f.hints[i]&wasRead == 0 {
		return astray{}, false
	}
	byLevel := math.Abs(groups.off(f.level[i], k)) > oddLevel && f.last(i) >= 0
	elsewhere := f.otherCourse[i] || len(f.plan.Courses) > 1 && f.others > 0 && !f.fitsOwn(i)
	start := startSplit(f.courses[f.st.Results[f.classes.of[k]].Course].splits) >= 0
	late := start && !f.startedInTime(i)
	if start && !byLevel && !elsewhere && !late {
		return astray{}, false // nothing speaks against most
	}
	r := f.st.Results[i]
	if uncounted(r) || !byLevel && !elsewhere && !late && !(f.offAtFirst(i, r.Gun) > swapFirst) {
		return astray{}, false
	}
	if late && !elsewhere && !byLevel && !f.beganEarly(i).Known() {
		unread := !f.times[i][0].Known() && f.offAtFirst(i, r.Gun) > swapFirst // then the first stretch tells
		if w, _ := f.startedLater(i); w < 0 && !unread {
			return astray{}, false
		}
	}
	x := astray{result: i, gain: make([]float64, len(f.plan.Waves)), level: make([]float64, len(f.plan.Waves))}
	as := f.storiesOf(i)
	fits := byLevel
	for w := range f.plan.Waves {
		if x.level[w] = f.level[i]; w == r.Wave {
			continue
		}
		if v := &f.plan.Waves[w]; v.Course == r.Course && !start {
			if x.gain[w] = f.offAtFirst(i, r.Gun) - f.offAtFirst(i, v.Gun); x.gain[w] < swapFirst {
				x.gain[w] = math.Min(x.gain[w], 0)
			}
		} else {
			own, s := as(r.Wave), as(w)
			x.gain[w], x.level[w] = own.cost-s.cost, s.level
		}
		fits = fits || x.gain[w] >= swapEach
	}
	return x, fits
}

// offAtFirst is how far off the athlete's own level the first stretch is, from a gun, in
// nats: where no line tells when somebody started, the other stretches tell with which gun.
func (f *field) offAtFirst(i int, gun race.Instant) float64 {
	c := &f.courses[f.st.Results[i].Course]
	first := slices.IndexFunc(f.times[i], race.Instant.Known)
	if first < 0 || !gun.Known() || f.doubtful[f.st.Results[i].Wave] {
		return 0
	}
	sd := math.Max(c.scale[first], ownScatter)
	if y := f.paces[i][first] - c.effect[first] - f.level[i]; gun == f.st.Results[i].Gun && math.Abs(y) < sd {
		return 0 // most, told without a look at each stretch
	}
	var own []float64
	for k := first + 1; k < len(f.paces[i]); k++ {
		if y := f.paces[i][k]; !math.IsNaN(y) && !math.IsNaN(c.effect[k]) {
			own = append(own, y-c.effect[k])
		}
	}
	want := c.took(robust.Median(own), -1, first)
	if len(own) < 2 || !(want > 0) || !(sd > 0) {
		return 0
	}
	d := f.times[i][first].Sub(gun).Seconds()
	if d <= 0 {
		return levelCap
	}
	z := math.Log(d/want) / sd
	return math.Min(z*z/2, levelCap)
}

// kin is how many of a field share a family name or a team.
type kin struct {
	names, teams map[string]int
	named        float64 // how many have a name
	inTeam       float64 // and a team
}

// Of those who got their bibs together and mixed them up, familyShare have one name, teamShare
// one team, strangers neither (common practice). kinCap bounds what a rare name says, in nats.
const (
	familyShare   = 0.5
	teamShare     = 0.5
	strangerShare = 0.25
	kinCap        = 4.0
)

// kinship is counted once as long as the list is the same.
func (f *field) kinship() *kin {
	if f.kin != nil {
		return f.kin
	}
	k := &kin{names: map[string]int{}, teams: map[string]int{}}
	for i := range f.st.Results {
		if n := family(f.st.Results[i]); n != "" {
			k.names[n]++
			k.named++
		}
		if t := strings.ToLower(f.st.Results[i].Team); t != "" {
			k.teams[t]++
			k.inTeam++
		}
	}
	f.kin = k
	return k
}

// family is the last word of a name.
func family(r *race.Result) string {
	words := strings.Fields(strings.ToLower(r.Name))
	if len(words) < 2 {
		return ""
	}
	return words[len(words)-1]
}

// of is what name and team say for two as a pair that got their bibs together, in nats.
func (k *kin) of(x, y *race.Result) float64 {
	alike := func(a, b string, share float64, count map[string]int, all float64) float64 {
		if a == "" || a != b {
			return 0
		}
		return math.Max(0, math.Min(math.Log(share*(all-1)/float64(count[a]-1)), kinCap))
	}
	name, other := family(x), family(y)
	nats := alike(name, other, familyShare, k.names, k.named)
	nats += alike(strings.ToLower(x.Team), strings.ToLower(y.Team), teamShare, k.teams, k.inTeam)
	if nats == 0 && name != "" && other != "" {
		return math.Log(strangerShare)
	}
	return nats
}
