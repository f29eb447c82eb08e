package rules

import (
	"strconv"

	"gatefold/sheetmodel"
)

var ruleJudgeStays = Rule{
	Doc: Doc{
		Name: "judge-stays", Basis: "666",
		Settings: []string{"judges_released_by", "release_basis", "relief"},
		Help:     "A judge who noted a fault or a hindrance stays until protests are settled, set-aside rows included; so does one whose card isn't in. Ink that may be grain of the paper keeps nobody for certain. The TD, or who the race says, releases them, not the program.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !p.cr.bound {
				continue
			}
			rows := keep(c.rows, p.keepsJudge)
			written := keep(rows, func(w *row) bool { return !w.Unsure })
			switch {
			case len(written) == 0 && len(rows) > 0:
				f := p.onCard(sheetmodel.Informs, c.judges()+mayStay+plural(len(rows), "row")+" may hold writing or grain of the paper; look at it before they go.", c)
				f.Rows = refs(rows)
				p.say(f)
			case len(rows) > 0:
				f := p.onCard(sheetmodel.Informs, c.judges()+" "+verb(1+len(c.place.Relief), "stays", "stay")+" until the "+orElse(p.race.Rules.ReleasedBy, "technical delegate")+" releases them: "+rowNumbers(written)+" may be asked about.", c)
				f.Rows = refs(written)
				p.say(f)
			case !c.In && c.GapReason == "":
				p.say(p.onCard(sheetmodel.Informs, c.judges()+" "+verb(1+len(c.place.Relief), "stays", "stay")+" until the card is in.", c))
			}
		}
	},
}

// mayStay is said of a judge of whose rows nobody knows yet whether anything is written there.
const mayStay = " may have to stay: "

// judges names the judge of a card, or all who stood at its place where one took over from another.
func (c *card) judges() string {
	if len(c.place.Relief) == 0 {
		return "The judge of " + c.where()
	}
	return "The " + number(1+len(c.place.Relief)) + " judges of " + c.where() + ", where one took over at " + c.place.Relief[0].At + ","
}

// keepsJudge reports whether a row may still need its judge.
func (p *pass) keepsJudge(w *row) bool {
	if w.Struck && w.strike != strikeOpen || w.Blank {
		return false
	}
	if w.coded && (w.code.Effect == sheetmodel.EffectPropose || w.code.Effect == sheetmodel.EffectHindered) {
		return true
	}
	return w.stands != sheetmodel.StandsInform
}

// rowNumbers names rows of one card by their numbers.
func rowNumbers(rows []*row) string {
	var numbers []string
	for _, w := range rows {
		numbers = append(numbers, strconv.Itoa(w.Ref.Row))
	}
	if len(rows) == 1 {
		return "row " + numbers[0]
	}
	return "rows " + list(numbers)
}

// refs returns where rows are, in their order.
func refs(rows []*row) []sheetmodel.RowRef {
	var all []sheetmodel.RowRef
	for _, w := range rows {
		all = append(all, w.Ref)
	}
	return all
}
