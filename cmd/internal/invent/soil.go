package invent

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"unicode/utf16"
)

// piece is a line, or half of one, as a log's file gets it.
type piece struct {
	file  int // of the log's files
	bytes []byte
	when  int64
}

// count is what a file holds, as a reader of logs should count it. Where the contract leaves
// a fault's counting open there is a span.
type count struct {
	path, form     string
	lines, reads   int
	badMin, badMax int
	repMin, repMax int
	note           string
	line, system   int
}

// rubbish is what turns up between the reads; none of it is a read in any form.
func rubbish(g *rand.Rand, tag string) []string {
	lines := []string{"reader restarted, buffer cleared", tag, tag + ",yesterday,2,-55", "#$%&", tag + ",2026-04-19T10:61:07.000+01:00,1,-60",
		"<<<<<<< carrier lost", tag + ";;;", "temperature 41"}
	g.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
	return lines
}

// soiled gives a log's pieces with its faults, and what its files then hold.
func (r *Race) soiled(p *logPlan) ([]piece, []count, error) {
	g := r.rng("soil " + p.path)
	var lines []piece
	w := writer{form: p.form, zone: r.zone}
	err := r.each(p, func(s *stamped) error {
		lines = append(lines, piece{bytes: w.line(nil, s), when: s.write})
		return nil
	})
	if err != nil || len(lines) == 0 {
		return nil, nil, err
	}
	c := count{path: strings.Replace(p.path, "*", "-1", 1), form: p.form, reads: len(lines), line: p.line, system: p.system}
	if p.soil == "shuffled" {
		shuffleBlocks(g, lines)
	}
	if p.soil != "twice" {
		lines = r.strew(g, p, lines, &c)
	}
	head := headers[p.form]
	if head != "" {
		lines = append([]piece{{bytes: []byte(head + "\n"), when: lines[0].when}}, lines...)
	}
	c.lines = len(lines)
	if p.soil == "split" {
		return r.splitInTwo(p, lines, c)
	}
	lines = spoilt(p.soil, lines, &c)
	return lines, []count{c}, nil
}

// shuffleBlocks puts the lines of each block out of order: they come when its last one does.
func shuffleBlocks(g *rand.Rand, lines []piece) {
	for k := 0; k < len(lines); k += 240 {
		block := lines[k:min(len(lines), k+240)]
		late := block[len(block)-1].when
		g.Shuffle(len(block), func(i, j int) { block[i], block[j] = block[j], block[i] })
		for i := range block {
			block[i].when = late
		}
	}
}

// spoilt gives a file's lines the form and the faults of a soil, and counts those.
func spoilt(soil string, lines []piece, c *count) []piece {
	switch soil {
	case "quoted":
		c.note = "BOM, CRLF, quotes"
		for i := range lines {
			lines[i].bytes = append(bytes.TrimSuffix(lines[i].bytes, []byte("\n")), "\r\n"...)
		}
		lines[0].bytes = append([]byte("\ufeff"), lines[0].bytes...)
	case "shuffled":
		c.note = "semicolons, decimal comma, blocks of 240 lines shuffled"
	case "wide":
		c.note = "UTF-16, tabs; the last line is cut and may count as bad or as still to come"
		last := &lines[len(lines)-1]
		last.bytes = last.bytes[:len(last.bytes)/3]
		c.reads--
		c.badMax++
		for i := range lines {
			lines[i].bytes = utf16le(lines[i].bytes, i == 0)
		}
	case "bare":
		c.note = "no header, the time of day alone, a line of NULs, a line of a megabyte"
		at := len(lines) / 2
		long := piece{bytes: append(bytes.Repeat([]byte("x"), 1<<20), '\n'), when: lines[at].when}
		nuls := piece{bytes: append(make([]byte, 600), '\n'), when: lines[at].when}
		lines = append(lines[:at:at], append([]piece{long, nuls}, lines[at:]...)...)
		c.lines += 2
		c.badMin += 2
		c.badMax += 2
	case "twice":
		c.note = "the whole log, header too, once more at its end"
		again := lines
		end := lines[len(lines)-1].when
		for _, l := range again {
			l.when = max(end, l.when) + second
			lines = append(lines, l)
		}
		c.lines = len(lines)
		c.repMin, c.repMax = c.reads, c.reads+1
	}
	return lines
}

// strew puts rubbish between the lines, never before the first read.
func (r *Race) strew(g *rand.Rand, p *logPlan, lines []piece, c *count) []piece {
	for _, text := range rubbish(g, r.people[0].tags[0]) {
		if p.form == "semicolon-comma" || p.form == "tab" {
			text = strings.ReplaceAll(text, ";", " ")
		}
		at := 1 + g.IntN(len(lines)-1)
		l := piece{bytes: []byte(text + "\n"), when: lines[at].when}
		lines = append(lines[:at:at], append([]piece{l}, lines[at:]...)...)
		c.badMin++
		c.badMax++
	}
	return lines
}

// splitInTwo puts a log into two files, the second of which begins with the last 200 lines
// of the first.
func (r *Race) splitInTwo(p *logPlan, lines []piece, c count) ([]piece, []count, error) {
	at := len(lines) / 2
	back := max(1, at-200)
	second := c
	second.path = strings.Replace(p.path, "*", "-2", 1)
	second.reads, second.badMin, second.badMax = 0, 0, 0
	out := append([]piece{}, lines[:at]...)
	head := lines[0]
	head.file, head.when = 1, lines[at].when
	out = append(out, head)
	for _, l := range lines[back:] {
		l.file = 1
		l.when = max(l.when, lines[at].when)
		out = append(out, l)
	}
	// Rubbish in the part that both files hold may count once or twice.
	for _, l := range lines[back:at] {
		if isRead(l.bytes) {
			second.repMin++
			second.repMax++
		} else {
			second.badMax++
		}
	}
	c.lines, second.lines = at, len(lines)-back+1
	c.note, second.note = "first of two files, by glob", "second of two files, starts with the last 200 lines of the first"
	return out, []count{c, second}, nil
}

// isRead tells a line of the plain form from rubbish.
func isRead(b []byte) bool {
	return bytes.Count(b, []byte(",")) == 3 && bytes.Contains(b, []byte("Z,"))
}

func utf16le(b []byte, mark bool) []byte {
	var out []byte
	if mark {
		out = append(out, 0xff, 0xfe)
	}
	for _, u := range utf16.Encode([]rune(string(b))) {
		out = append(out, byte(u), byte(u>>8))
	}
	return out
}
