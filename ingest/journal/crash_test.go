package journal

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

const there = "/race/" + File

func made(n int) race.Ruling {
	return race.Ruling{Made: "2026-05-17T10:00:00.000+01:00", Who: "op", Rule: race.SetStatus, Bib: fmt.Sprint(n), Status: "dnf", Why: fmt.Sprintf(`says "so" %d, ünïcode`, n)}
}

// session opens the journal on a disk, makes rulings and remembers what it was told of each.
type session struct {
	disk  *fakeDisk
	acked []race.Ruling
	open  []race.Ruling // tried and not acknowledged, since the last one that was
	made  int
	dead  bool
}

// run does some work; a kill ends it.
func (s *session) run(work func(j *Journal)) (err error) {
	defer func() {
		if x := recover(); x != nil {
			if _, ok := x.(killed); !ok {
				panic(x)
			}
			s.dead = true
		}
	}()
	j, err := open(s.disk, there, noLock{})
	if err != nil {
		return err
	}
	work(j)
	return j.Close()
}

func (s *session) rule(j *Journal) error {
	s.made++
	r := made(s.made)
	s.open = append(s.open, r)
	err := j.Append(&r)
	if err == nil {
		s.acked, s.open = append(s.acked, r), nil
	} else if !errors.As(err, new(*NotSaved)) {
		panic(fmt.Sprintf("an error of another kind: %v", err))
	}
	return err
}

// recovered starts again: what was acknowledged must be there, and behind it nothing but, at
// most and unless exact, one ruling that was tried.
func (s *session) recovered(t *testing.T, d *fakeDisk, exact bool, what any) *Journal {
	t.Helper()
	d.plan = fault{}
	j, err := open(d, there, noLock{})
	if err != nil {
		t.Fatalf("%v: the restart says %v", what, err)
	}
	got := j.Rulings()
	if len(got) < len(s.acked) || len(s.acked) > 0 && !reflect.DeepEqual(got[:len(s.acked)], s.acked) {
		t.Fatalf("%v: acknowledged %d, there %d", what, len(s.acked), len(got))
	}
	switch extra := got[len(s.acked):]; {
	case len(extra) == 0:
	case exact || len(extra) > 1 || !slices.ContainsFunc(s.open, func(r race.Ruling) bool { r.Seq = extra[0].Seq; return reflect.DeepEqual(r, extra[0]) }):
		t.Fatalf("%v: %d rulings that were never acknowledged", what, len(extra))
	}
	return j
}

// work is two runs of the program, the first of which meets a torn tail.
func (s *session) work() {
	for range 2 {
		err := s.run(func(j *Journal) {
			for range 3 {
				s.rule(j)
			}
		})
		if s.dead {
			return
		}
		_ = err // a journal that can't be opened takes no rulings
	}
}

func torn() *fakeDisk {
	d := newDisk()
	b := []byte(`{"seq":1,"at":"2026-05-1`)
	d.files[there] = &node{data: b, stable: b, linked: true}
	return d
}

// Every call to the disk fails, one after the other, in every way, once or from then on,
// until a run passes untouched. What was acknowledged is there after a restart; nothing else
// is but the one ruling that nothing was heard of.
func TestEveryCallFailsInEveryWay(t *testing.T) {
	runs := 0
	for _, start := range []func() *fakeDisk{newDisk, torn} {
		for kind := range faultKinds {
			for _, forever := range []bool{false, true} {
				if forever && kind <= killWithin {
					continue
				}
				for n := 1; ; n++ {
					s := &session{disk: start()}
					s.disk.plan = fault{n, forever, kind}
					s.work()
					runs++
					oneError := !forever && kind >= ioError
					j := s.recovered(t, s.disk.survived(), oneError, s.disk.plan)
					healed(t, s, j)
					for seed := range uint64(3) {
						s.recovered(t, s.disk.powerLoss(rand.New(rand.NewPCG(seed, uint64(n)))), false, s.disk.plan)
					}
					if s.disk.calls < n {
						break
					}
				}
			}
		}
	}
	t.Logf("%d runs, each restarted once after a kill and three times after a power loss", runs)
}

