package suspect

import (
	"fmt"
	"math"
	"strings"

	"twinmat/reconcile/race"
)

// groupLevels are the levels of each sex and category on each course.
type groupLevels struct {
	centre, sd map[string]float64
}

func (f *field) groupLevels() *groupLevels {
	g := &groupLevels{centre: map[string]float64{}, sd: map[string]float64{}}
	all := map[string][]float64{}
	f.chipped = map[string]bool{}
	for _, c := range f.in.Chips {
		f.chipped[c.Bib] = true
	}
	for i := range f.st.Results {
		if l := f.level[i]; !math.IsNaN(l) {
			for _, k := range groupKeys(&f.st.Results[i]) {
				all[k] = append(all[k], l)
			}
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

// fit is how well a level suits an athlete's group, in nats against the whole course.
func (g *groupLevels) fit(level float64, r *race.Result) float64 {
	keys := groupKeys(r)
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
