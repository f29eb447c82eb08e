package ocr

import (
	"strings"

	"gatefold/ocr/ctc"
	"gatefold/ocr/net"
	"gatefold/sheetmodel"
)

// cellGrammar says which texts a cell of a grammar may mean, as the steps of a small machine. What it leaves
// out (a dash, a question mark, something struck out, a word) keeps its mass as "none of these".
type cellGrammar struct {
	next  func(state int, c byte) int // the state after c, or -1
	final []bool
}

// Next implements ctc.Grammar.
func (g cellGrammar) Next(state, symbol int) (int, bool) {
	n := g.next(state, net.CellSymbols[symbol])
	return n, n >= 0
}

// Final implements ctc.Grammar.
func (g cellGrammar) Final(state int) bool { return g.final[state] }

func isDigit(c byte) bool   { return c >= '0' && c <= '9' }
func isCapital(c byte) bool { return c >= 'A' && c <= 'Z' }

// grammarOfCell returns what a cell of the grammar may mean. The second result is false for grammars that no
// cell is read by: their ink stays a picture.
//
// A bib is up to two capitals, one to four digits, perhaps a capital: forerunners have letters, and a bib that
// looks like B7 must not become an 87. Gates are a label, a range or a list; a code is one to three capitals.
func grammarOfCell(g sheetmodel.Grammar) (ctc.Grammar, bool) {
	switch g {
	case sheetmodel.GrammarBib:
		// 0 to 2: capitals so far; 3 to 6: digits so far, less 2; 7: closed by a capital.
		return cellGrammar{final: []bool{3: true, 4: true, 5: true, 6: true, 7: true}, next: func(s int, c byte) int {
			switch {
			case isCapital(c) && s < 2:
				return s + 1
			case isDigit(c) && s <= 2:
				return 3
			case isDigit(c) && s < 6:
				return s + 1
			case isCapital(c) && s >= 3 && s < 7:
				return 7
			}
			return -1
		}}, true
	case sheetmodel.GrammarGate:
		return gates(0), true
	case sheetmodel.GrammarCodeGate:
		return gates(2), true
	case sheetmodel.GrammarCode:
		return cellGrammar{final: []bool{1: true, 2: true, 3: true}, next: func(s int, c byte) int {
			if isCapital(c) && s < 3 {
				return s + 1
			}
			return -1
		}}, true
	case sheetmodel.GrammarPanel:
		return cellGrammar{final: []bool{1: true}, next: func(s int, c byte) int {
			if isCapital(c) && s == 0 {
				return 1
			}
			return -1
		}}, true
	case sheetmodel.GrammarCount:
		return cellGrammar{final: []bool{1: true, 2: true}, next: func(s int, c byte) int {
			if isDigit(c) && s < 2 {
				return s + 1
			}
			return -1
		}}, true
	default:
		return nil, false
	}
}

// gates is a label of one to three digits, perhaps with a small letter, and up to three more behind a dash,
// slash or comma; before them one to capitals capitals where capitals is positive.
func gates(capitals int) ctc.Grammar {
	// States: capitals so far; then for each label five: before its digits, 1 to 3 digits, its letter.
	first := 0
	if capitals > 0 {
		first = capitals + 1
	}
	const labels, steps = 4, 5
	g := cellGrammar{final: make([]bool, first+labels*steps)}
	for k := range labels {
		for i := 1; i < steps; i++ {
			g.final[first+k*steps+i] = true
		}
	}
	g.next = func(s int, c byte) int {
		if s < first {
			switch {
			case isCapital(c) && s < capitals:
				return s + 1
			case isDigit(c) && s > 0:
				return first + 1
			}
			return -1
		}
		label, i := (s-first)/steps, (s-first)%steps
		at := first + label*steps
		switch {
		case isDigit(c) && i < 3:
			return at + i + 1
		case (c == 'a' || c == 'b') && i >= 1 && i <= 3:
			return at + 4
		case strings.IndexByte("-/,", c) >= 0 && i >= 1 && label+1 < labels:
			return at + steps
		}
		return -1
	}
	return g
}
