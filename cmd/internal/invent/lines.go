package invent

import (
	"cmp"
	"slices"
	"strconv"
	"time"
)

// stamped is a read as its log has it.
type stamped struct {
	shown int64 // the clock's instant, whole milliseconds in microseconds
	write int64 // race clock: when the line is appended
	tag   string
	bib   int // of a hand log
	reading
}

// tidyForms are the forms of log that a reader may write without any fault.
var tidyForms = []string{"plain-z", "llrp", "naive", "naive-utc", "mapped", "unix-s", "unix-ms"}

// headers of each form; a form that isn't here has none.
var headers = map[string]string{
	"plain": "tag,time,antenna,rssi", "plain-z": "tag,time,antenna,rssi", "quoted": `"tag","time","antenna","rssi"`,
	"llrp":  "EPC,FirstSeenTimestampUTC,LastSeenTimestampUTC,PeakRSSI,AntennaID,TagSeenCount",
	"naive": "chip;timestamp;antenna;rssi;box", "naive-utc": "time;tag;antenna;rssi", "mapped": "box;epc;port;first_seen;dbm",
	"unix-s": "tag|time|antenna|rssi", "unix-ms": "time\ttag\tant\trssi", "semicolon-comma": "tag;time;antenna;rssi",
	"tab": "tag\ttime\tantenna\trssi", "clock": "tag,time,antenna,rssi", "hand": "bib,time",
}

// A line is on disk a moment after its read, neighbours not always in order.
const (
	writeAfter  = 60 * milli
	writeSpread = 120 * milli
)

// each gives a log's reads in the order in which the system writes them.
func (r *Race) each(p *logPlan, give func(*stamped) error) error {
	if p.system == handSystem {
		return r.eachKeyed(p, give)
	}
	d := newDice()
	var buf []reading
	var waiting []stamped
	spread := uint64(writeSpread)
	if p.form == "clock" || p.form == "bare-clock" {
		spread = 1 // the order of lines tells one hour from its repeat
	}
	flush := func(until int64) error {
		slices.SortStableFunc(waiting, func(a, b stamped) int { return cmp.Compare(a.write, b.write) })
		n := 0
		for n < len(waiting) && waiting[n].write < until {
			if err := give(&waiting[n]); err != nil {
				return err
			}
			n++
		}
		waiting = append(waiting[:0], waiting[n:]...)
		return nil
	}
	vs := r.visits[p.line]
	longest := int64(0) // the longest that a read may lie before its visit's moment
	for i := range vs {
		before, _ := r.lengthOf(&vs[i])
		longest = max(longest, before)
	}
	behind := r.lines[p.line].behind
	for i := range vs {
		v := &vs[i]
		if len(waiting) > 8192 {
			if err := flush(v.at - longest); err != nil {
				return err
			}
		}
		for k, tag := range r.tagsOf(v) {
			if v.lost[p.system]>>k&1 != 0 {
				continue
			}
			buf = r.burst(d, v, behind, p.system, k, buf[:0])
			for j := range buf {
				if !p.reads(buf[j].at) {
					continue
				}
				write := buf[j].at + writeAfter + int64(mix(uint64(buf[j].at)^uint64(v.serial))%spread)
				waiting = append(waiting, stamped{shown: wholeMillis(p.clock.shows(buf[j].at)), write: write, tag: tag, reading: buf[j]})
			}
		}
	}
	return flush(1<<62 - 1)
}

// reads tells whether the system is alive at a moment.
func (p *logPlan) reads(t int64) bool {
	for _, s := range p.dead {
		if t >= s.from && t < s.to {
			return false
		}
	}
	return true
}

func (r *Race) tagsOf(v *visit) []string {
	if v.body < 0 {
		return []string{r.strays[v.stray].tag}
	}
	return r.people[v.body].tags
}

// keyed is what a person with a keyboard makes of a crossing: nothing at times, else the
// moment of the key within half a second or so.
func (r *Race) keyed(d *dice, v *visit) (at int64, ok bool) {
	if v.sort != crossing || v.body < 0 || v.split < 0 {
		return 0, false
	}
	d.src.Seed(mix(r.Seed+uint64(v.serial)), 0x6b6579)
	if d.Float64() < .02+.012*float64(v.crowd) {
		return 0, false
	}
	return v.at + micros(bell(d.Rand, .05, .35)), true
}

func (r *Race) eachKeyed(p *logPlan, give func(*stamped) error) error {
	d := newDice()
	vs := r.visits[p.line]
	var keyed []stamped
	for i := range vs {
		if at, ok := r.keyed(d, &vs[i]); ok && p.reads(at) {
			keyed = append(keyed, stamped{shown: p.clock.shows(at) / (100 * milli) * 100 * milli, write: at + second, bib: r.people[vs[i].body].bib})
		}
	}
	slices.SortStableFunc(keyed, func(a, b stamped) int { return cmp.Compare(a.write, b.write) })
	for i := range keyed {
		if err := give(&keyed[i]); err != nil {
			return err
		}
	}
	return nil
}

