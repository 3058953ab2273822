package race

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// box is what a reader at a line writes of n runners who come every 4 s: bursts of some reads,
// each at its own moment and strength, on a clock late ms off, in whole units of time.
func box(seed uint64, n int, late, unit Instant, strengths bool) *Reads {
	rng := rand.New(rand.NewPCG(seed, 1))
	x := &Reads{Antennas: []string{"", "1", "2"}}
	var tags []TagReads
	for i := range n {
		t := TagReads{Tag: fmt.Sprint("A", i)}
		at := Instant(1_000_000 + 4000*i + i*i%4000)
		for range 3 {
			at += Instant(1000 + rand.New(rand.NewPCG(uint64(at), 7)).IntN(200)) // the runner's, whoever reads
			r := Read{At: (at + late) / unit * unit, RSSI: NoRSSI, Antenna: uint8(1 + rng.IntN(2))}
			if unit == 1 {
				r.At += Instant(rng.IntN(60)) // no two antennas read at the same moment
			}
			if strengths {
				r.RSSI = int16(-10 * (40 + rng.IntN(30)))
			}
			t.Reads = append(t.Reads, r)
			x.Kept++
		}
		tags = append(tags, t)
	}
	x.Tags = TagsOf(tags...)
	return x
}

func TestTwoLogsAreOneOnlyWhereChanceCannotSayIt(t *testing.T) {
	main := func(n int, unit Instant, strengths bool) *Reads { return box(1, n, 0, unit, strengths) }
	for _, c := range []struct {
		name string
		a, b *Reads
		want bool
	}{
		{"one log of milliseconds", main(20, 1, false), main(20, 1, false), true},
		{"the smallest that tells", main(3, 1, false), main(3, 1, false), true},
		{"too few to tell", main(2, 1, false), main(2, 1, false), false},
		{"one that ends a little sooner", main(400, 1, true), main(390, 1, true), true},
		{"one that goes on much longer", main(300, 1, true), main(400, 1, true), false},
		{"two boxes", main(400, 1, true), box(2, 400, 30, 1, true), false},
		{"two boxes, many tags", main(5000, 1, true), box(2, 5000, 30, 1, true), false},
		{"one log, many tags", main(5000, 1, true), main(5000, 1, true), true},
		{"two boxes in whole seconds, 1 ms apart", main(400, 1000, false), box(2, 400, 1, 1000, false), false},
		{"two boxes in whole seconds, none apart", main(60, 1000, false), box(2, 60, 0, 1000, false), false},
		{"two boxes in whole seconds with strengths", main(400, 1000, true), box(2, 400, 1, 1000, true), false},
		{"two boxes in tenths", main(400, 100, false), box(2, 400, 1, 100, false), false},
		{"two boxes in whole seconds of an odd phase", shifted(main(400, 1000, false), 37), shifted(box(2, 400, 1, 1000, false), 37), false},
		{"two boxes in whole seconds, one strength for all", loud(main(60, 1000, false)), loud(main(60, 1000, false)), false},
		{"one log in whole seconds, no strengths: who could say", main(400, 1000, false), main(400, 1000, false), false},
		{"one log in whole seconds with strengths", main(400, 1000, true), main(400, 1000, true), true},
		{"one log in tenths with strengths", main(400, 100, true), main(400, 100, true), true},
	} {
		if _, one := SameLog(c.a, c.b); one != c.want {
			t.Errorf("%s: one %v", c.name, one)
		}
	}
	if equal, _ := SameLog(main(400, 1, true), main(390, 1, true)); equal != 3*390 {
		t.Errorf("%d equal reads of %d", equal, 3*390)
	}
}

// Two logs that grow are told as they would be if they came whole: also where a tag of the
// sample grows until both are one, or the sample itself is another.
func TestTwinsThatGrowAreToldAsWhole(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	a, b := box(1, 1400, 0, 1, true), box(2, 1400, 30, 1, true)
	one := box(1, 1400, 0, 1, true)
	var twins Twins
	bySome, turned := 0, 0
	for step := range 60 {
		if step%20 == 19 { // a block of tags becomes the other log's
			e := b.Tags.Edit()
			for i := step / 20 * 500; i < min(1400, (step/20+1)*500); i++ {
				e.At(i).Reads = one.Tags.At(i).Reads
			}
			b = &Reads{Antennas: b.Antennas, Tags: e.List(), Kept: b.Kept}
		}
		for _, x := range []**Reads{&a, &b} {
			e := (*x).Tags.Edit()
			g := e.At(rng.IntN(e.Len()))
			g.Reads = append(g.Reads[:len(g.Reads):len(g.Reads)], Read{At: g.Reads[len(g.Reads)-1].At + 250, RSSI: NoRSSI})
			y := **x
			y.Tags, y.Kept = e.List(), y.Kept+1
			*x = &y
		}
		equal, is := twins.Look(a, b)
		if wantEqual, want := SameLog(a, b); is != want || equal != wantEqual {
			t.Fatalf("step %d: one %v with %d equal, whole %v with %d", step, is, equal, want, wantEqual)
		}
		if twins.bySome {
			bySome++
		}
		if is {
			turned++
		}
	}
	if bySome < 30 || turned == 0 {
		t.Errorf("%d times told by some of the tags, %d times one log: the test asks for both", bySome, turned)
	}
}

// shifted is a log all of whose times are ms later.
func shifted(x *Reads, ms Instant) *Reads {
	for t := range x.Tags.All() {
		for i := range t.Reads {
			t.Reads[i].At += ms
		}
	}
	return x
}

// loud is a log that writes the same strength beside every read.
func loud(x *Reads) *Reads {
	for t := range x.Tags.All() {
		for i := range t.Reads {
			t.Reads[i].RSSI, t.Reads[i].Antenna = -500, 1
		}
	}
	return x
}
