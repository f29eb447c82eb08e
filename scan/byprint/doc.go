// Package byprint finds a printed form in a photo by its print alone, without marks.
//
//	blank form (flat scan or photo) --Flatten--> grey page, paper white --Prepare--> Form: features, frames, in mm
//	                                                                          |
//	photo --Look--> Picture: features, frames, in px --Match, MatchFrames-----+--> Matches: flat map mm -> px
//
// A Match is a first guess that a flat sheet lies there: scan follows the print from it, over bends and
// folds, and judges. What repeats within a form (its rows) says nothing of where they lie and takes no part in
// Match; a form that is nothing but ruled lines is guessed by the frames of its tables.
//
// A Picture is closed by its caller; a Form needs no closing. Neither knows fields or layouts. How well forms
// are found: report.md beside this file.
package byprint
