// Package rules says what the rows of all cards mean together.
//
//	Race + cards + rows with their looks + answers
//	   |
//	   v   run by run
//	rules on cards -> on rows -> on racers -> one line a racer -> where each row stands
//	   |                                       |                   |
//	   v                                       v                   v
//	Findings, some with a Question           Calls             Standings, gaps
//
// It is pure: no files, no clock, no images, no randomness; the same facts in any order give the
// same result. It never changes a row and never makes a bib more certain than it came in. What it
// returns is a draft for the referee, who decides.
//
// A rule is one file, rule_<name>.go, with its help and its basis as data, and one file of cases,
// testdata/<name>.txt. A row goes through three kinds of trouble: a rule may block it (set aside,
// with the reason), hold it (waits for a person's answer), or remark on it. What is left proposes,
// if its bib has two looks. Rows that are settled make the events, their gates and their number by
// themselves; rows that are not lie beside them until they are.
package rules
