package trouble

import "gatefold/scan/camera/fill"

// Kind is what a comb's ink is. The net has one output for each, in this order.
type Kind byte

// The kinds. Those of the cards that figures are measured on are fill's; Other is ink that those don't have.
const (
	Plain       Kind = iota // one number, nothing else
	Struck                  // struck out
	Overwritten             // a digit written over another
	Question                // a question mark behind it
	RubbedOut               // a trace of another digit below it
	Outside                 // beside its boxes
	Dash                    // a dash instead
	Other                   // a ring around it, a correction above it, a line through it from elsewhere, letters, ditto marks
	OnLine                  // one stroke of it lies on a printed line that hides it
	Empty                   // nothing
	Kinds       = int(Empty) + 1
)

var ofSpoil = map[fill.Spoil]Kind{
	fill.Clean: Plain, fill.Struck: Struck, fill.Overwritten: Overwritten, fill.Question: Question,
	fill.RubbedOut: RubbedOut, fill.OutsideBox: Outside, fill.Dash: Dash,
}

// Where says which comb of the card it is.
type Where byte

// The places.
const (
	BibAlone Where = iota // on a card with one box for the bib
	BibFirst              // on a card with two
	BibAgain              // the second box
	OnStrip               // on a panel's strip
	GateBox
)

// Way says which sort of Other ink a comb has; none but these has a rule of its own that the net may overrule.
type Way byte

// The ways.
const (
	NoWay     Way = iota // not Other
	Above                // a correction above it
	Elsewhere            // a line, an arrow or a bracket that comes from outside
	AnyOther
)

// Sample is one comb, photographed.
type Sample struct {
	Kind   Kind
	Way    Way
	Where  Where
	Hard   bool // photographed at the hard level, else the ordinary one
	Writer int
	Comb   Picture
}
