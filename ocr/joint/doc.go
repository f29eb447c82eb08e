// Package joint reads two writings of one bib together, where the paper ties them.
//
//	row's bib ----Belief--.
//	second box ---Belief--+--Combine--> Belief --calib--> Reading of both, clear or not
//	strip entry --Belief--'
//	      ^
//	      +-- Ties: same row, or strip entries and the rows naming their panel one to one
//
// Two writings lift a bib only if the paper says they are the same bib. The row's own reading never
// chooses its entry: a 42 misread as 12 must not find its neighbour's 12. A tie in doubt lends nothing.
//
// It knows no pixels; it works on Readings as they are stored, so it builds without cgo and can be
// run again whenever readings are. Nothing needs closing.
package joint
