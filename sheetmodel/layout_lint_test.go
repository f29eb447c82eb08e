package sheetmodel_test

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestLint_OneFaultEach_IsNamed(t *testing.T) {
	field := func(l *sheetmodel.Layout, name string) *sheetmodel.Field {
		f := l.Sides[0].Field(name)
		require.NotNil(t, f)
		return f
	}
	drop := func(l *sheetmodel.Layout, part sheetmodel.Part) {
		var kept []sheetmodel.Field
		for _, f := range l.Sides[0].Fields {
			if f.Part != part {
				kept = append(kept, f)
			}
		}
		l.Sides[0].Fields = kept
	}
	for want, spoil := range map[string]func(l *sheetmodel.Layout){
		"no bib column": func(l *sheetmodel.Layout) { drop(l, sheetmodel.PartBib) },
		"no gate range": func(l *sheetmodel.Layout) { drop(l, sheetmodel.PartGateTo) },
		"faults would be lost": func(l *sheetmodel.Layout) {
			drop(l, sheetmodel.PartCode)
			drop(l, sheetmodel.PartCodeOther)
			field(l, "row-02.rerun").Part = sheetmodel.PartPassed
		},
		"too small for a comb":      func(l *sheetmodel.Layout) { field(l, "row-02.bib").Rect.W = 15 },
		"too small for a choice":    func(l *sheetmodel.Layout) { field(l, "row-02.code").Options[0].Rect.W = 2 },
		"overlap":                   func(l *sheetmodel.Layout) { field(l, "row-02.bib").Rect.X += 2 },
		"header.judge and mark 0":   func(l *sheetmodel.Layout) { field(l, "header.judge").Rect.X = 16 },
		"lies outside the side":     func(l *sheetmodel.Layout) { field(l, "row-02.rerun").Rect.X = 146 },
		"name used twice":           func(l *sheetmodel.Layout) { field(l, "row-02.bib").Name = "row-01.bib" },
		"unknown kind":              func(l *sheetmodel.Layout) { field(l, "row-02.bib").Kind = "scribble" },
		"unknown grammar":           func(l *sheetmodel.Layout) { field(l, "row-02.bib").Grammar = "scribble" },
		"mark 3: repeated":          func(l *sheetmodel.Layout) { l.Sides[0].Marks[0].ID = 3 },
		"mark 16: known are 0 to 1": func(l *sheetmodel.Layout) { l.Sides[0].Marks[0].ID = 16 },
		"must be a square":          func(l *sheetmodel.Layout) { l.Sides[0].Marks[0].Rect.W = 8 },
		"identity at":               func(l *sheetmodel.Layout) { l.Sides[0].Identity[0].X = -1 },
		"with fewer than 4":         func(l *sheetmodel.Layout) { l.Sides[0].Marks = l.Sides[0].Marks[:3] },
		"a choice needs options":    func(l *sheetmodel.Layout) { field(l, "row-02.code").Options = nil },
		"values must differ":        func(l *sheetmodel.Layout) { field(l, "row-02.code").Options[1].Value = "F" },
		"described twice":           func(l *sheetmodel.Layout) { l.Sides[1].Name = sheetmodel.Front },
		"option F lies outside":     func(l *sheetmodel.Layout) { field(l, "row-02.code").Options[0].Rect.Y -= 4 },
		"side back: row 11 lies on the back, and rows are read on fronts alone: where it holds ink": func(l *sheetmodel.Layout) {
			f := *field(l, "row-02.bib")
			f.Name, f.Row = "row-11.bib", 11
			l.Sides[1].Fields = append(l.Sides[1].Fields, f)
		},
		"needs a name and a part": func(l *sheetmodel.Layout) { field(l, "row-02.code").Part = "" },
	} {
		l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
		require.NoError(t, err)
		require.Empty(t, sheetmodel.Lint(l))
		spoil(l)
		assert.Contains(t, strings.Join(sheetmodel.Lint(l), "\n"), want)
	}
}

