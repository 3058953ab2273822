package logs

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// plainLog is n lines of the plain form, as a finish line writes them: bursts of about
// eight reads of each of the tags, several tags at a time.
func plainLog(n, tags int, seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 1))
	var b bytes.Buffer
	b.WriteString("tag,time,antenna,rssi\n")
	at := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
	zone := time.FixedZone("", 3600)
	for i := range n {
		tag := (i/40*5 + rng.IntN(5)) % tags
		at = at.Add(time.Duration(rng.IntN(30)) * time.Millisecond)
		fmt.Fprintf(&b, "300833B2DDD90140%08X,%s,%d,-%d\n", tag, at.In(zone).Format("2006-01-02T15:04:05.000-07:00"), 1+rng.IntN(4), 45+rng.IntN(25))
	}
	return b.Bytes()
}

func benchPlan() *race.Plan {
	return planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "a.csv"})
}

// One log of half a million reads, as the first of a race and as one of its later ones:
// those find the tags known and the memory at hand.
func BenchmarkParsePlain(b *testing.B) {
	data := plainLog(500_000, 50_000, 1)
	p := benchPlan()
	spare := newScratch()
	for _, later := range []bool{false, true} {
		b.Run(map[bool]string{false: "first", true: "later"}[later], func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				l := New(p, 0)
				if later {
					l.lend(spare)
				}
				feed(l, l.File("a.csv"), data, pieceLen)
				l.Finish()
				if r := l.Reads(); r.Kept+r.Repeated != 500_000 {
					b.Fatal(r.Kept, r.Repeated)
				}
				if later {
					spare.takeBack(&l.store)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/500_000, "ns/read")
		})
	}
}

func feed(l *Log, file int, data []byte, piece int) {
	for len(data) > 0 {
		n := min(len(data), piece)
		l.Append(file, data[:n])
		data = data[n:]
	}
}

// The yardstick: the standard library doing the least that could be called reading.
func BenchmarkParseEncodingCSV(b *testing.B) {
	data := plainLog(500_000, 50_000, 1)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		r := csv.NewReader(bytes.NewReader(data))
		r.ReuseRecord = true
		byTag := map[string][]race.Read{}
		r.Read()
		for {
			row, err := r.Read()
			if err == io.EOF {
				break
			}
			at, err := time.Parse(time.RFC3339Nano, row[1])
			if err != nil {
				b.Fatal(err)
			}
			ant, _ := strconv.Atoi(row[2])
			rssi, _ := strconv.Atoi(row[3])
			tag := row[0]
			byTag[tag] = append(byTag[tag], race.Read{At: race.Of(at), Antenna: uint8(ant), RSSI: int16(10 * rssi)})
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/500_000, "ns/read")
}

// Finding the ends of lines: the floor.
func BenchmarkFindNewlines(b *testing.B) {
	data := plainLog(500_000, 50_000, 1)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		n := 0
		for rest := data; len(rest) > 0; n++ {
			rest = rest[bytes.IndexByte(rest, '\n')+1:]
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/500_000, "ns/read")
}
