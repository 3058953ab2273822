package tui

import "testing"

// What somebody types is what the foot or a word of the help calls it: the first one found is that,
// not one that has the letters somewhere.
func TestAnActionIsFoundByItsName(t *testing.T) {
	for typed, want := range map[string]string{"undo": "u", "export": "E", "search": "/", "gun": "g", "by eye": "w", "status": "p", "freeze": "z", "look back": "b"} {
		d := newDriver(t, 100, 30, 300, nil)
		d.keys("S :")
		for _, r := range typed {
			k := string(r)
			if k == " " {
				k = "space"
			}
			d.keys(k)
		}
		p := d.m.top().(*palette)
		if len(p.found) == 0 || len(p.found[0].keys) == 0 || p.found[0].keys[0] != want {
			t.Errorf("%q finds first what isn't %s:\n%s", typed, want, d.screen())
		}
	}
}