// Our own logic.
func TestLint_Draft_SaysWhatIsMissing(t *testing.T) {
	l := &sheetmodel.Layout{Format: 1, Name: "draft", Version: 1, Style: "both", Sides: []sheetmodel.Side{{
		Name: sheetmodel.Front, W: 148, H: 210, Fields: []sheetmodel.Field{
			{Name: "row-01.column-1", Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Comb, Boxes: 3, Row: 1, Grammar: sheetmodel.GrammarCount, Rect: sheetmodel.Rect{X: 10, Y: 40, W: 12, H: 9}},
			{Name: "row-01.gate", Part: sheetmodel.PartGate, Kind: sheetmodel.Cell, Row: 1, Grammar: sheetmodel.GrammarGate, Rect: sheetmodel.Rect{X: 20, Y: 40, W: 12, H: 9}},
		},
	}}}
	found := sheetmodel.Lint(l)
	assert.Equal(t, []string{
		`style "both": write fault-only, or every-racer for a card with a mark for each bib that passes`,
		"side front: field row-01.column-1: 4.0 × 9.0 mm is too small for a comb; at least 6.0 × 7.0",
		"side front: field row-01.column-1 and field row-01.gate overlap",
		"1 field is still unnamed: say what each is for",
		"no bib column: no row can name a racer",
		"no column for what happened (code): no row can say it; round places to tick and words to ring aren't found, draw them",
		"no gate range in the header: a card without a placing list can't be bound to its gates",
	}, found)
}

// What each rule protects from is our own reasoning; the numbers are those of a list of three racers in two columns.
func TestLint_RowsThatWouldNameOtherRacers(t *testing.T) {
	list := func() *sheetmodel.Layout {
		s := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148}
		for row := 1; row <= 6; row++ {
			x, y := sheetmodel.MM(10), sheetmodel.MM(40+10*(row-1))
			if row > 3 {
				x, y = 110, sheetmodel.MM(40+10*(row-4))
			}
			bib := strconv.Itoa(row)
			at := sheetmodel.Rect{X: x, Y: y, W: 10, H: 9}
			s.Fields = append(s.Fields,
				sheetmodel.Field{
					Name: fmt.Sprintf("row-%02d.bib", row), Part: sheetmodel.PartBib, Kind: sheetmodel.Printed, Row: row, Grammar: sheetmodel.GrammarBib, Rect: at,
					Options: []sheetmodel.Option{{Value: bib, Label: bib, Rect: at}},
				},
				sheetmodel.Field{
					Name: fmt.Sprintf("row-%02d.code", row), Part: sheetmodel.PartCode, Kind: sheetmodel.Cell, Row: row, Grammar: sheetmodel.GrammarCode,
					Rect: sheetmodel.Rect{X: x + 20, Y: y, W: 10, H: 9},
				})
		}
		for i, part := range []sheetmodel.Part{sheetmodel.PartGateFrom, sheetmodel.PartGateTo} {
			s.Fields = append(s.Fields, sheetmodel.Field{
				Name: "header." + string(part), Part: part, Kind: sheetmodel.Comb, Boxes: 2, Grammar: sheetmodel.GrammarGate,
				Rect: sheetmodel.Rect{X: sheetmodel.MM(100 + 30*i), Y: 10, W: 14, H: 8},
			})
		}
		return &sheetmodel.Layout{Format: 1, Name: "list", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{s}}
	}
	require.Empty(t, sheetmodel.Lint(list()))
	field := func(l *sheetmodel.Layout, name string) *sheetmodel.Field {
		f := l.Sides[0].Field(name)
		require.NotNil(t, f)
		return f
	}

	twice := list() // the second column said to begin with 1 as well
	for row := 4; row <= 6; row++ {
		field(twice, fmt.Sprintf("row-%02d.bib", row)).Options[0].Value = strconv.Itoa(row - 3)
	}
	assert.Equal(t, []string{
		"bib 1 is printed in rows 1 and 4, and 2 more bibs are so: is it printed so on the card? If not, look at Bibs printed from",
	}, sheetmodel.Lint(twice))

	stray := list() // the judge's line taken for a bib: its ink would be nobody's
	stray.Sides[0].Fields = append(stray.Sides[0].Fields, sheetmodel.Field{
		Name: "header.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarBib, Rect: sheetmodel.Rect{X: 10, Y: 10, W: 60, H: 9},
	})
	assert.Equal(t, []string{
		"side front: field header.bib: said to be bib, but it belongs to no row: what is written there counts nowhere. Give it its row, or say what else it is for",
	}, sheetmodel.Lint(stray))

	turned := list() // each code of the second column a row too high, the first at the foot
	for row := 4; row <= 6; row++ {
		field(turned, fmt.Sprintf("row-%02d.code", row)).Rect.Y = sheetmodel.MM(40 + 10*((row-4+2)%3))
	}
	assert.Equal(t, []string{
		"side front: field row-04.code: said to be of row 4, but it stands beside the bib of row 6; so do 2 more of its column",
	}, sheetmodel.Lint(turned))

	below := list() // a card whose rows have a second line
	field(below, "row-06.code").Rect.Y = 70
	field(below, "row-03.code").Rect.Y = 70
	assert.Empty(t, sheetmodel.Lint(below), "nobody's bib stands beside it")

	small := list()
	field(small, "row-02.code").Rect.W = 7
	assert.Equal(t, []string{
		"side front: field row-02.code: 7.0 × 9.0 mm is too small for a cell; at least 8.0 × 7.0; if one digit stands there, fill it as a comb of one box",
	}, sheetmodel.Lint(small))
}

