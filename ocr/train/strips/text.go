package strips

import (
	"math/rand/v2"
	"strconv"
	"strings"
)

// Type says what a field is for, and so what people write in it.
type Type string

// The types of field.
const (
	Bib      Type = "bib"
	Gate     Type = "gate"      // one gate
	Range    Type = "range"     // a range or a list of gates
	CodeGate Type = "code-gate" // code and gate together
	Code     Type = "code"
	Comb     Type = "comb"  // a number in a comb, one digit a box
	Panel    Type = "panel" // the letter of a drawing panel
)

// Panels are the letters that a card's panels have: few cards have more than six.
const Panels = "ABCDEF"

// Types lists the free cells that the cell net learns from; combs and panels are drawn apart.
var Types = []Type{Bib, Gate, Range, CodeGate, Code}

// Junk stands in a Text for ink that is no sign of the net's: what was struck out, a scribble, a word.
const Junk = '#'

// letterWeight says how often a capital is written: the built-in book's codes more often, those that no code
// should use because they look like a digit seldom.
func letterWeight(c byte) float64 {
	switch {
	case strings.IndexByte("FKWPHCU", c) >= 0:
		return 3
	case strings.IndexByte("IO", c) >= 0:
		return 0.15
	case strings.IndexByte("BDGLQSZ", c) >= 0:
		return 0.5
	}
	return 1
}

// drawLetter draws a capital.
func drawLetter(rng *rand.Rand) string {
	sum := 0.0
	for c := byte('A'); c <= 'Z'; c++ {
		sum += letterWeight(c)
	}
	u := rng.Float64() * sum
	for c := byte('A'); c < 'Z'; c++ {
		if u -= letterWeight(c); u < 0 {
			return string(c)
		}
	}
	return "Z"
}

// DrawText draws what a person means to write in a field of the type.
func DrawText(t Type, rng *rand.Rand) string {
	switch t {
	case Bib, Comb:
		return drawNumber(rng)
	case Gate:
		return drawGate(rng)
	case Range:
		sep := "-"
		switch u := rng.Float64(); {
		case u < 0.12:
			sep = "/"
		case u < 0.22:
			sep = ","
		}
		n := 1 + rng.IntN(60)
		text := strconv.Itoa(n) + suffix(rng) + sep + strconv.Itoa(n+1+rng.IntN(4)) + suffix(rng)
		if sep == "," && rng.Float64() < 0.3 {
			text += sep + strconv.Itoa(n+5+rng.IntN(3))
		}
		return text
	case CodeGate:
		return drawLetter(rng) + drawGate(rng)
	case Code:
		if rng.Float64() < 0.15 {
			return drawLetter(rng) + drawLetter(rng)
		}
		return drawLetter(rng)
	case Panel:
		k := rng.IntN(len(Panels))
		return Panels[k : k+1]
	case Phone, Date, Name: // their texts are given
	}
	return ""
}

// drawNumber draws a bib of 1 to 4 digits; one in thirty has a zero in front.
func drawNumber(rng *rand.Rand) string {
	var n int
	switch u := rng.Float64(); {
	case u < 0.3:
		n = 1 + rng.IntN(9)
	case u < 0.65:
		n = 10 + rng.IntN(90)
	case u < 0.95:
		n = 100 + rng.IntN(900)
	default:
		n = 1000 + rng.IntN(9000)
	}
	text := strconv.Itoa(n)
	if len(text) < 3 && rng.IntN(30) == 0 {
		text = "0" + text
	}
	return text
}

func drawGate(rng *rand.Rand) string {
	n := 1 + rng.IntN(99)
	if rng.IntN(20) == 0 {
		n = 100 + rng.IntN(40)
	}
	return strconv.Itoa(n) + suffix(rng)
}

func suffix(rng *rand.Rand) string {
	switch u := rng.Float64(); {
	case u < 0.05:
		return "a"
	case u < 0.08:
		return "b"
	}
	return ""
}
