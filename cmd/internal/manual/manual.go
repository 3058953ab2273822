// Package manual makes a manual page of a tree of commands, in the macros of man(7): the
// same words as --help, so that there is nothing to keep in step.
package manual

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Write writes the page of a program and all its commands that aren't hidden.
func Write(w io.Writer, root *cobra.Command, version string) error {
	var b strings.Builder
	name := root.Name()
	fmt.Fprintf(&b, ".TH %s 1 \"\" %s\n", strings.ToUpper(name), quote(name+" "+version))
	section(&b, "NAME")
	fmt.Fprintf(&b, "%s \\- %s\n", escape(name), escape(root.Short))
	section(&b, "SYNOPSIS")
	fmt.Fprintf(&b, ".B %s\nCOMMAND [WORDS] [FLAGS]\n", escape(name))
	section(&b, "DESCRIPTION")
	text(&b, root.Long)
	section(&b, "COMMANDS")
	for _, c := range root.Commands() {
		if c.Hidden || c.Name() == "help" || c.Name() == "completion" {
			continue
		}
		command(&b, c)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func command(b *strings.Builder, c *cobra.Command) {
	fmt.Fprintf(b, ".SS %s\n", quote(strings.TrimSuffix(c.UseLine(), " [flags]")))
	if c.Long != "" {
		text(b, c.Long)
	} else {
		text(b, c.Short+".")
	}
	c.NonInheritedFlags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden || f.Name == "help" {
			return
		}
		kind, usage := pflag.UnquoteUsage(f)
		fmt.Fprintf(b, ".TP\n.B %s\n%s", escape(strings.TrimSpace("--"+f.Name+" "+kind)), line(usage))
		if d := f.DefValue; d != "" && d != "false" && d != "0" && d != "[]" && d != "0s" {
			fmt.Fprintf(b, "(default %s)\n", escape(d))
		}
	})
	for _, sub := range c.Commands() {
		if !sub.Hidden {
			fmt.Fprintf(b, ".TP\n.B %s\n%s", escape(strings.TrimSuffix(sub.UseLine(), " [flags]")), line(sub.Short))
		}
	}
	if c.Example != "" {
		b.WriteString(".PP\n.EX\n")
		for l := range strings.SplitSeq(c.Example, "\n") {
			b.WriteString(line(l))
		}
		b.WriteString(".EE\n")
	}
}

func section(b *strings.Builder, name string) { fmt.Fprintf(b, ".SH %s\n", name) }

// text writes paragraphs; a block that has indented lines stays as it is set.
func text(b *strings.Builder, s string) {
	for p := range strings.SplitSeq(strings.TrimSpace(s), "\n\n") {
		set := strings.Contains("\n"+p, "\n  ")
		b.WriteString(".PP\n")
		if set {
			b.WriteString(".EX\n")
		}
		for l := range strings.SplitSeq(p, "\n") {
			b.WriteString(line(l))
		}
		if set {
			b.WriteString(".EE\n")
		}
	}
}

// line is one line of text: a dot or a quote at its head would be a macro.
func line(s string) string {
	s = escape(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s + "\n"
}

func escape(s string) string {
	return strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s)
}

func quote(s string) string {
	return `"` + strings.ReplaceAll(escape(s), `"`, `\(dq`) + `"`
}
