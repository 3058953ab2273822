package invent

import (
	"math/rand/v2"
	"strconv"
	"strings"
)

// Names are put together from parts that mean nothing, so that they are nobody's.
var (
	givenHeads  = []string{"Ab", "Bre", "Cal", "Dro", "El", "Fen", "Gri", "Hal", "Iv", "Jor", "Kel", "Lum", "Mar", "Nev", "Or", "Pel", "Qui", "Ros", "Sel", "Tam", "Ul", "Ves", "Wyn", "Yar", "Zin"}
	givenMen    = []string{"dan", "rik", "mo", "vin", "bert", "lo", "nar", "sten", "ko", "rus", "wyn", "tor"}
	givenWomen  = []string{"dra", "lia", "mina", "via", "bell", "ra", "nessa", "stine", "ka", "rissa", "wen", "tha"}
	familyHeads = []string{"Ald", "Bram", "Cor", "Dun", "Esk", "Farn", "Gor", "Hest", "Ing", "Jarl", "Kirn", "Lod", "Mel", "Nor", "Osk", "Pend", "Quar", "Rud", "Sorn", "Thal", "Ubb", "Varn", "Wick", "Yel", "Zet"}
	familyTails = []string{"ley", "mor", "gate", "feld", "stow", "wick", "den", "hurst", "by", "rup", "sen", "vale", "brook", "ton", "mark", "shaw"}
	placeHeads  = []string{"Brack", "Corvel", "Dram", "Elver", "Fessel", "Grindle", "Hollin", "Issel", "Kelder", "Lorn", "Marl", "Orrin", "Pell", "Quill", "Thrup", "Wither"}
	placeTails  = []string{"mere", "garth", "howe", "fold", "reach", "stead", "combe", "haven", "marsh", "brae"}
	clubTails   = []string{" Harriers", " Striders", " Track Club", " Wheelers", " Runners", " Athletic"}
)

func one(g *rand.Rand, of []string) string { return of[g.IntN(len(of))] }

func personName(g *rand.Rand, sex string) string {
	tails := givenMen
	if sex == "f" {
		tails = givenWomen
	}
	return one(g, givenHeads) + one(g, tails) + " " + one(g, familyHeads) + one(g, familyTails)
}

func placeName(g *rand.Rand) string { return one(g, placeHeads) + one(g, placeTails) }

func clubNames(g *rand.Rand, n int) []string {
	var clubs []string
	for range n {
		clubs = append(clubs, placeName(g)+one(g, clubTails))
	}
	return clubs
}

// category is the age group of a year of birth in a year of racing.
func category(sex string, born, year int) string {
	letter := "M"
	if sex == "f" {
		letter = "W"
	}
	switch age := year - born; {
	case age < 20:
		return letter + "U20"
	case age < 35:
		return letter
	default:
		return letter + strconv.Itoa(min(75, age/5*5))
	}
}

// A form of tag as readers print it: raw hexadecimal with the bib in its last digits, a
// transponder's short code, or plain digits from a pool.
func (r *Race) tagOf(g *rand.Rand, bib, chip int) string {
	n := bib*r.perBib + chip
	switch r.tagForm {
	case "short":
		letters := "ABCDEFGHJKLMNPRSTUVWXYZ"
		return string([]byte{letters[g.IntN(len(letters))], letters[g.IntN(len(letters))]}) + strconv.Itoa(41203+7*n)
	case "digits":
		return pad(strconv.Itoa(640210+n), 12)
	case "scattered":
		return "36C1" + hex(g.Uint64(), 12) + hex(uint64(n), 8)
	}
	return "36C1" + hex(r.Seed*2654435761+77, 8) + pad(strconv.Itoa(n), 12)
}

func hex(x uint64, digits int) string {
	s := strings.ToUpper(strconv.FormatUint(x, 16))
	if len(s) > digits {
		return s[len(s)-digits:]
	}
	return pad(s, digits)
}

func pad(s string, digits int) string { return strings.Repeat("0", max(0, digits-len(s))) + s }