// A column that stands on the card in three blocks, and was named in one or two of them: no mark in the others would be read as one
// for who came by, or a fault there would be nobody's. Our own logic.
func TestLint_AColumnNamedInSomeBlocksOnly_SaysInWhichRowsItIsnt(t *testing.T) {
	header := func(s *sheetmodel.Side) {
		for i, part := range []sheetmodel.Part{sheetmodel.PartGateFrom, sheetmodel.PartGateTo} {
			s.Fields = append(s.Fields, sheetmodel.Field{
				Name: "header." + string(part), Part: part, Kind: sheetmodel.Comb, Boxes: 2, Grammar: sheetmodel.GrammarGate,
				Rect: sheetmodel.Rect{X: sheetmodel.MM(100 + 30*i), Y: 10, W: 14, H: 8},
			})
		}
	}
	add := func(s *sheetmodel.Side, row int, p sheetmodel.Part, k sheetmodel.Kind, g sheetmodel.Grammar, r sheetmodel.Rect) {
		f := sheetmodel.Field{Name: fmt.Sprintf("row-%02d.%s", row, p), Part: p, Kind: k, Row: row, Grammar: g, Rect: r}
		if bib := strconv.Itoa(row); k == sheetmodel.Printed {
			f.Options = []sheetmodel.Option{{Value: bib, Label: bib, Rect: r}}
		}
		s.Fields = append(s.Fields, f)
	}
	roll := func() *sheetmodel.Layout { // 30 racers in three blocks
		s := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148}
		header(&s)
		for row := 1; row <= 30; row++ {
			x, y := sheetmodel.MM(10+65*((row-1)/10)), sheetmodel.MM(30+9*((row-1)%10))
			add(&s, row, sheetmodel.PartBib, sheetmodel.Printed, sheetmodel.GrammarBib, sheetmodel.Rect{X: x, Y: y, W: 11, H: 8})
			add(&s, row, sheetmodel.PartPassed, sheetmodel.Tick, sheetmodel.GrammarMark, sheetmodel.Rect{X: x + 12, Y: y, W: 9, H: 8})
			add(&s, row, sheetmodel.PartCode, sheetmodel.Cell, sheetmodel.GrammarCode, sheetmodel.Rect{X: x + 22, Y: y, W: 11, H: 8})
		}
		return &sheetmodel.Layout{Format: 1, Name: "roll", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{s}}
	}
	without := func(l *sheetmodel.Layout, p sheetmodel.Part, rows func(int) bool) *sheetmodel.Layout {
		s := &l.Sides[0]
		s.Fields = slices.DeleteFunc(s.Fields, func(f sheetmodel.Field) bool { return f.Part == p && rows(f.Row) })
		return l
	}
	require.Empty(t, sheetmodel.Lint(roll()))

	lacks := without(roll(), sheetmodel.PartPassed, func(row int) bool { return row > 10 })
	assert.Equal(t, []string{"rows 11 to 30 have no box for who came by (passed); rows 1 to 10 have"}, sheetmodel.Lint(lacks))
	found := sheetmodel.Weaknesses(lacks)[0]
	assert.Equal(t, sheetmodel.Front, found.Side)
	require.Len(t, found.Fields, 20, "a press on it chooses them")
	assert.Equal(t, "row-11.bib", found.Fields[0], "nothing stands where the others have it")
	misnamed := roll()
	for i := range misnamed.Sides[0].Fields {
		if f := &misnamed.Sides[0].Fields[i]; f.Row > 10 && f.Part == sheetmodel.PartPassed {
			f.Part, f.Kind, f.Grammar, f.Name = sheetmodel.PartUnnamed, sheetmodel.Cell, sheetmodel.GrammarFree, fmt.Sprintf("row-%02d.column-1", f.Row)
		} else if f.Row == 15 && f.Part == sheetmodel.PartCode { // another one in its row
			f.Part, f.Name = sheetmodel.PartUnnamed, "row-15.column-2"
		}
	}
	found = sheetmodel.Weaknesses(misnamed)[1]
	assert.Equal(t, "rows 11 to 30 have no box for who came by (passed); rows 1 to 10 have", found.Text)
	require.Len(t, found.Fields, 20)
	for i, name := range found.Fields {
		assert.Equal(t, fmt.Sprintf("row-%02d.column-1", 11+i), name, "what stands there is to be named")
	}
	assert.Equal(t, []string{"rows 3, 11 to 20 and 30 have no box for who came by (passed); rows 1 to 2, 4 to 10 and 21 to 29 have"},
		sheetmodel.Lint(without(roll(), sheetmodel.PartPassed, func(row int) bool { return row == 3 || row > 10 && row <= 20 || row == 30 })))
	assert.Equal(t, []string{"rows 11 to 20 have a gate, a code or a box for who came by and no bib: they can name no racer; rows 1 to 10 and 21 to 30 have one. " +
		"Do they go with the rows beside them? Give them the same row number"},
		sheetmodel.Lint(without(roll(), sheetmodel.PartBib, func(row int) bool { return row > 10 && row <= 20 })))
	found = sheetmodel.Weaknesses(without(roll(), sheetmodel.PartBib, func(row int) bool { return row > 10 && row <= 20 }))[0]
	require.Len(t, found.Fields, 10)
	assert.Equal(t, "row-11.passed", found.Fields[0], "the first of the row")

	assert.Equal(t, []string{"row 30 has no place for what happened (code); rows 1 to 29 have"},
		sheetmodel.Lint(without(roll(), sheetmodel.PartCode, func(row int) bool { return row == 30 })))

	// Rows at the foot in which a bib is written down with a fault: nobody ticks there who came by.
	foot := roll()
	for row := 31; row <= 33; row++ {
		y := sheetmodel.MM(122 + 8*(row-31))
		add(&foot.Sides[0], row, sheetmodel.PartBib, sheetmodel.Cell, sheetmodel.GrammarBib, sheetmodel.Rect{X: 10, Y: y, W: 24, H: 7.5})
		add(&foot.Sides[0], row, sheetmodel.PartCode, sheetmodel.Cell, sheetmodel.GrammarCode, sheetmodel.Rect{X: 40, Y: y, W: 20, H: 7.5})
	}
	assert.Empty(t, sheetmodel.Lint(foot))

	faults := without(roll(), sheetmodel.PartPassed, func(int) bool { return true })
	faults.Style = sheetmodel.FaultOnly
	require.Empty(t, sheetmodel.Lint(faults))
	assert.Equal(t, []string{"row 7 has a gate, a code or a box for who came by and no bib: it can name no racer; rows 1 to 6 and 8 to 30 have one. " +
		"Does it go with the row beside it? Give it the same row number"},
		sheetmodel.Lint(without(faults, sheetmodel.PartBib, func(row int) bool { return row == 7 })))
}

