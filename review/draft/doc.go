// Package draft makes the list that goes to the referee.
//
//	Stack + rules.Result --New--> Draft --WriteJSON, WriteCSV, WritePDF--> files
//	                                ^          (PDF: with the ink, cut by package crop)
//	race's zone, time, what to name ┘
//
// A Draft is for one moment and says so. It proposes; referee and jury decide under their own rule
// book. It holds bibs as their judges wrote them, never a claim about who was on the course. Names of
// racers, names of judges and phones are left out unless asked for, each by its own option.
// The same stack, result and options give the same bytes.
package draft
