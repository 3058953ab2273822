package race

import "testing"

func TestBirths(t *testing.T) {
	for s, want := range map[string]bool{"1984": true, "1984-03-31": true, "31.3.1984": true, "31/03/1984": true, "3/31/1984": true, "1964-02-29": true,
		"1961-02-29": false, "1984-04-31": false, "31.13.1984": false, "1984-3-31": false, "84": false, "0984": false, "May 90": false, "": false, " 1984": false} {
		if IsBirth(s) != want {
			t.Errorf("%q: %v", s, !want)
		}
	}
}

func TestArguments(t *testing.T) {
	for s, want := range map[string]string{"214": "214", "finish@10:41": "finish@10:41", "4 A": "'4 A'", "O'Neil": `'O'\''Neil'`, "": "''", "a=b": "'a=b'", "x;y": "'x;y'", "$1": "'$1'"} {
		if got := Arg(s); got != want {
			t.Errorf("%q: %s", s, got)
		}
	}
}