// A layout file that a person changed by hand: a word or a figure that is none of the card's was taken without a word. Our own logic.
func TestLint_SlipsInAFileChangedByHand_AreSaid(t *testing.T) {
	sheet := func() *sheetmodel.Layout {
		s := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148}
		add := func(name string, p sheetmodel.Part, k sheetmodel.Kind, g sheetmodel.Grammar, row int, r sheetmodel.Rect) {
			f := sheetmodel.Field{Name: name, Part: p, Kind: k, Row: row, Grammar: g, Rect: r}
			if k == sheetmodel.Comb {
				f.Boxes = int(r.W / 7)
			}
			s.Fields = append(s.Fields, f)
		}
		add("header.gate-from", sheetmodel.PartGateFrom, sheetmodel.Comb, sheetmodel.GrammarGate, 0, sheetmodel.Rect{X: 100, Y: 10, W: 14, H: 8})
		add("header.gate-to", sheetmodel.PartGateTo, sheetmodel.Comb, sheetmodel.GrammarGate, 0, sheetmodel.Rect{X: 130, Y: 10, W: 14, H: 8})
		for row := 1; row <= 4; row++ {
			y := sheetmodel.MM(20 + 10*row)
			add(fmt.Sprintf("row-%02d.bib", row), sheetmodel.PartBib, sheetmodel.Comb, sheetmodel.GrammarBib, row, sheetmodel.Rect{X: 10, Y: y, W: 21, H: 8})
			add(fmt.Sprintf("row-%02d.gate", row), sheetmodel.PartGate, sheetmodel.Comb, sheetmodel.GrammarGate, row, sheetmodel.Rect{X: 40, Y: y, W: 14, H: 8})
			add(fmt.Sprintf("row-%02d.code", row), sheetmodel.PartCode, sheetmodel.Cell, sheetmodel.GrammarCode, row, sheetmodel.Rect{X: 60, Y: y, W: 20, H: 8})
		}
		return &sheetmodel.Layout{Format: 1, Name: "by-hand", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{s}}
	}
	field := func(l *sheetmodel.Layout, name string) *sheetmodel.Field { return l.Sides[0].Field(name) }
	require.Empty(t, sheetmodel.Lint(sheet()))

	misspelt := sheet()
	field(misspelt, "row-02.gate").Part = "gaet"
	found := sheetmodel.Lint(misspelt)
	require.Len(t, found, 2)
	assert.Contains(t, found[0], `side front: field row-02.gate: unknown part "gaet": nothing that is written there counts; known are [bib `)
	assert.Equal(t, "row 2 has no place for the gate (gate); rows 1 and 3 to 4 have", found[1])
	field(misspelt, "row-02.code").Grammar = sheetmodel.GrammarCodeGate
	assert.Len(t, sheetmodel.Lint(misspelt), 1, "its gate is written with its code")

	// Boxes that were joined on the page, where nobody typed the codes: each tick would be a code that no book has.
	joined := sheet()
	for row := 1; row <= 4; row++ {
		f := field(joined, fmt.Sprintf("row-%02d.code", row))
		f.Kind, f.Grammar = sheetmodel.Choice, sheetmodel.GrammarWord
		for i, value := range []string{"1", "2"} {
			f.Options = append(f.Options, sheetmodel.Option{Value: value, Label: value, Rect: sheetmodel.Rect{X: f.Rect.X + sheetmodel.MM(10*i), Y: f.Rect.Y, W: 10, H: 8}})
		}
	}
	assert.Equal(t, []string{"side front: 4 fields, row-01.code to row-04.code: the 2 boxes are only numbered, and say no code: " +
		"give each the letter of the code book that a mark in it stands for"}, sheetmodel.Lint(joined))
	for row := 1; row <= 4; row++ {
		field(joined, fmt.Sprintf("row-%02d.code", row)).Options[0].Value = "M"
	}
	assert.Empty(t, sheetmodel.Lint(joined))

	fewer := sheet()
	field(fewer, "row-03.bib").Boxes = 2
	assert.Equal(t, []string{"row 3 has 2 boxes for bib; rows 1 to 2 and 4, as wide, have 3. Count them on the card"}, sheetmodel.Lint(fewer))
	assert.Equal(t, []string{"row-03.bib"}, sheetmodel.Weaknesses(fewer)[0].Fields)
	field(fewer, "row-03.bib").Rect.W = 14
	assert.Empty(t, sheetmodel.Lint(fewer), "narrower, so it may well have fewer")
}

