package sheetmodel

import (
	"regexp"
	"strings"
)

// Grammar says which texts a field is meant for. It never forbids what a hand can write there:
// a reader keeps a mass of its own for ink outside the grammar.
type Grammar string

// The grammars of the built-in fields.
const (
	GrammarBib      Grammar = "bib"       // 1 to 4 digits, letters where a list has them
	GrammarGate     Grammar = "gate"      // a gate label such as 12 or 12a, a range 18-19, or a list 18,20
	GrammarCode     Grammar = "code"      // a code of the race's code book
	GrammarCodeGate Grammar = "code-gate" // code and gate written together, such as F12
	GrammarPanel    Grammar = "panel"     // a panel's letter
	GrammarCount    Grammar = "count"     // a whole number, 0 included
	GrammarMark     Grammar = "mark"      // marked or not
	GrammarWord     Grammar = "word"      // one of the field's options
	GrammarFree     Grammar = "free"      // anything; kept as a picture or as unchecked text
	GrammarDrawing  Grammar = "drawing"   // a picture
	GrammarIdent    Grammar = "identity"  // printed by us
)

// Grammars lists all grammars, for lints.
var Grammars = []Grammar{
	GrammarBib, GrammarGate, GrammarCode, GrammarCodeGate, GrammarPanel, GrammarCount, GrammarMark,
	GrammarWord, GrammarFree, GrammarDrawing, GrammarIdent,
}

var (
	bibShape      = regexp.MustCompile(`^[A-Z]{0,2}[0-9]{1,4}[A-Z]?$`)
	gateShape     = regexp.MustCompile(`^[0-9]{1,3}[a-z]?([-/,][0-9]{1,3}[a-z]?){0,3}$`)
	countShape    = regexp.MustCompile(`^[0-9]{1,2}$`)
	codeGateShape = regexp.MustCompile(`^[A-Z]{1,2}[0-9]{1,3}[a-z]?([-/,][0-9]{1,3}[a-z]?){0,3}$`)
	panelShape    = regexp.MustCompile(`^[A-Z]$`)
)

// Fits reports whether text has the shape of the grammar. GrammarCode and GrammarWord need the
// code book or the options and accept any single word here.
func (g Grammar) Fits(text string) bool {
	switch g {
	case GrammarBib:
		return bibShape.MatchString(text)
	case GrammarGate:
		return gateShape.MatchString(text)
	case GrammarCount:
		return countShape.MatchString(text)
	case GrammarCodeGate:
		return codeGateShape.MatchString(text)
	case GrammarPanel:
		return panelShape.MatchString(text)
	case GrammarMark:
		return text == "" || text == "x"
	case GrammarCode, GrammarWord:
		return text != "" && !strings.ContainsAny(text, " \t\n")
	case GrammarFree, GrammarDrawing, GrammarIdent:
		return true
	default:
		return false
	}
}

// CanonicalBib brings what a person typed into the written form of a bib: no spaces, capitals.
// Leading zeros stay: "07" and "7" are two bibs until a start list says otherwise.
func CanonicalBib(text string) string {
	return strings.ToUpper(strings.Join(strings.Fields(text), ""))
}

// CanonicalGate brings what a person typed into the written form of a gate or a range.
func CanonicalGate(text string) string {
	t := strings.ToLower(strings.Join(strings.Fields(text), ""))
	return strings.NewReplacer("–", "-", "—", "-").Replace(t)
}
