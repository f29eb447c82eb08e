package draft

import (
	"fmt"

	"gatefold/review/stack"
	"gatefold/sheetmodel"
)

// noPicture says that the rows of a card are known by one person's count only: no picture shows whether
// there are more.
func (b *builder) noPicture(c *stack.Card) sheetmodel.Finding {
	n := fmt.Sprintf("%d rows", c.Paper.Rows)
	if c.Paper.Rows == 1 {
		n = "1 row"
	}
	card := fmt.Sprintf("Card %d", c.Key.Card)
	if c.Spare {
		card = fmt.Sprintf("Spare %d", c.Key.Card)
	}
	if place := b.place(c.Key); place != "" {
		card += " (" + place + ")"
	}
	key := c.Key
	return sheetmodel.Finding{
		Rule: "no-picture", Severity: sheetmodel.Informs, Run: key.Run, Course: key.Course, Card: &key, Basis: "common practice, no source",
		Sentence: fmt.Sprintf("%s has no photo: %s with ink, counted on the paper by %s at %s.", card, n, c.Paper.By, b.official(c.Paper.At).Format("15:04")),
	}
}
