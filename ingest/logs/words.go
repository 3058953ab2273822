package logs

import (
	"strings"
	"unicode"
)

// role is what a column holds.
type role uint8

const (
	noRole role = iota
	roleTag
	roleTime
	roleAntenna
	roleRSSI
	roleBib
	roleLastTime
	roleCount
	roles
)

// roleNames are the keys that the plan's columns may have.
var roleNames = [roles]string{"", "tag", "time", "antenna", "rssi", "bib", "last_time", "count"}

// words are column names without case, spaces and signs, best first: where two columns
// claim one role, the one named by the earlier word has it. The camel-case names of the
// LLRP standard are among them.
var words = [roles][]string{
	roleTag: {"tag", "epc", "epc96", "epcdata", "chip", "transponder", "tagid", "chipid", "chipcode", "tagcode", "chipno",
		"tagno", "chipnr", "chipnumber", "tagnumber", "transponderid", "transpondercode", "transpondernumber", "transpondernr",
		"transponderno", "epccode", "epcid", "epchex", "rfid", "rfidtag", "uid", "puce", "pastille", "dorsalchip", "code"},
	roleTime: {"firstseentimestamputc", "firstseentimestamp", "firstseentime", "firstseen", "firsttime", "timestamp", "time",
		"datetime", "utctimestamp", "timestamputc", "readtime", "passingtime", "tagtime", "seenat", "readat", "timeofday", "tod",
		"clocktime", "clock", "utc", "utctime", "localtime", "unixtime", "unix", "epoch", "zeit", "uhrzeit", "zeitstempel",
		"zeitpunkt", "heure", "horodatage", "hora", "tiempo", "ora", "orario", "tempo", "tijd", "tid", "tidspunkt", "klockslag",
		"czas", "cas", "aika", "seen", "first", "at", "when"},
	roleAntenna: {"antenna", "antennaid", "ant", "antennaport", "antennano", "antennanumber", "antennanr", "antenne", "antena",
		"port", "portid", "readerport", "mat", "loop", "channel"},
	roleRSSI: {"rssi", "peakrssi", "maxrssi", "dbm", "rssidbm", "peakrssidbm", "strength", "signalstrength", "signal",
		"peakstrength", "power", "level"},
	roleBib: {"bib", "bibno", "bibnumber", "bibnr", "startnumber", "racenumber", "startnummer", "startnr", "stnr", "dossard",
		"dorsal", "pettorale", "startno", "number", "nummer", "no", "nr"},
	roleLastTime: {"lastseentimestamputc", "lastseentimestamp", "lastseentime", "lastseen", "lasttime", "last"},
	roleCount:    {"tagseencount", "seencount", "readcount", "count", "reads", "hits"},
}

// wordRole tells the role that a column name claims and how well: 0 is best.
func wordRole(name string) (r role, rank int) {
	plain := plainName(name)
	for _, w := range []string{plain, trimUnit(plain)} {
		if w == "" {
			continue
		}
		for r := roleTag; r < roles; r++ {
			for i, s := range words[r] {
				if s == w {
					return r, i
				}
			}
		}
	}
	return noRole, 0
}

// plainName leaves letters and digits in lower case; what stands in brackets is a unit.
func plainName(s string) string {
	if i := strings.IndexAny(s, "(["); i > 0 {
		s = s[:i]
	}
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}

// trimUnit leaves out a unit written into a name, as in time_ms or rssi_dbm.
func trimUnit(s string) string {
	for _, unit := range []string{"microseconds", "milliseconds", "seconds", "micros", "millis", "dbm", "utc", "us", "ms", "hex", "local", "s"} {
		if cut := strings.TrimSuffix(s, unit); cut != s && cut != "" {
			return cut
		}
	}
	return s
}
