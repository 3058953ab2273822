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

// claim is what a word claims for its column: a role, and how well it does; 0 is best.
type claim struct {
	role role
	rank int
}

var claims = func() map[string]claim {
	m := make(map[string]claim)
	for r := roles - 1; r > noRole; r-- { // an earlier role has a word that two claim
		for i, w := range words[r] {
			m[w] = claim{r, i}
		}
	}
	return m
}()

// wordRole tells the role that a column name claims and how well.
func wordRole(name string) (r role, rank int) {
	plain := plainName(name)
	c, ok := claims[plain]
	if !ok {
		c = claims[trimUnit(plain)]
	}
	return c.role, c.rank
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
