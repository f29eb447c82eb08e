// Package calib turns a reader's score into a Certainty and says where clear begins.
//
//	curves.json (embedded, hashed) --Default--> *Set
//	score of a writing --Set.Judge(kind)--> Certainty, clear or not
//
//	calibration writers --Fit--> Curve        how often a score was wrong
//	threshold writers ---Choose--> Threshold  the lowest score whose bound holds, tries counted
//
// A Set belongs to the weights it was made with, named by their hash. With other weights nothing is
// calibrated: every Certainty is the zero value and nothing is clear.
//
// It knows no image, no page and no race. It is pure Go and nothing needs closing.
package calib
