package race

import (
	"testing"
	"testing/quick"
)

func rounding(name string) Rounding {
	for _, r := range Roundings {
		if r.Name == name {
			return r
		}
	}
	panic(name)
}

// The rule books' own examples. IAAF Rule 165.24(e), today World Athletics Technical Rule
// 19.24.5 (text at sydney-marathon.com): 2:09:44.3 is 2:09:45. IAAF Rule 165 of 2006–07
// (probeg.narod.ru): 2:25:08.1 is 2:25:09. An exact second stays (IAAF 165.10(b), from
// memory). Photo finish to the next longer hundredth: 9.572 is 9.58 (letsrun.com thread
// 12486099), 9.991 is 10.00 and 9.990 stays (sports.answers.com). Hand times to the next
// longer tenth: 10.11 is 10.2 (Technical Rule 19.10.1, from memory). Swiss Orienteering WO
// article 132: fractions are rounded down, 44.9 is 44.
func TestRoundingAsTheRuleBooksHaveIt(t *testing.T) {
	const h, m = 3_600_000, 60_000
	for _, c := range []struct {
		rule     string
		in, want Millis
	}{
		{"up-1s", 2*h + 9*m + 44_300, 2*h + 9*m + 45_000},
		{"up-1s", 2*h + 25*m + 8_100, 2*h + 25*m + 9_000},
		{"up-1s", 2*h + 9*m + 45_000, 2*h + 9*m + 45_000},
		{"up-1s", 2*h + 9*m + 45_010, 2*h + 9*m + 46_000},
		{"up-1s", 2*h + 9*m + 44_322, 2*h + 9*m + 45_000},
		{"up-0.01s", 9_572, 9_580}, {"up-0.01s", 9_991, 10_000}, {"up-0.01s", 9_990, 9_990}, {"up-0.01s", 26*m + 17_533, 26*m + 17_540}, {"up-0.01s", 26*m + 17_540, 26*m + 17_540},
		{"up-0.1s", 10_110, 10_200}, {"up-0.1s", 59*m + 26_322, 59*m + 26_400},
		{"down-1s", 44_900, 44_000}, {"none", 12_345, 12_345},
		{"up-1s", -300, 0}, {"down-1s", -300, -1000},
	} {
		if got := rounding(c.rule).Apply(c.in); got != c.want {
			t.Errorf("%s of %s is %s, want %s", c.rule, c.in, got, c.want)
		}
	}
	if got := rounding("up-1s").Apply(2*h + 9*m + 44_300).String(); got != "2:09:45.000" {
		t.Errorf("written %s", got)
	}
}

// Rounding up is idempotent, never shortens, and adds less than a unit.
func TestRoundingUp(t *testing.T) {
	for _, r := range Roundings {
		if err := quick.Check(func(x int32) bool {
			d := Millis(x)
			up := r.Apply(d)
			if r.Apply(up) != up {
				return false
			}
			if r.Unit == 0 {
				return up == d
			}
			if r.Up {
				return up >= d && up-d < r.Unit
			}
			return up <= d && d-up < r.Unit
		}, nil); err != nil {
			t.Errorf("%s: %v", r.Name, err)
		}
	}
}

func TestLengthsAsText(t *testing.T) {
	for d, want := range map[Millis]string{0: "0:00:00.000", 7_784_300: "2:09:44.300", -500: "-0:00:00.500", 36_000_000: "10:00:00.000", NoMillis: ""} {
		if got := d.String(); got != want {
			t.Errorf("%d: %q, want %q", int64(d), got, want)
		}
	}
	for d, want := range map[Millis]string{200: "0.200", -12_500: "-12.500", NoMillis: ""} {
		if got := d.Decimal(); got != want {
			t.Errorf("%d: %q, want %q", int64(d), got, want)
		}
	}
}

// Tags compare without case, spaces and separators; leading zeros count. The pairs are of
// the GS1 EPC Tag Data Standard, Annex E.3, in the forms in which readers print them.
func TestTagsCompare(t *testing.T) {
	for in, want := range map[string]string{
		"3074257bf7194e4000001a85": "3074257BF7194E4000001A85", "3074 257B F719 4E40 0000 1A85": "3074257BF7194E4000001A85",
		"30-74-25-7b-f7-19-4e-40-00-00-1a-85": "3074257BF7194E4000001A85", "000123": "000123",
	} {
		if got := CanonicalTag(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestBibsInOrder(t *testing.T) {
	order := []string{"2", "10", "010a", "A1", "A2"}
	for i := range order {
		for j := range order {
			if got := CompareBibs(order[i], order[j]); (got < 0) != (i < j) || (got == 0) != (i == j) {
				t.Errorf("%q against %q: %d", order[i], order[j], got)
			}
		}
	}
}
