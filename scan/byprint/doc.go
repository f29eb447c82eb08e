// Package byprint finds a printed form in a photo by its print alone, without marks.
//
//	blank form (flat scan or photo) --Flatten--> grey page, paper white --Prepare--> Form: features, in mm
//	                                                                         |
//	photo --Look--> Picture: features, in px ------Match---------------------+--> Matches: flat map mm -> px,
//	                                                                              features it rests on
//
// A Match is a first guess that a flat sheet lies there: scan follows the print from it, over bends and
// folds, and judges. What repeats within a form (its rows) says nothing of where they lie and takes no part.
// A Picture is closed by its caller; a Form needs no closing. Neither knows fields or layouts.
package byprint
