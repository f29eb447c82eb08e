package calib

import "math"

// Kind names what a curve and a threshold are for.
type Kind string

// The kinds, each with a curve and a threshold of its own.
const (
	Bib1  Kind = "bib1"  // a bib from one writing
	Bib1P Kind = "bib1p" // one writing without a plausible rival, good enough beside a person's blind entry
	Bib2  Kind = "bib2"  // a bib from two writings read together
	Gate  Kind = "gate"  // gates, from one writing
	Count Kind = "count" // numbers of the header: rows that stand, card of, gates
	Tick  Kind = "tick"  // tick boxes and the options of a choice with boxes
	Ring  Kind = "ring"  // ringed words
)

// The kinds of free cells, each with a curve and a threshold of its own in a file of their own: the cell net
// and the digit nets change apart.
const (
	CellBib  Kind = "cell-bib"  // a bib or a count, written in a cell
	CellGate Kind = "cell-gate" // a gate, a range or a list of gates
	CellCode Kind = "cell-code" // a code, also with its gate: letters have no writer ids, see the report
	// The same in fields that are looked at twice: what two looks claim together is not what one does. See crop.Looks.
	CellBibHigh  Kind = "cell-bib-high"
	CellGateHigh Kind = "cell-gate-high"
	// The two that tie a row on a card with its panels beside it. Without a curve nothing of them is clear.
	CellPanel Kind = "cell-panel" // the letter of one of the card's panels
	CellBib2  Kind = "cell-bib2"  // a bib from two writings of which one or both stand in cells
)

// CellKinds lists the kinds of free cells.
var CellKinds = []Kind{CellBib, CellGate, CellCode}

// Kinds lists all kinds of the digit nets and the marks, for walks over them.
var Kinds = []Kind{Bib1, Bib1P, Bib2, Gate, Count, Tick, Ring}

// maxScore keeps a score finite when a reader claims more than a float can tell apart from 1.
const maxScore = 12

// Score is the claim p as a decimal log-odds, cut to ±12: 0 is even, 3 is a claim of 1 wrong in 1000.
//
// rest is the mass of everything else; it is taken apart from p because 1-p loses the small numbers
// that matter here.
func Score(p, rest float64) float64 {
	if p <= 0 {
		return -maxScore
	}
	if rest <= 0 {
		return maxScore
	}
	return min(max(math.Log10(p/rest), -maxScore), maxScore)
}
