package main

import (
	"encoding/binary"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"
)

const formsPlan = `-- race.toml --
format = 1
name = "Forms"
date = 2026-05-17
timezone = "Europe/Lisbon"
[[line]]
id = "finish"
  [[line.log]]
  system = "SYSTEM"
  path = "logs/f*.csv"
[[course]]
id = "ten"
sport = "run"
prizes = 0
  [[course.split]]
  id = "finish"
  line = "finish"
  at = "10km"
[[wave]]
id = "A"
course = "ten"
gun = GUN
-- athletes.csv --
bib,name,wave
1,One,A
2,Two,A
3,Three,A
-- chips.csv --
tag,bib
T1,1
T2,2
T3,3
`

func formsRace(t *testing.T, system, gun string) *contract {
	t.Helper()
	c := &contract{t: t, dir: filepath.Join(t.TempDir(), "race"), at: t.Name()}
	c.unpack(strings.NewReplacer("SYSTEM", system, "GUN", gun).Replace(formsPlan) + "-- logs/f1.csv --\n")
	return c
}

func utf16Text(s string, order binary.AppendByteOrder) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = order.AppendUint16(b, u)
	}
	return string(b)
}

// 3: every form of a log gives the same three times, through the whole program. Who writes
// logs isn't asked: the same reads, told in all the ways the page allows.
func TestContractLogForms(t *testing.T) {
	plain := "tag,time\nT1,2026-05-17T09:40:00.250+01:00\nT2,2026-05-17T09:41:00.500+01:00\nT3,2026-05-17T09:42:00.000+01:00\n"
	crlf := "\ufeff" + strings.ReplaceAll(plain, "\n", "\r\n")
	for name, log := range map[string]string{
		"plain":         plain,
		"BOM and CRLF":  crlf,
		"UTF-16LE":      utf16Text(crlf, binary.LittleEndian),
		"UTF-16BE":      utf16Text(crlf, binary.BigEndian),
		"Z":             "tag,time\nT1,2026-05-17T08:40:00.25Z\nT2,2026-05-17T08:41:00.5Z\nT3,2026-05-17T08:42:00Z\n",
		"without zone":  "tag,time\nT1,2026-05-17T09:40:00.25\nT2,2026-05-17T09:41:00.5\nT3,2026-05-17T09:42:00\n",
		"space":         "tag;time\nT1;2026-05-17 09:40:00.25\nT2;2026-05-17 09:41:00.5\nT3;2026-05-17 09:42:00\n",
		"clock":         "tag\ttime\nT1\t09:40:00.25\nT2\t09:41:00.5\nT3\t09:42:00\n",
		"decimal comma": "tag|time\nT1|09:40:00,25\nT2|09:41:00,5\nT3|09:42:00\n",
		"quoted comma":  "tag,time\nT1,\"09:40:00,25\"\nT2,\"09:41:00,5\"\nT3,09:42:00\n",
		"seconds":       "time,tag\n1779007200.25,T1\n1779007260.5,T2\n1779007320,T3\n",
		"seconds comma": "time;tag\n1779007200,25;T1\n1779007260,5;T2\n1779007320;T3\n",
		"milliseconds":  "Timestamp,EPC\n1779007200250,T1\n1779007260500,T2\n1779007320000,T3\n",
		"open standard": "EPC,AntennaID,LastSeenTimestampUTC,FirstSeenTimestampUTC,PeakRSSI,TagSeenCount\nT1,1,1779007200350000,1779007200250999,-50,3\nT2,1,1779007260600000,1779007260500000,-40,2\nT3,2,1779007320000000,1779007320000000,-60,1\n",
		"no header":     "09:40:00.25;T1;x;4\n09:41:00.5;T2;x;4\n09:42:00;T3;x;4\n",
		"quotes":        "\"note\",\"tag\",\"time\"\n\"a, \"\"b\"\"\",\"t-1\",\"2026-05-17T09:40:00.25\"\n\"\",\"T 2\",\"2026-05-17T09:41:00.5\"\n\"\",\"T3\",\"2026-05-17T09:42:00\"\n",
		"blank lines":   "\n\n" + strings.ReplaceAll(plain, "\n", "\n\n"),
		"no last end":   strings.TrimSuffix(plain, "\n"),
	} {
		t.Run(name, func(t *testing.T) {
			c := formsRace(t, "main", "09:00:00")
			c.write("logs/f1.csv", log)
			c.script(`
				export
				cell times 1 gun_time 0:40:00.250
				cell times 2 gun_time 0:41:00.500
				cell times 3 gun_time 0:42:00.000
				cell systems finish/main reads 3
				cell systems finish/main bad_lines 0`)
		})
	}
	for name, log := range map[string]string{
		"bib and time": "bib,time\n1,09:40:00.25\n2,09:41:00.5\n3,09:42:00\n",
		"time and bib": "Time;Race number\n09:40:00,25;1\n09:41:00,5;2\n09:42:00;3\n",
		"hand, bare":   "1,09:40:00.25\n2,09:41:00.5\n3,09:42:00\n",
	} {
		t.Run(name, func(t *testing.T) {
			c := formsRace(t, "hand", "09:00:00")
			c.write("logs/f1.csv", log)
			c.script(`
				export
				cell times 1 gun_time 0:40:00.250
				cell times 2 gun_time 0:41:00.500
				cell times 3 finish_from hand`)
		})
	}
}

// 2, 3 and 8: several files are one log: what one repeats of another counts once, and
// midnight, once crossed, stays crossed in the next file.
func TestContractNightInTwoFiles(t *testing.T) {
	c := formsRace(t, "main", "2026-05-17T22:00:00")
	c.write("logs/f1.csv", "tag,time\nT1,23:50:00\n")
	c.write("logs/f2.csv", "tag,time\nT1,23:50:00\nT2,00:01:00\n")
	c.write("logs/f3.csv", "tag,time\nT3,00:10:00\n")
	c.script(`
		export
		cell times 1 finish_at 2026-05-17T23:50:00.000+01:00
		cell times 2 finish_at 2026-05-18T00:01:00.000+01:00
		cell times 3 finish_at 2026-05-18T00:10:00.000+01:00
		cell systems finish/main reads 3
		cell systems finish/main repeated_lines 1`)
}

// 3 and 8: identical are tag, time, antenna and strength; a line over 64 KiB is bad, one of
// 64 KiB isn't.
func TestContractLinesThatCount(t *testing.T) {
	long := func(tag, time string, n int) string {
		s := tag + ",2026-05-17T" + time + ",1,-50,1,"
		return s + strings.Repeat("x", n-len(s)) + "\n"
	}
	c := formsRace(t, "main", "09:00:00")
	c.write("logs/f1.csv", "tag,time,antenna,rssi,count,note\n"+
		"T1,2026-05-17T09:40:00,1,-50,3,\nt-1,2026-05-17 09:40:00.000,1,-50.0,4,again\nT1,2026-05-17T09:40:00,2,-50,3,\nT1,2026-05-17T09:40:00,1,-51,3,\n"+
		long("T2", "09:41:00", 1<<16)+long("T3", "09:42:00", 1<<16+1))
	c.script(`
		export
		cell systems finish/main reads 4
		cell systems finish/main repeated_lines 1
		cell systems finish/main bad_lines 1
		cell splits 1/finish reads_main 3
		cell times 2 state clean
		cell times 3 state unseen`)
}