// Every part that the package names is known to it, or a file that uses it would be told it is wrong. Our own logic.
func TestParts_HoldThoseOfTheBuiltInLayouts(t *testing.T) {
	for _, l := range sheetmodel.BuiltinLayouts() {
		for _, s := range l.Sides {
			for _, f := range s.Fields {
				assert.Contains(t, sheetmodel.Parts, f.Part, "%s %s", l.Name, f.Name)
			}
		}
	}
}

// A draft must stay readable after a person has changed it: no hash may forbid it. Our own logic.
func TestEncodeDraft_IsReadBackAlsoAfterAnEdit(t *testing.T) {
	l := sheetmodel.BuiltinLayouts()[0]
	text, err := sheetmodel.EncodeDraft(l, "one\n\u2028format: 2", "two: three")
	require.NoError(t, err)
	assert.NotContains(t, string(text), "sha256")
	again, err := sheetmodel.ParseLayout("draft.yaml", text)
	require.NoError(t, err)
	assert.Equal(t, l.Hash(), again.Hash())
	edited, err := sheetmodel.ParseLayout("draft.yaml", bytes.Replace(text, []byte("part: judge"), []byte("part: phone"), 1))
	require.NoError(t, err)
	assert.NotEqual(t, l.Hash(), edited.Hash())
}

