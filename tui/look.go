package tui

import (
	"io"
	"os"
	"strings"

	"github.com/charmbracelet/lipgloss"
	"github.com/muesli/termenv"
)

// An ink is what a piece of text means; the theme says what that looks like.
type ink uint8

const (
	text   ink = iota
	muted      // said in passing
	strong     // the thing itself
	head       // column heads and titles
	accent     // live, running, where one is
	good
	warn
	bad
	picked // the selected row
	band   // the top line
	keycap // a key in the footer
	inks
)

// A look is how the console appears: one escape sequence an ink, and the glyphs.
// Only the program's loop changes it, when another theme is asked for.
type look struct {
	name string
	on   [inks]string
	off  string
	glyphs
}

// glyphs are the signs that stand beside colours, so that none is needed to read them.
type glyphs struct {
	pick, cut, hold, lookat, ok, run, none, out, up, down, pm, rule, bar, dot, warn, arrow, undone, mid string
	spark                                                                                               []string // from nothing to full
	braille                                                                                             bool
}

var drawn = glyphs{pick: "▌", cut: "…", hold: "■", lookat: "□", ok: "✓", run: "›", none: "·", out: "×", up: "↑", down: "↓",
	pm: "±", rule: "─", bar: "│", dot: "•", warn: "▲", arrow: "→", undone: "↶", mid: "·",
	spark: []string{"·", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"}, braille: true}

var typed = glyphs{pick: ">", cut: "~", hold: "#", lookat: "?", ok: "v", run: ">", none: ".", out: "x", up: "^", down: "v",
	pm: "+-", rule: "-", bar: "|", dot: "*", warn: "!", arrow: "->", undone: "<", mid: "-",
	spark: []string{".", "_", ",", "-", "~", "=", "+", "*", "#"}}

// inLetters are the signs of what the race tells in words.
var inLetters = strings.NewReplacer("±", "+-", "−", "-", "→", "->", "…", "...")

// letters writes the signs in cleaned text with letters, where only those are drawn. Names stay
// as people write them.
func (l *look) letters(s string) string {
	if l.braille || plain(s) {
		return s
	}
	return inLetters.Replace(s)
}

// A paint is an ink's colours as hex and its attributes; no colours in the mono theme.
type paint struct{ fore, back, attr string }

// themes. sun: dark on white with nothing pale in it, for daylight on the screen; night:
// soft on near black, no pure white; mono: attributes alone, and the terminal's own colours.
var themes = map[string][inks]paint{
	"sun": {
		text: {"#101010", "#fdfdf6", ""}, muted: {"#4a4a4a", "#fdfdf6", ""}, strong: {"#000000", "#fdfdf6", "1"},
		head: {"#0a2e5c", "#e8e6d8", "1"}, accent: {"#00419d", "#fdfdf6", "1"}, good: {"#00591f", "#fdfdf6", "1"},
		warn: {"#7a3d00", "#fdfdf6", "1"}, bad: {"#a1001a", "#fdfdf6", "1"}, picked: {"#ffffff", "#0a2e5c", "1"},
		band: {"#ffffff", "#24323f", "1"}, keycap: {"#0a2e5c", "#fdfdf6", "1"},
	},
	"night": {
		text: {"#c9cdc4", "#14181b", ""}, muted: {"#848c87", "#14181b", ""}, strong: {"#f0ede0", "#14181b", "1"},
		head: {"#a9bfae", "#20272b", ""}, accent: {"#7fb6c9", "#14181b", ""}, good: {"#8fbf7f", "#14181b", ""},
		warn: {"#dcae5c", "#14181b", ""}, bad: {"#e8806f", "#14181b", "1"}, picked: {"#14181b", "#c8b982", "1"},
		band: {"#e8e4d2", "#2b3a40", "1"}, keycap: {"#c8b982", "#14181b", ""},
	},
	"mono": {
		text: {}, muted: {}, strong: {attr: "1"}, head: {attr: "4"}, accent: {attr: "1"}, good: {},
		warn: {attr: "1"}, bad: {attr: "1;4"}, picked: {attr: "7"}, band: {attr: "7;1"}, keycap: {attr: "1"},
	},
}

// ThemeNames are the themes that Options.Theme may name, in the order in which a key
// goes through them.
var ThemeNames = []string{"sun", "night", "mono"}

// newLook renders a theme for what the terminal can show.
func newLook(name string, ascii bool, p termenv.Profile) *look {
	t, ok := themes[name]
	if !ok {
		name = "night"
		t = themes[name]
	}
	l := &look{name: name, off: "\x1b[0m", glyphs: drawn}
	if ascii {
		l.glyphs = typed
	}
	r := lipgloss.NewRenderer(io.Discard, termenv.WithProfile(p))
	r.SetColorProfile(p)
	for i, c := range t {
		l.on[i] = opening(r, c)
	}
	return l
}

// opening is the sequence that begins an ink, whatever was on before it. A style is rendered
// once here, not once a cell: a frame has thousands of them.
func opening(r *lipgloss.Renderer, c paint) string {
	style := r.NewStyle().Bold(strings.Contains(c.attr, "1")).Underline(strings.Contains(c.attr, "4")).Reverse(strings.Contains(c.attr, "7"))
	if c.fore != "" {
		style = style.Foreground(lipgloss.Color(c.fore)).Background(lipgloss.Color(c.back))
	}
	on, _, _ := strings.Cut(style.Render("x"), "x")
	if params := strings.TrimSuffix(strings.TrimPrefix(on, "\x1b["), "m"); params != "" {
		return "\x1b[0;" + params + "m"
	}
	return "\x1b[0m"
}

// chooseTheme settles the theme before the program starts: asking the terminal for its
// background later would swallow keys. NO_COLOR keeps the attributes, without which the
// selected row couldn't be seen.
func chooseTheme(want string, env func(string) string) (string, termenv.Profile) {
	p := termenv.NewOutput(os.Stdout).EnvColorProfile()
	switch {
	case env("NO_COLOR") != "" || want == "mono":
		return "mono", termenv.ANSI
	case want == "" && lightGround(env("COLORFGBG")):
		want = "sun"
	case want == "":
		want = "night"
	}
	if p == termenv.Ascii {
		return "mono", termenv.ANSI
	}
	if p == termenv.ANSI { // sixteen colours can't paint a ground of ours: the terminal's own is better
		return "mono", p
	}
	return want, p
}

// lightGround reads the "fore;back" that some terminals set: 7 and 9 to 15 are light.
func lightGround(s string) bool {
	back := s[strings.LastIndexByte(s, ';')+1:]
	return back == "7" || len(back) == 2 && back[0] == '1' || back == "9"
}
