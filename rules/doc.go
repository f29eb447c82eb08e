// Package rules says what the rows of all cards mean together.
//
//	Race + cards + rows with their looks + answers --Check--> findings, calls, where each row stands
//
// It is pure: no files, no clock, no images, no randomness; the same facts in any order give the
// same result. It never changes a row and never makes a bib more certain than it came in. What it
// returns is a draft for the referee, who decides.
package rules
