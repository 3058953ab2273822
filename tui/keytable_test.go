package tui

import (
	"fmt"
	"strings"
)

// keyTable is the README's table of keys, in Markdown, made from the table of actions.
func keyTable() string {
	var b strings.Builder
	b.WriteString("| key | does | where |\n| --- | --- | --- |\n")
	for i := range actions {
		a := &actions[i]
		if len(a.keys) == 0 {
			continue
		}
		keys := make([]string, len(a.keys))
		for k := range a.keys {
			keys[k] = "`" + strings.Replace(a.keys[k], " ", "space", 1) + "`"
		}
		if len(keys) > 3 {
			keys = []string{keys[0] + "–" + keys[len(keys)-1]}
		}
		fmt.Fprintf(&b, "| %s | %s | %s |\n", strings.Join(keys, " "), a.help, where(a.scope))
	}
	return b.String()
}

func where(s scope) string {
	if s&(onAny|inType) == onAny|inType {
		return "everywhere"
	}
	var out []string
	if s&onAny == onAny {
		out = append(out, "every screen")
		s &^= onAny
	}
	for _, n := range scopeNames {
		if s&n.scope != 0 {
			out = append(out, n.name)
		}
	}
	return strings.Join(out, ", ")
}
