package look

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// A judge who types their own card at the desk, and is then asked by somebody else, is one person twice: what they say
// twice stands neither against ink that shows another bib nor on a card without a picture. A look of anybody else
// beside the judge's word counts as ever, and so does the judge's entry where nobody has asked them. Source: our own logic.
func TestCount_JudgeTypesAndIsAsked_IsOnePersonTwice(t *testing.T) {
	at := time.Date(2027, 1, 23, 9, 0, 0, 0, time.UTC)
	ink := Ink{Pictured: true, Alone: true, Grammar: sheetmodel.GrammarBib, Reading: sheetmodel.Reading{Text: "46", State: sheetmodel.Clear}}
	typed := func(by, text string) sheetmodel.Decision {
		return sheetmodel.Decision{Text: text, By: by, Blind: true, Basis: sheetmodel.BasisOnPaper, At: at}
	}
	asked := func(by, text string) sheetmodel.Decision {
		return sheetmodel.Decision{Text: text, By: by, ReadBack: true, Basis: sheetmodel.BasisJudgeAsked, At: at.Add(time.Minute)}
	}
	for name, c := range map[string]struct {
		judge    string
		pictured bool
		said     []sheetmodel.Decision
		stands   bool
	}{
		"against clear ink":               {"Ida Berg", true, []sheetmodel.Decision{typed("ida berg", "40"), asked("Bo", "40")}, false},
		"with the ink":                    {"Ida Berg", true, []sheetmodel.Decision{typed("Ida Berg", "46"), asked("Bo", "46")}, true},
		"without a picture":               {"Ida Berg", false, []sheetmodel.Decision{typed("Ida Berg", "40"), asked("Bo", "40")}, false},
		"somebody else beside":            {"Ida Berg", true, []sheetmodel.Decision{typed("Cy", "40"), asked("Bo", "40")}, true},
		"nobody asked, another beside":    {"Ida Berg", false, []sheetmodel.Decision{typed("Ida Berg", "40"), typed("Bo", "40")}, true},
		"whose judge has no name":         {"", true, []sheetmodel.Decision{typed("Cy", "40"), asked("Bo", "40")}, true},
		"a further person, no picture":    {"Ida Berg", false, []sheetmodel.Decision{typed("Ida Berg", "40"), asked("Bo", "40"), typed("Cy", "40")}, true},
		"asked by who is called the same": {"Ida Berg", false, []sheetmodel.Decision{typed("Bo", "40"), asked("Ida Berg", "40")}, true},
	} {
		ink := ink
		ink.Pictured, ink.Judge = c.pictured, c.judge
		s := Count(ink, "reader", c.said)
		assert.Equal(t, c.stands, s.State == sheetmodel.BibTwoLooks, "%s: %+v", name, s)
		if !c.stands {
			assert.NotEqual(t, NeedNothing, s.Next, name)
		}
	}
}