// Our own logic.
func TestLint_GatesInRowsOfTheirOwn_AreSaid(t *testing.T) {
	l := &sheetmodel.Layout{Format: 1, Name: "apart", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{{Name: sheetmodel.Front, W: 148, H: 210}}}
	add := func(name string, p sheetmodel.Part, g sheetmodel.Grammar, row int, x, y sheetmodel.MM) {
		l.Sides[0].Fields = append(l.Sides[0].Fields, sheetmodel.Field{Name: name, Part: p, Kind: sheetmodel.Cell, Row: row, Grammar: g, Rect: sheetmodel.Rect{X: x, Y: y, W: 20, H: 10}})
	}
	add("row-01.bib", sheetmodel.PartBib, sheetmodel.GrammarBib, 1, 10, 40)
	add("row-02.gate", sheetmodel.PartGate, sheetmodel.GrammarGate, 2, 40, 40)
	assert.Contains(t, strings.Join(sheetmodel.Lint(l), "|"), "row 2 has a gate, a code or a box for who came by and no bib: it can name no racer; row 1 has one")
	l.Sides[0].Fields[1].Row, l.Sides[0].Fields[1].Name = 1, "row-01.gate"
	assert.NotContains(t, strings.Join(sheetmodel.Lint(l), "|"), "and no bib")
}

// What is wrong with a whole column is said once, with all its fields named for whoever shows them. Our own logic.
func TestLint_AColumnTooSmall_IsOneSentence(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210}
	for row := range 20 {
		y := sheetmodel.MM(10 + 9*row)
		for _, f := range []sheetmodel.Field{
			{Part: sheetmodel.PartBib, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarBib, Rect: sheetmodel.Rect{X: 10, Y: y, W: 20, H: 6.7 + sheetmodel.MM(row%2)/10}},
			{Part: sheetmodel.PartPassed, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarMark, Rect: sheetmodel.Rect{X: 40, Y: y, W: 10, H: 8}},
		} {
			f.Row, f.Name = row+1, fmt.Sprintf("row-%02d.%s", row+1, f.Part)
			side.Fields = append(side.Fields, f)
		}
	}
	l := &sheetmodel.Layout{Format: 1, Name: "list", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{side}}
	byPart := map[string]int{}
	for _, w := range sheetmodel.Weaknesses(l) {
		if len(w.Fields) > 0 {
			assert.Len(t, w.Fields, 20, w.Text)
			assert.Equal(t, sheetmodel.Front, w.Side)
			byPart[w.Fields[0]]++
		}
	}
	assert.Equal(t, map[string]int{"row-01.bib": 1, "row-01.passed": 1}, byPart)
	assert.Contains(t, sheetmodel.Lint(l), "side front: 20 fields, row-01.passed to row-20.passed: a mark for a racer who passed is a tick")
}

