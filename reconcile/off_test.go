package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// late is a log whose clock is ahead.
func late(x *race.Reads, by race.Millis) *race.Reads {
	y := *x
	list := x.Tags.Edit()
	for i := range x.Tags.Len() {
		tag := list.At(i)
		tag.Reads = append([]race.Read(nil), tag.Reads...)
		for k := range tag.Reads {
			tag.Reads[k].At = tag.Reads[k].At.Add(by)
		}
	}
	y.Tags = list.List()
	return &y
}

// A race that grows with a clock that breaks the order of its lines is at every moment the race
// computed whole: which line is off comes and goes as the field does.
func TestGrowingWithAClockThatIsOffIsTheWhole(t *testing.T) {
	for _, kind := range []string{"road", "two-courses", "steps"} {
		for n, by := range []race.Millis{900_000, 7_200_000, -3_600_000} {
			f, err := ingest.Read(filepath.Join(examples, kind))
			if err != nil {
				t.Fatal(err)
			}
			line := 1 + n%2
			for _, s := range f.Plan.Lines[line].Logs {
				if f.Plan.Logs[s].System == race.Main {
					f.Reads[s] = late(f.Reads[s], by)
				}
			}
			told := slices.ContainsFunc(reconcile.Compute(f.Input()).Suspects, func(s race.Suspect) bool {
				return s.Kind == race.LineOff && s.Line == f.Plan.Lines[line].ID
			})
			if !told && kind == "steps" { // twelve are no field
				t.Errorf("%s, line %d by %v: not told", kind, line, by)
			}
			growing(t, f, fmt.Sprintf("%s, line %d by %v", kind, line, by), 6000, 12, rand.New(rand.NewPCG(11, uint64(n))))
		}
	}
}
