package logs

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"strings"
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
			if errors.Is(err, io.EOF) {
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

// Other dialects of the same half million reads: what is not the plain form takes the
// general way.
func BenchmarkParseDialects(b *testing.B) {
	plain := string(plainLog(500_000, 50_000, 1))
	zone := time.FixedZone("", 3600)
	rows := strings.Split(strings.TrimSpace(plain), "\n")[1:]
	form := func(header string, line func(tag string, at time.Time, ant, rssi string) string) []byte {
		var out strings.Builder
		out.WriteString(header)
		for _, row := range rows {
			cells := strings.Split(row, ",")
			at, err := time.Parse(time.RFC3339Nano, cells[1])
			if err != nil {
				b.Fatal(err)
			}
			out.WriteString(line(cells[0], at.In(zone), cells[2], cells[3]))
		}
		return []byte(out.String())
	}
	for name, data := range map[string][]byte{
		"quoted": form("\"tag\",\"time\",\"antenna\",\"rssi\"\r\n", func(tag string, at time.Time, ant, rssi string) string {
			return fmt.Sprintf("%q,%q,%q,%q\r\n", tag, at.Format("2006-01-02T15:04:05.000Z07:00"), ant, rssi)
		}),
		"llrp": form("EPC,FirstSeenTimestampUTC,LastSeenTimestampUTC,PeakRSSI,AntennaID,TagSeenCount\n", func(tag string, at time.Time, ant, rssi string) string {
			return fmt.Sprintf("%s,%d,%d,%s,%s,1\n", tag, at.UnixMicro(), at.UnixMicro(), rssi, ant)
		}),
		"local": form("Tag;Time;Antenna;RSSI\n", func(tag string, at time.Time, ant, rssi string) string {
			return fmt.Sprintf("%s;%s;%s;%s\n", tag, at.Format("2006-01-02 15:04:05,000"), ant, rssi)
		}),
		"clock": form("", func(tag string, at time.Time, ant, rssi string) string {
			return fmt.Sprintf("%s,%s,%s,%s\n", tag, at.Format("15:04:05.000"), ant, rssi)
		}),
		"utf-16":  utf16Bytes(plain, false, true),
		"rubbish": []byte(strings.ReplaceAll(plain, "2026-", "not a time ")),
	} {
		b.Run(name, func(b *testing.B) {
			p := benchPlan()
			spare := newScratch()
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				l := New(p, 0)
				l.lend(spare)
				feed(l, l.File("a.csv"), data, pieceLen)
				l.Finish()
				if r := l.Reads(); r.Lines != 500_000 {
					b.Fatal(r.Lines)
				}
				spare.takeBack(&l.store)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/500_000, "ns/read")
		})
	}
}

// A read that comes live, with half a million of 50,000 tags known: from its bytes to the
// new snapshot.
func BenchmarkOneMoreRead(b *testing.B) {
	l := New(benchPlan(), 0)
	f := l.File("a.csv")
	data := plainLog(500_000, 50_000, 1)
	l.Append(f, data)
	l.Reads()
	lines := bytes.SplitAfter(data, []byte("\n"))[1:]
	at := time.Date(2026, 5, 17, 18, 0, 0, 0, time.UTC)
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		i++
		at = at.Add(time.Millisecond)
		line := append(append([]byte{}, lines[i*977%500_000][:25]...), at.Format("2006-01-02T15:04:05.000Z")+",1,-50\n"...)
		l.Append(f, line)
		if r := l.Reads(); r.Kept < 400_000 {
			b.Fatal(r.Kept)
		}
	}
}
