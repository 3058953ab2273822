// Package race holds the words of the trade as types: plan, athletes, chips, reads,
// passings, results, suspects and rulings. Everything else in the program speaks in
// these types; they compute nothing beyond their own form and import nothing of ours.
//
// Instants are whole milliseconds since 1970-01-01T00:00:00Z, on the race clock unless a
// name says otherwise; lengths of time are whole milliseconds; distances are metres.
package race
