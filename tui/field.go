package tui

import (
	"unicode/utf8"

	tea "github.com/charmbracelet/bubbletea"
)

// Longer than any bib, name or reason; a paste of a whole file stops here.
const fieldLimit = 400

// A field is one line of typing.
type field struct {
	runes []rune
	at    int // the cursor stands before this rune
}

func (f *field) String() string { return string(f.runes) }

func (f *field) set(s string) {
	f.runes = []rune(s)
	f.at = len(f.runes)
}

// key takes what edits the line and tells whether it did.
func (f *field) key(k tea.KeyMsg) bool {
	switch k.String() {
	case "left":
		f.at = max(f.at-1, 0)
	case "right":
		f.at = min(f.at+1, len(f.runes))
	case "home", "ctrl+a":
		f.at = 0
	case "end", "ctrl+e":
		f.at = len(f.runes)
	case "backspace":
		if f.at > 0 {
			f.runes = append(f.runes[:f.at-1], f.runes[f.at:]...)
			f.at--
		}
	case "delete":
		if f.at < len(f.runes) {
			f.runes = append(f.runes[:f.at], f.runes[f.at+1:]...)
		}
	case "ctrl+u":
		f.runes, f.at = f.runes[f.at:], 0
	case "ctrl+w":
		n := f.at
		for n > 0 && f.runes[n-1] == ' ' {
			n--
		}
		for n > 0 && f.runes[n-1] != ' ' {
			n--
		}
		f.runes, f.at = append(f.runes[:n], f.runes[f.at:]...), n
	default:
		if !types(k) {
			return false
		}
		f.insert(k.Runes)
	}
	return true
}

func (f *field) insert(in []rune) {
	kept := make([]rune, 0, len(in))
	for _, c := range in {
		if c == '\n' || c == '\t' {
			c = ' '
		}
		if c >= ' ' && c != 0x7f && c != utf8.RuneError {
			kept = append(kept, c)
		}
	}
	if room := fieldLimit - len(f.runes); len(kept) > room {
		kept = kept[:max(room, 0)]
	}
	f.runes = append(f.runes[:f.at:f.at], append(kept, f.runes[f.at:]...)...)
	f.at += len(kept)
}

// types tells whether a key puts characters into a field.
func types(k tea.KeyMsg) bool {
	return (k.Type == tea.KeyRunes || k.Type == tea.KeySpace) && !k.Alt
}

// draw writes the field with its cursor, the part around the cursor if it is too long.
func (f *field) draw(r *row, n int, focus bool) {
	n = min(n, r.left())
	if n <= 0 {
		return
	}
	if !focus {
		r.cell(text, string(f.runes), n)
		return
	}
	from := 0
	for from < f.at && cells(clean(string(f.runes[from:f.at]))) > n-1 {
		from++
	}
	end := r.used + n
	r.write(strong, string(f.runes[from:f.at]), n-1, false)
	under := " "
	if f.at < len(f.runes) {
		under = string(f.runes[f.at])
	}
	r.write(picked, under, end-r.used, false)
	if f.at < len(f.runes) {
		r.write(strong, string(f.runes[f.at+1:]), end-r.used, false)
	}
	r.space(text, end-r.used)
}
