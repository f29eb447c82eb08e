package sheetmodel_test

import (
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
		"no bib column":             func(l *sheetmodel.Layout) { drop(l, sheetmodel.PartBib) },
		"no gate range":             func(l *sheetmodel.Layout) { drop(l, sheetmodel.PartGateTo) },
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
		"needs a name and a part":   func(l *sheetmodel.Layout) { field(l, "row-02.code").Part = "" },
	} {
		l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
		require.NoError(t, err)
		require.Empty(t, sheetmodel.Lint(l))
		spoil(l)
		assert.Contains(t, strings.Join(sheetmodel.Lint(l), "\n"), want)
	}
}
