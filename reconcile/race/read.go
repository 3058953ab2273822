package race

import "cmp"

// Read is one record of a log, on that log's own clock. 16 bytes: ten million of them
// are kept in memory.
type Read struct {
	At      Instant
	Line    uint32 // number of the line in its file, from 1
	RSSI    int16  // tenths of a dBm; NoRSSI: none given
	File    uint8  // index in Reads.Files
	Antenna uint8  // index in Reads.Antennas
}

// NoRSSI marks a read whose log gives no strength.
const NoRSSI int16 = -32768

// Reads is all that one log (one [[line.log]]) holds, as read from its files.
type Reads struct {
	Source   int // index in Plan.Logs
	Files    []File
	Antennas []string // labels; index 0 is "" (none given)
	Tags     []TagReads
	Bad      []BadLine // the first few, in order of file and line

	// Counts: Lines = Reads + Repeated + BadLines (+ WaitingLines, at most one a file, live only).
	Lines, Repeated, BadLines, Kept int
	Waiting                         int // last lines without their newline that may still grow
}

// File is one file of a log.
type File struct {
	Path  string // as told to people: relative to the race folder
	Lines int
	Gone  int // lines once read and no longer in the file
}

// TagReads are one tag's reads in one log, in order of At, then antenna, strength, and
// place in the files; equal ones (time, antenna, strength) stand once.
type TagReads struct {
	Tag   string // canonical; for a hand log the bib as keyed
	Reads []Read
	Twice int // repeated lines left out
}

// BadLine is a line that could not be read.
type BadLine struct {
	File   int // index in Reads.Files
	Line   int // from 1
	Why    string
	Text   string // the start of it, as it stands
	Column int    // byte column from 1, 0 unknown
}

// CompareReads orders reads by time, then antenna, strength and place in the files.
func CompareReads(a, b Read) int {
	return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Antenna, b.Antenna), cmp.Compare(a.RSSI, b.RSSI),
		cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line))
}
