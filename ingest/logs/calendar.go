package logs

// otherDate reads yyyy/mm/dd, yyyy.mm.dd, dd/mm/yyyy, mm/dd/yyyy and dd.mm.yyyy before a
// time of day. A day and month that could be exchanged are settled by the race's date, and
// only if exactly one way of reading them is near it.
func (s *stamper) otherDate(b []byte) (kind, int64) {
	var y, m, d int
	var ok [3]bool
	if b[4] == '/' || b[4] == '.' {
		if len(b) < 19 || b[7] != b[4] {
			return notTime, 0
		}
		y, ok[0] = digits(b[0:4])
		m, ok[1] = digits(b[5:7])
		d, ok[2] = digits(b[8:10])
	} else {
		if len(b) < 19 || b[5] != b[2] {
			return notTime, 0
		}
		d, ok[0] = digits(b[0:2])
		m, ok[1] = digits(b[3:5])
		y, ok[2] = digits(b[6:10])
	}
	if ok != [3]bool{true, true, true} || b[10] != ' ' && b[10] != 'T' {
		return notTime, 0
	}
	day, good := civilDay(y, m, d)
	if b[4] != '/' && b[4] != '.' && d != m {
		if swapped, can := civilDay(y, d, m); can {
			switch {
			case !good:
				day, good = swapped, b[2] == '/'
			case s.near(day) == s.near(swapped):
				s.why = whyAmbiguous
				return notTime, 0
			case s.near(swapped):
				day = swapped
			}
		}
	}
	if !good {
		s.why = whyNoDate
		return notTime, 0
	}
	return s.afterDate(day*dayMS, b[11:])
}

// near tells whether a day is one that a log of this race can hold.
func (s *stamper) near(day int64) bool {
	return s.nearDay != noDay && day >= s.nearDay-7 && day <= s.nearDay+7
}

func isDigit(c byte) bool { return c-'0' <= 9 }

func digits(b []byte) (n int, ok bool) {
	for _, c := range b {
		if !isDigit(c) {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}

// civilDay is the number of days from 1970-01-01 to a date of the Gregorian calendar,
// false where there is no such date.
func civilDay(y, m, d int) (int64, bool) {
	if y < 1 || m < 1 || m > 12 || d < 1 || d > monthLength(y, m) {
		return 0, false
	}
	// The year is begun in March, so that the leap day is its last.
	if m <= 2 {
		y--
		m += 12
	}
	yearDay := (153*(m-3)+2)/5 + d - 1
	return int64(365*y+y/4-y/100+y/400+yearDay) - 719468, true
}

func monthLength(y, m int) int {
	switch m {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}