// writer puts reads into the form of one log.
type writer struct {
	form string
	zone *time.Location
	// The second that was written last, in the form of a date and time with the zone's offset.
	head, tail []byte
	at         int64
}

// line appends a read in the log's form, with its newline.
func (w *writer) line(b []byte, s *stamped) []byte {
	switch w.form {
	case "plain":
		b = append(append(b, s.tag...), ',')
		b = append(w.stamp(b, s.shown, "2006-01-02T15:04:05", w.zone, '.'), w.tail...)
		return rest(b, ',', s)
	case "plain-z":
		b = append(append(b, s.tag...), ',')
		b = append(w.stamp(b, s.shown, "2006-01-02T15:04:05", time.UTC, '.'), 'Z')
		return rest(b, ',', s)
	case "quoted":
		b = append(append(append(b, '"'), s.tag...), `","`...)
		b = append(w.stamp(b, s.shown, "2006-01-02T15:04:05", w.zone, '.'), w.tail...)
		b = append(strconv.AppendInt(append(b, `","`...), int64(s.antenna), 10), `","`...)
		return append(strconv.AppendInt(b, int64(s.rssi), 10), "\"\n"...)
	case "llrp":
		b = append(append(b, s.tag...), ',')
		b = append(strconv.AppendInt(b, s.shown, 10), ',')
		b = append(strconv.AppendInt(b, s.shown, 10), ',')
		b = append(strconv.AppendInt(b, int64(s.rssi), 10), ',')
		return append(strconv.AppendInt(b, int64(s.antenna), 10), ",1\n"...)
	case "naive":
		b = append(append(b, s.tag...), ';')
		b = w.stamp(b, s.shown, "2006-01-02 15:04:05", w.zone, '.')
		b = append(strconv.AppendInt(append(b, ';'), int64(s.antenna), 10), ';')
		return append(strconv.AppendInt(b, int64(s.rssi), 10), ";7\n"...)
	case "naive-utc":
		b = append(w.stamp(b, s.shown, "2006-01-02 15:04:05", time.UTC, '.'), ';')
		return rest(append(b, s.tag...), ';', s)
	case "mapped":
		b = append(append(append(b, "7;"...), s.tag...), ';')
		b = append(strconv.AppendInt(b, int64(s.antenna), 10), ';')
		b = append(strconv.AppendInt(b, s.shown, 10), ';')
		return append(strconv.AppendInt(b, int64(s.rssi), 10), '\n')
	case "unix-s":
		b = append(append(b, s.tag...), '|')
		b = append(strconv.AppendInt(b, s.shown/second, 10), '.')
		return rest(thousandths(b, s.shown), '|', s)
	case "unix-ms":
		b = append(strconv.AppendInt(b, s.shown/milli, 10), '\t')
		return rest(append(b, s.tag...), '\t', s)
	case "semicolon-comma":
		b = append(append(b, s.tag...), ';')
		return rest(w.stamp(b, s.shown, "2006-01-02 15:04:05", w.zone, ','), ';', s)
	case "tab":
		b = append(append(b, s.tag...), '\t')
		return rest(w.stamp(b, s.shown, "2006-01-02 15:04:05", w.zone, '.'), '\t', s)
	case "hand":
		b = append(strconv.AppendInt(b, int64(s.bib), 10), ',')
		b = w.stamp(b, s.shown, "15:04:05", w.zone, '.')
		return append(b[:len(b)-2], '\n')
	}
	// The time of day and nothing else.
	b = append(append(b, s.tag...), ',')
	return rest(w.stamp(b, s.shown, "15:04:05", w.zone, '.'), ',', s)
}

func rest(b []byte, sep byte, s *stamped) []byte {
	b = append(strconv.AppendInt(append(b, sep), int64(s.antenna), 10), sep)
	return append(strconv.AppendInt(b, int64(s.rssi), 10), '\n')
}

func thousandths(b []byte, us int64) []byte {
	ms := us / milli % 1000
	return append(b, byte('0'+ms/100), byte('0'+ms/10%10), byte('0'+ms%10))
}

// stamp writes an instant in a layout that ends with seconds, then the point and thousandths.
// What the same second wrote before is kept: ten million calls are most of the work.
func (w *writer) stamp(b []byte, us int64, layout string, zone *time.Location, point byte) []byte {
	if s := us / second; w.head == nil || s != w.at {
		t := time.Unix(s, 0).In(zone)
		w.head = t.AppendFormat(w.head[:0], layout)
		w.tail = t.AppendFormat(w.tail[:0], "Z07:00")
		w.at = s
	}
	return thousandths(append(append(b, w.head...), point), us)
}
