// Package logs makes reads out of the bytes of read logs.
//
// A Log takes the files of one [[line.log]] in pieces of any size and knows all their
// reads at any moment; ReadAll does the same for files that are whole. The order of the
// work: bytes → text lines (decode.go, lines.go) → a layout found once a file, and again at
// each header (words.go, header.go, content.go) → tag, instant, antenna and strength of each
// line (parse.go, stamp.go, zone.go, chain.go, tags.go) → reads by tag, each once (store.go, rare.go,
// snapshot.go).
//
// What must hold:
//   - Lines = Kept + Repeated + BadLines + Waiting; headers and blank lines count as nothing.
//   - How the bytes were cut into pieces never shows.
//   - What has been seen stays known: a file begun again adds to what it gave before.
//   - A line ends at its newline, quotes or not: an unclosed quote can't swallow a log.
//   - Parsing allocates nothing per read.
package logs
