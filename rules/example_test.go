package rules_test

import (
	"fmt"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

func ExampleCheck() {
	race := &sheetmodel.Race{
		Courses:  []string{"Blue"},
		Starters: []sheetmodel.Starter{{Bib: sheetmodel.Bib{Number: "14"}, Course: "Blue"}},
		Runs: []sheetmodel.Run{{
			Number: 1,
			Courses: []sheetmodel.CourseRun{{
				Course: "Blue", Gates: []string{"1", "2", "3"},
				Places: []sheetmodel.Place{{Card: 1, Name: "A", Gates: []string{"1", "2", "3"}}},
			}},
		}},
		Codes: sheetmodel.CodeBook{Codes: []sheetmodel.Code{
			{Code: "F", Meaning: "missed a gate", Effect: sheetmodel.EffectPropose, Gate: true, Basis: "661.4"},
		}},
	}
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	one := 1
	r := rules.Check(rules.Facts{
		Race:  race,
		Cards: []rules.Card{{Key: card, In: true, RowCount: &one}},
		Rows: []rules.Row{{
			Ref: sheetmodel.RowRef{CardKey: card, Row: 1}, Bib: "14", BibState: sheetmodel.BibOneLook,
			Code: "F", CodeSure: true, Gate: "2", GateSure: true,
		}},
	})
	for _, c := range r.Calls {
		fmt.Println("bib", c.Bib, "gate", c.Gate, "waits:", c.WaitsFor)
	}
	// Output: bib 14 gate 2 waits: [card 1 (A) row 1: its bib needs 1 more look]
}
