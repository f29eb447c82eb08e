// Package scantest photographs filled cards with the simulated camera and judges what scan makes of them.
//
//	level, seed --Make--> Sample (JPEG + truth) --Judge--> Outcome --Add--> Tally
//
// Equal levels and seeds give equal samples. It is for tests and the bench; the program does not use it.
// A Sample holds no Mat; Judge closes what it opens.
package scantest
