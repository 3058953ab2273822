package suspect

import (
	"fmt"
	"math"
	"strings"

	"twinmat/reconcile/race"
)

// kinds are the athletes of one course, sex and category, as the list has them, by number.
type kinds struct {
	of   []int   // per kind: one of its results
	kind []int32 // per result; -1: of no course
}

func kindsOf(st *race.State) kinds {
	type key struct {
		course        int
		sex, category string
	}
	k := kinds{kind: make([]int32, len(st.Results))}
	number := map[key]int32{}
	for i := range st.Results {
		r := &st.Results[i]
		if k.kind[i] = -1; r.Course < 0 {
			continue
		}
		x := key{r.Course, r.Sex, r.Category}
		n, ok := number[x]
		if !ok {
			n = int32(len(k.of))
			number[x] = n
			k.of = append(k.of, i)
		}
		k.kind[i] = n
	}
	return k
}

// levelsByKind are the levels that are known, by number of the kind.
func (f *field) levelsByKind() [][]float64 {
	by := make([][]float64, len(f.kinds.of))
	for i, l := range f.level {
		if n := f.kinds.kind[i]; n >= 0 && !math.IsNaN(l) {
			by[n] = append(by[n], l)
		}
	}
	return by
}

// groupLevels are the levels of each sex and category on each course.
type groupLevels struct {
	keys       [][]string // per kind: its groups, the narrowest first
	centre, sd map[string]float64
}

func (f *field) groupLevels() *groupLevels {
	g := &groupLevels{centre: map[string]float64{}, sd: map[string]float64{}}
	all := map[string][]float64{}
	for n, ls := range f.levelsByKind() {
		g.keys = append(g.keys, groupKeys(&f.st.Results[f.kinds.of[n]]))
		for _, k := range g.keys[n] {
			all[k] = append(all[k], ls...)
		}
	}
	for k, ls := range all {
		if len(ls) >= 8 {
			c, sd := spread(ls)
			g.centre[k], g.sd[k] = c, math.Max(sd, 0.08)
		}
	}
	g.lean(all)
	return g
}

// groupsKnown is how many athletes a group's own level and spread weigh as much as those of
// the group about it: eight of a category don't make their middle certain.
const groupsKnown = 20

// lean draws each group towards the one about it: a sex towards its course, a category
// towards its sex, the more the fewer they are.
func (g *groupLevels) lean(all map[string][]float64) {
	for _, depth := range []int{1, 2} {
		for k, ls := range all {
			up := k[:max(0, strings.LastIndex(k, "|"))]
			sd, ok := g.sd[up]
			if strings.Count(k, "|") != depth || !ok || g.sd[k] == 0 {
				continue
			}
			w := float64(len(ls)) / float64(len(ls)+groupsKnown)
			g.centre[k] = float64(w*g.centre[k]) + float64((1-w)*g.centre[up])
			g.sd[k] = math.Sqrt(float64(w*g.sd[k]*g.sd[k]) + float64((1-w)*sd*sd))
		}
	}
}

// groupKeys are the groups of an athlete, the narrowest first.
func groupKeys(r *race.Result) []string {
	c := fmt.Sprint(r.Course)
	sex := strings.ToLower(r.Sex)
	return []string{c + "|" + sex + "|" + r.Category, c + "|" + sex, c}
}

// fit is how well a level suits an athlete's group, told by their kind, in nats against the
// whole course.
func (g *groupLevels) fit(level float64, kind int32) float64 {
	keys := g.keys[kind]
	whole, ok := g.log(level, keys[2])
	if !ok {
		return 0
	}
	for _, k := range keys[:2] {
		if x, ok := g.log(level, k); ok {
			return x - whole
		}
	}
	return 0
}

func (g *groupLevels) log(level float64, key string) (float64, bool) {
	sd, ok := g.sd[key]
	if !ok {
		return 0, false
	}
	z := (level - g.centre[key]) / sd
	return -math.Min(z*z/2, 8) - math.Log(sd), true
}
