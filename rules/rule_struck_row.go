package rules

import (
	"fmt"
	"slices"

	"gatefold/sheetmodel"
)

// MayBeStruck is why a row waits for the answer to the question whether it is struck out. It tells
// nothing of what the row says.
const MayBeStruck = "it may be struck out by its judge"

// Answers to that question.
const (
	answerStruck = "struck"
	answerStands = "stands"
)

var ruleStruckRow = Rule{
	Doc: Doc{
		Name: "struck-row", Basis: "common practice, no source",
		Help: "A line seen through a row may be a fold, a shadow or a smear: it counts as struck out by its judge only if the number at the card's foot clearly leaves it out and nobody has typed what it says, or a person says so. A struck row is shown and never carries a call.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			for _, w := range c.rows {
				p.struck(c, w)
			}
		}
	},
}

// strike is what is known of a line seen through a row.
type strike int

const (
	strikeNone  strike = iota
	strikeOpen         // a person is asked
	strikeFoot         // the number at the card's foot leaves the row out
	strikeSaid         // a person says that its judge struck it out
	strikeNot          // a person says that the row stands
	strikeAside        // a person has set the row aside, whatever the line is
)

// struck says what is known of the line through a row, and asks where nothing is.
func (p *pass) struck(c *card, w *row) {
	key := w.Ref.CardKey
	f := sheetmodel.Finding{Severity: sheetmodel.Informs, Card: &key, Rows: []sheetmodel.RowRef{w.Ref}}
	by := p.saidBy(struckKey(w.Ref))
	switch w.strike {
	case strikeNone:
		return
	case strikeFoot:
		f.Sentence = capital(w.where()) + " is struck out by its judge; the number at the card's foot leaves it out."
	case strikeSaid:
		f.Sentence = capital(w.where()) + " is struck out by its judge" + by + "."
	case strikeNot:
		f.Sentence = capital(w.where()) + " looks struck out, but is not" + by + "."
	case strikeAside:
		f.Sentence = capital(w.where()) + " looks struck out and is set aside."
	case strikeOpen:
		if !p.cr.bound {
			return // it waits, and is asked about once the card's run and course are known
		}
		f.Severity = sheetmodel.Asks
		f.Sentence = capital(w.where()) + " looks struck out; the line may also be a fold, a shadow or a smear. " + c.footSays(w)
		at := p.cr.course
		if c.placed && c.place.Name != "" {
			at += ", " + c.place.Name
		}
		what := "card"
		if c.Spare {
			what = "spare"
		}
		p.open(&f, sheetmodel.Question{
			Key: struckKey(w.Ref), Ask: fmt.Sprintf("Is row %d of %s %d (%s) struck out by its judge?", w.Ref.Row, what, w.Ref.Card, at),
			Answers: []sheetmodel.Answer{
				{Value: answerStruck, Label: "yes: it is struck out"},
				{Value: answerStands, Label: "no: it is not struck out, and waits until it is entered"},
			},
		}, subject{cards: []*card{c}})
	}
	p.say(f)
}

// footSays says why the number at the card's foot doesn't settle what the line through a row is.
func (c *card) footSays(w *row) string {
	switch standing := c.standing(); {
	case c.RowCount == nil:
		return "No number of rows at the foot of the card says which."
	case *c.RowCount != standing:
		rows := plural(standing, "row") + verb(standing, " stands", " stand")
		if standing == 0 {
			rows = "no row stands"
		}
		return fmt.Sprintf("The number at the foot of the card is read as %d, and %s beside what looks struck out.", *c.RowCount, rows)
	case w.Entered && c.countable():
		return "The number at the foot of the card would leave it out, but somebody has typed what it says."
	}
	return "The number at the foot of the card would leave it out, but another row may be grain of the paper, can't be read or is set aside."
}

// countable reports whether every row that the number at the card's foot may count is one for certain, or is seen as struck out.
func (c *card) countable() bool {
	return !slices.ContainsFunc(c.rows, func(w *row) bool {
		aside := w.BibState == sheetmodel.BibSetAside && !w.Veiled
		return !w.Struck && !w.Blank && (w.Unsure || w.Unread || aside)
	})
}

// standing is the number of rows with ink that are not struck out.
func (c *card) standing() int { return len(c.standingRows()) }

func (c *card) standingRows() []*row {
	return keep(c.rows, func(w *row) bool { return !w.Struck && !w.Blank })
}

// settleStrikes says of each row of a card that is seen as struck out whether it is. The line alone, a
// machine's impression, settles nothing: a second thing that the judge wrote, the number of rows that
// stand, must agree, and every row that it counts must be one for certain. Where a person has typed what the row says, even both
// settle nothing: a line that is a fold, and a row too many beside it, would drop what somebody saw without a word. Rows that a person
// says stand are rows like any other from here on.
func (d *desk) settleStrikes(c *card) {
	for _, w := range c.rows {
		if w.Struck && d.given(struckKey(w.Ref), subject{cards: []*card{c}}) == answerStands {
			w.Struck, w.strike = false, strikeNot
		}
	}
	foot := c.countable() && c.RowCount != nil && *c.RowCount == c.standing()
	for _, w := range c.rows {
		switch {
		case !w.Struck:
		case d.given(struckKey(w.Ref), subject{cards: []*card{c}}) == answerStruck:
			w.strike = strikeSaid
		case w.BibState == sheetmodel.BibSetAside && !w.Veiled:
			w.strike = strikeAside
		case foot && !w.Entered:
			w.strike = strikeFoot
		default:
			w.strike = strikeOpen
		}
	}
}

// SaidToStand reports whether a person has answered that a row which looks struck out is not. answers are those that count.
func SaidToStand(answers map[string]string, ref sheetmodel.RowRef) bool {
	return answers[struckKey(ref)] == answerStands
}

// StruckAnswer is the answer that a row is struck out by its judge, and the key of its question.
func StruckAnswer(ref sheetmodel.RowRef) (key, answer string) { return struckKey(ref), answerStruck }

func struckKey(ref sheetmodel.RowRef) string {
	return fmt.Sprintf("struck-row/%d/%s/%d/%d", ref.Run, ref.Course, ref.Card, ref.Row)
}

// saidBy names who answered a question, empty where that isn't known.
func (d *desk) saidBy(key string) string {
	if who := d.answeredBy[key]; who != "" {
		return ", said by " + who
	}
	return ""
}

// written returns the rows that count as written: not struck out, nor seen so and still asked about,
// and not set aside by a person.
func (cr *courseRun) written() []*row {
	return keep(cr.rows, func(w *row) bool { return !w.Struck && w.BibState != sheetmodel.BibSetAside })
}
