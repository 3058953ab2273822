package main

import (
	"fmt"
	"strings"
	"unicode"
)

// clean makes text from files harmless on a terminal: what could move the cursor or turn
// the writing about is shown as its code.
func clean(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\n' || r == '\t':
			b.WriteRune(r)
		case unicode.IsControl(r), r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r >= 0x200b && r <= 0x200f, r == 0x2028, r == 0x2029, r == 0xfeff:
			fmt.Fprintf(&b, "\\x%02x", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
