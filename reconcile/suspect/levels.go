package suspect

import (
	"fmt"
	"math"
	"strings"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// classes are the athletes of one course, sex and category, as the list has them, by number.
type classes struct {
	of    []int   // per class: one of its results
	class []int32 // per result; -1: of no course
}

func classesOf(st *race.State) classes {
	type key struct {
		course        int
		sex, category string
	}
	k := classes{class: make([]int32, len(st.Results))}
	number := map[key]int32{}
	for i := range st.Results {
		r := st.Results[i]
		if k.class[i] = -1; r.Course < 0 {
			continue
		}
		x := key{r.Course, strings.ToLower(r.Sex), r.Category}
		n, ok := number[x]
		if !ok {
			n = int32(len(k.of))
			number[x] = n
			k.of = append(k.of, i)
		}
		k.class[i] = n
	}
	return k
}

// levelsByClass are the levels of those who are asked, where they are known, by number of the class.
func (f *field) levelsByClass() [][]float64 {
	by := make([][]float64, len(f.classes.of))
	for c := range f.courses {
		x := &f.courses[c]
		for k, i := range x.asked {
			if n := f.classes.class[i]; n >= 0 && !math.IsNaN(x.taught.level[k]) {
				by[n] = append(by[n], x.taught.level[k])
			}
		}
	}
	return by
}

// group is a sex and category with the level that its athletes run at.
type group struct{ mid, sd float64 }

const (
	groupEnough = 8    // athletes that make a group's level known
	groupFloor  = 0.08 // a group's level is never known to spread less, log pace
)

// groupLevels are the levels of each class's groups, the narrowest first; sd 0: not known.
type groupLevels [][3]group

// groupLevels are found once, as long as those who are asked have the same levels.
func (f *field) groupLevels() groupLevels {
	if f.groups != nil {
		return f.groups
	}
	keys, all, of := make([][3]string, len(f.classes.of)), map[string][]float64{}, map[string]group{}
	for n, ls := range f.levelsByClass() {
		keys[n] = groupKeys(f.st.Results[f.classes.of[n]])
		for _, k := range keys[n] {
			all[k] = append(all[k], ls...)
		}
	}
	for k, ls := range all {
		if len(ls) >= groupEnough {
			mid, sd := robust.Spread(ls)
			of[k] = group{mid, math.Max(sd, groupFloor)}
		}
	}
	lean(of, all)
	f.groups = make(groupLevels, len(keys))
	for n := range keys {
		for d, k := range keys[n] {
			f.groups[n][d] = of[k]
		}
	}
	return f.groups
}

// groupsKnown is how many athletes a group's own level and spread weigh as much as those of
// the group about it: eight of a category don't make their middle certain.
const groupsKnown = 20

// lean draws each group towards the one about it: a sex towards its course, a category
// towards its sex, the more the fewer they are.
func lean(of map[string]group, all map[string][]float64) {
	for _, depth := range []int{1, 2} {
		for k, ls := range all {
			up := k[:max(0, strings.LastIndex(k, "|"))]
			about, ok := of[up]
			own, known := of[k]
			if strings.Count(k, "|") != depth || !ok || !known {
				continue
			}
			w := float64(len(ls)) / float64(len(ls)+groupsKnown)
			of[k] = group{float64(w*own.mid) + float64((1-w)*about.mid), math.Sqrt(float64(w*own.sd*own.sd) + float64((1-w)*about.sd*about.sd))}
		}
	}
}

// groupKeys are the groups of an athlete, the narrowest first.
func groupKeys(r *race.Result) [3]string {
	c := fmt.Sprint(r.Course)
	sex := strings.ToLower(r.Sex)
	return [3]string{c + "|" + sex + "|" + r.Category, c + "|" + sex, c}
}

// fit is how well a level suits an athlete's group, told by their class, in nats against the
// whole course.
func (g groupLevels) fit(level float64, class int32) float64 {
	whole := g[class][2]
	if whole.sd == 0 {
		return 0
	}
	for _, x := range g[class][:2] {
		if x.sd > 0 {
			return x.log(level) - whole.log(level)
		}
	}
	return 0
}

func (x group) log(level float64) float64 {
	z := (level - x.mid) / x.sd
	return -math.Min(z*z/2, 8) - math.Log(x.sd)
}

// off is how many spreads a level is from what those of a class run at, by sex and category or
// by sex; 0 where no such group is known.
func (g groupLevels) off(level float64, class int32) float64 {
	if class < 0 || math.IsNaN(level) {
		return 0
	}
	for _, x := range g[class][:2] {
		if x.sd > 0 {
			return (level - x.mid) / x.sd
		}
	}
	return 0
}