// healed rules once more after a restart.
func healed(t *testing.T, s *session, j *Journal) {
	t.Helper()
	r := made(999)
	before := len(j.Rulings())
	if err := j.Append(&r); err != nil {
		t.Fatalf("%v: healed, and yet %v", s.disk.plan, err)
	}
	if got := j.Rulings(); len(got) != before+1 || r.Seq != got[before].Seq {
		t.Fatalf("%v: %d rulings after %d and one more", s.disk.plan, len(got), before)
	}
}

// A disk that fails for a while: each ruling is said to be not saved, and once it heals the
// same journal takes them all.
func TestADiskThatHealsTakesWhatWasNotSaved(t *testing.T) {
	runs := 0
	for kind := ioError; kind < faultKinds; kind++ {
		for n := 1; n < 40; n++ {
			s := &session{disk: newDisk()}
			var left int
			err := s.run(func(j *Journal) {
				s.rule(j)
				s.rule(j)
				s.disk.calls, s.disk.plan = 0, fault{n, true, kind}
				for range 5 {
					if s.rule(j) != nil {
						left++
					}
				}
				s.disk.plan = fault{}
				for range left {
					if err := s.rule(j); err != nil {
						t.Fatalf("%v at %d: healed, and yet %v", kind, n, err)
					}
				}
			})
			if err != nil || len(s.acked) != 7 {
				t.Fatalf("%v at %d: %d acknowledged, %v", kind, n, len(s.acked), err)
			}
			s.recovered(t, s.disk.powerLoss(rand.New(rand.NewPCG(1, 1))), true, kind)
			runs++
		}
	}
	t.Logf("%d runs", runs)
}

// Power is lost at a random call, the disk keeps what it likes of what was not synced, the
// program starts again, and so on: what was acknowledged stays.
func TestPowerLossKeepsWhatWasAcknowledged(t *testing.T) {
	trials := 10_000
	if testing.Short() {
		trials = 500
	}
	extra, acked := 0, 0
	for seed := range uint64(trials) {
		rng := rand.New(rand.NewPCG(seed, 28))
		s := &session{disk: newDisk()}
		for range 1 + rng.IntN(4) {
			s.dead = false
			s.disk.calls, s.disk.plan = 0, fault{1 + rng.IntN(25), false, faultKind(rng.IntN(2))}
			if rng.IntN(4) == 0 {
				s.disk.plan.kind = ioError + faultKind(rng.IntN(3))
			}
			if err := s.run(func(j *Journal) {
				for range 1 + rng.IntN(6) {
					s.rule(j)
				}
			}); err != nil && !s.dead && s.disk.calls < s.disk.plan.at {
				t.Fatalf("seed %d: %v", seed, err)
			}
			s.disk = s.disk.powerLoss(rng)
			j := s.recovered(t, s.disk, false, fmt.Sprintf("seed %d", seed))
			if len(j.Rulings()) > len(s.acked) {
				extra++
			}
			s.acked, s.open = append([]race.Ruling(nil), j.Rulings()...), nil // from here on it is there
		}
		acked += len(s.acked)
	}
	t.Logf("%d trials (seeds 0…), %d rulings kept, %d unacknowledged ones came through whole", trials, acked, extra)
}

func TestWhatIsTornIsKept(t *testing.T) {
	s := &session{disk: torn()}
	if err := s.run(func(j *Journal) {
		if j.Report().TornTo != File+".torn-1" || j.Report().Torn != 24 {
			t.Errorf("told %+v", j.Report())
		}
		s.rule(j)
	}); err != nil {
		t.Fatal(err)
	}
	if got := string(s.disk.files[filepath.Dir(there)+"/"+File+".torn-1"].stable); got != `{"seq":1,"at":"2026-05-1` {
		t.Fatalf("kept %q", got)
	}
}
