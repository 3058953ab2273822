// Package hush keeps the terminal from being asked. The library that the console is drawn with
// asks for its ground colour as soon as it is part of a program, whatever the program is then
// told to do, and waits for the answer: five seconds where there is none, and what it asked
// with stands before the results.
//
// Packages begin in an order of their own: those that they import first, else by name. This one
// imports so little, and nothing that needs unicode's tables as the drawing library does, that
// it comes before it; TestNoCommandAsksTheTerminal tells when that is no longer so.
package hush

import "os"

// Nobody asks a terminal that says it is dumb.
const dumb = "dumb"

var term, named = os.LookupEnv("TERM")

var began = os.Setenv("TERM", dumb)

// Over gives the terminal its name back. It is called when all packages have begun.
func Over() {
	if began != nil {
		return
	}
	if named {
		_ = os.Setenv("TERM", term) // the name was set before
	} else {
		_ = os.Unsetenv("TERM")
	}
}
