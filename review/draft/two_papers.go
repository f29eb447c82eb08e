package draft

import (
	"fmt"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// twoPapers says of a card that its number isn't the one in its code, and on whose word: whoever holds the paper must find it.
func (b *builder) twoPapers(c *stack.Card) sheetmodel.Finding {
	who := b.Answerers[store.TwoPapers(c.Front.Code)]
	if who == "" {
		who = "a person"
	}
	key := c.Key
	return sheetmodel.Finding{
		Rule: "two-papers", Severity: sheetmodel.Informs, Run: key.Run, Course: key.Course, Card: &key, Basis: "own logic",
		Sentence: fmt.Sprintf("Card %d carries the code of card %d: two papers have that number, as %s said.", key.Card, c.Front.Code.Card, who),
	}
}