// Two blocks of five rows, as people get them wrong who change the file by hand. What each slip would do is our own reasoning: half the
// card unread, a gate of one racer beside the bib of another, a tick for F read as K, an answer kept for another row.
func TestLint_RowsOfTwoBlocksMixedUp_AreSaid(t *testing.T) {
	list := func() *sheetmodel.Layout {
		s := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148}
		add := func(name string, p sheetmodel.Part, k sheetmodel.Kind, g sheetmodel.Grammar, row int, r sheetmodel.Rect) {
			f := sheetmodel.Field{Name: name, Part: p, Kind: k, Row: row, Grammar: g, Rect: r}
			switch k {
			case sheetmodel.Comb:
				f.Boxes = int(r.W / 7)
			case sheetmodel.Choice:
				for i, v := range []string{"F", "K"} {
					f.Options = append(f.Options, sheetmodel.Option{Value: v, Label: v, Rect: sheetmodel.Rect{X: r.X + sheetmodel.MM(10*i), Y: r.Y, W: 10, H: 8}})
				}
			default:
			}
			s.Fields = append(s.Fields, f)
		}
		add("header.gate-from", sheetmodel.PartGateFrom, sheetmodel.Comb, sheetmodel.GrammarGate, 0, sheetmodel.Rect{X: 100, Y: 10, W: 14, H: 8})
		add("header.gate-to", sheetmodel.PartGateTo, sheetmodel.Comb, sheetmodel.GrammarGate, 0, sheetmodel.Rect{X: 130, Y: 10, W: 14, H: 8})
		for row := 1; row <= 10; row++ {
			x, y := sheetmodel.MM(10+100*((row-1)/5)), sheetmodel.MM(30+10*((row-1)%5))
			add(fmt.Sprintf("row-%02d.bib", row), sheetmodel.PartBib, sheetmodel.Comb, sheetmodel.GrammarBib, row, sheetmodel.Rect{X: x, Y: y, W: 21, H: 8})
			add(fmt.Sprintf("row-%02d.gate", row), sheetmodel.PartGate, sheetmodel.Comb, sheetmodel.GrammarGate, row, sheetmodel.Rect{X: x + 30, Y: y, W: 14, H: 8})
			add(fmt.Sprintf("row-%02d.code", row), sheetmodel.PartCode, sheetmodel.Choice, sheetmodel.GrammarWord, row, sheetmodel.Rect{X: x + 50, Y: y, W: 20, H: 8})
		}
		return &sheetmodel.Layout{Format: 1, Name: "by-hand", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{s}}
	}
	require.Empty(t, sheetmodel.Lint(list()))
	for _, c := range []struct {
		name  string
		spoil func(s *sheetmodel.Side)
		want  []string
	}{
		{"the second block is numbered as the first", func(s *sheetmodel.Side) {
			for i := range s.Fields {
				if f := &s.Fields[i]; f.Row > 5 {
					f.Row -= 5
					f.Name = fmt.Sprintf("row-%02d-2.%s", f.Row, f.Part)
				}
			}
		}, []string{
			"side front: rows 1 to 5 have two places for the same, bib: only one of them would be read. Give rows beside each other numbers of their own, and join boxes that are one choice",
			"side front: rows 1 to 5 have two places for the same, code: only one of them would be read. Give rows beside each other numbers of their own, and join boxes that are one choice",
			"side front: rows 1 to 5 have two places for the same, gate: only one of them would be read. Give rows beside each other numbers of their own, and join boxes that are one choice",
		}},
		{"each gate is the other block's", func(s *sheetmodel.Side) {
			for i := range s.Fields {
				if f := &s.Fields[i]; f.Part == sheetmodel.PartGate {
					f.Row = (f.Row+4)%10 + 1
					f.Name = fmt.Sprintf("row-%02d.gate", f.Row)
				}
			}
		}, []string{"side front: rows 1 to 10 lie through each other: what stands between the fields of one is said to be another's. Is each column given to the rows of its own table?"}},
		{"the second block is numbered from its foot", func(s *sheetmodel.Side) {
			for i := range s.Fields {
				if f := &s.Fields[i]; f.Row > 5 {
					f.Row = 16 - f.Row
					f.Name = fmt.Sprintf("row-%02d.%s", f.Row, f.Part)
				}
			}
		}, []string{"side front: rows 6 to 10 are not numbered from the top down: who names a row by its number, or types it from the paper, would mean another one"}},
		{"two letters changed places", func(s *sheetmodel.Side) {
			o := s.Field("row-03.code").Options
			o[0].Value, o[1].Value = o[1].Value, o[0].Value
		}, []string{"row 3 has boxes for K F; rows 1 to 2 and 4 to 10, drawn alike, have F K. Look at the card: a tick would be read as another code"}},
		{"two letters in another order of the file alone", func(s *sheetmodel.Side) {
			slices.Reverse(s.Field("row-03.code").Options)
		}, nil},
		{"names changed places", func(s *sheetmodel.Side) {
			a, b := s.Field("row-03.bib"), s.Field("row-04.bib")
			a.Name, b.Name = b.Name, a.Name
		}, []string{"side front: 2 fields, row-04.bib to row-03.bib: its name doesn't say that it is the bib of its row, and what is typed of it would be kept for another one: a name is row and part, such as row-03.bib"}},
		{"names of the draft", func(s *sheetmodel.Side) {
			s.Field("row-03.bib").Name, s.Field("header.gate-to").Name = "row-03.column-1", "header.line-2"
		}, []string{
			"side front: field header.line-2: its name doesn't end in gate-to: nobody would know what it is for; call it header.gate-to",
			"side front: field row-03.column-1: its name doesn't say that it is the bib of its row, and what is typed of it would be kept for another one: a name is row and part, such as row-03.bib",
		}},
	} {
		l := list()
		c.spoil(&l.Sides[0])
		if c.want == nil {
			assert.Empty(t, sheetmodel.Lint(l), c.name)
			continue
		}
		assert.Equal(t, c.want, sheetmodel.Lint(l), c.name)
	}
}

