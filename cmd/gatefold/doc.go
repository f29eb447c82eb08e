// Command gatefold takes a stack of photographed gate-judge cards to the referee's draft.
//
//	command line --root.go--> one file a command --> the rooms (sheetmodel, scan, ocr, rules, review)
//	                                |
//	                       error or nothing --exit.go--> sentence on stderr, exit code
//
// It wires the rooms and knows how to talk to a person at a terminal; it decides nothing about a race.
// Only this package prints, exits and reads the clock. Commands that look at images are in files that
// need cgo; without it they say which package is missing.
package main