// Letters of drawings that rows don't have, and small ones: what stands below such a drawing is held against no row. Our own logic.
func TestLint_LettersOfDrawingsThatNoRowNames_AreSaid(t *testing.T) {
	card := func(letter string, options ...string) []string {
		l, err := sheetmodel.ParseLayout("valley.yaml", []byte(aLeagueCard))
		require.NoError(t, err)
		panel := sheetmodel.Field{
			Name: "row-01.panel", Part: sheetmodel.PartPanel, Kind: sheetmodel.Choice, Grammar: sheetmodel.GrammarPanel, Row: 1,
			Rect: sheetmodel.Rect{X: 60, Y: 40, W: 6 * sheetmodel.MM(len(options)), H: 6},
		}
		for i, o := range options {
			panel.Options = append(panel.Options, sheetmodel.Option{Value: o, Label: o, Rect: sheetmodel.Rect{X: 60 + 6*sheetmodel.MM(i), Y: 40, W: 6, H: 6}})
		}
		l.Sides[0].Fields = append(l.Sides[0].Fields, panel, sheetmodel.Field{
			Name: "panel-a.drawing", Part: sheetmodel.PartDrawing, Kind: sheetmodel.Drawing, Grammar: sheetmodel.GrammarDrawing, Panel: letter, Rect: sheetmodel.Rect{X: 10, Y: 60, W: 40, H: 40},
		}, sheetmodel.Field{
			Name: "panel-a.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Grammar: sheetmodel.GrammarBib, Panel: letter, Entry: 1, Boxes: 3, Rect: sheetmodel.Rect{X: 10, Y: 100, W: 24, H: 10},
		})
		return sheetmodel.Lint(l)
	}
	assert.Empty(t, card("A", "A"))
	assert.Equal(t, []string{"row-01.panel may name drawing B, and no drawing has that letter"}, card("A", "A", "B"))
	assert.Equal(t, []string{
		"side front: field panel-a.drawing: panel \"a\": write one capital letter, for so rows name it",
		"side front: field panel-a.bib: panel \"a\": write one capital letter, for so rows name it",
		"row-01.panel may name drawing A, and no drawing has that letter",
		"no row can name drawing a, below which panel-a.bib is for bibs",
	}, card("a", "A"))
}

// Boxes to tick on both sides of the gate, joined to one choice, which lies over the gate's cell: only its boxes are looked at for ticks. One box on
// the cell is another matter. Our own logic.
func TestOneInk_AChoiceWithAColumnBetweenItsBoxes_IsNone(t *testing.T) {
	card := func(second sheetmodel.MM) []string {
		l, err := sheetmodel.ParseLayout("valley.yaml", []byte(aLeagueCard))
		require.NoError(t, err)
		box := func(value string, x sheetmodel.MM) sheetmodel.Option {
			return sheetmodel.Option{Value: value, Label: value, Rect: sheetmodel.Rect{X: x, Y: 42, W: 6, H: 6}}
		}
		l.Sides[0].Fields = append(l.Sides[0].Fields, sheetmodel.Field{
			Name: "row-01.gate", Part: sheetmodel.PartGate, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarGate, Row: 1, Rect: sheetmodel.Rect{X: 50, Y: 40, W: 20, H: 10},
		}, sheetmodel.Field{
			Name: "row-01.code", Part: sheetmodel.PartCode, Kind: sheetmodel.Choice, Grammar: sheetmodel.GrammarWord, Row: 1,
			Rect: sheetmodel.Rect{X: 42, Y: 42, W: second - 36, H: 6}, Options: []sheetmodel.Option{box("F", 42), box("K", second)},
		})
		return l.OneInk()
	}
	assert.Empty(t, card(72))
	assert.Equal(t, []string{"side front: row-01.gate and row-01.code lie on each other: what is written there once would be read as both. Give each its own place"}, card(60))
}
