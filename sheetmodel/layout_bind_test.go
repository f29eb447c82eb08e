package sheetmodel_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func groups(n int) []string {
	var g []string
	for i := range n {
		g = append(g, fmt.Sprintf("U%d girls", 8+i))
	}
	return g
}

// everyBinding returns the card in all the forms that Bind knows.
func everyBinding(t *testing.T) map[string]*sheetmodel.Layout {
	t.Helper()
	all := map[string]*sheetmodel.Layout{}
	for _, paper := range []string{"a5", "half-letter"} {
		for _, spare := range []bool{false, true} {
			for _, courses := range [][]string{nil, {"Blue", "Red"}} {
				for name, o := range map[string]sheetmodel.BindOptions{
					"plain": {}, "groups": {Groups: groups(4)}, "second": {SecondWriting: true}, "four": {BibBoxes: 4},
				} {
					o.Paper, o.Spare, o.Courses = paper, spare, courses
					l, err := sheetmodel.GateCard().Bind(o)
					require.NoError(t, err)
					all[fmt.Sprint(paper, " spare=", spare, " courses=", len(courses), " ", name)] = l
				}
			}
		}
	}
	return all
}

func TestBind_EveryForm_LintsClean(t *testing.T) {
	for name, l := range everyBinding(t) {
		assert.Empty(t, sheetmodel.Lint(l), name)
	}
	for _, l := range sheetmodel.BuiltinLayouts() {
		assert.Empty(t, sheetmodel.Lint(l))
	}
}

// Nothing needed lies under a clip (18 mm at the top) or a hand (8 mm at the other edges).
func TestBind_EveryField_LiesInTheUsableArea(t *testing.T) {
	for name, l := range everyBinding(t) {
		for i := range l.Sides {
			s := &l.Sides[i]
			usable := sheetmodel.Rect{X: 8, Y: 18, W: s.W - 16, H: s.H - 18 - 8}.Grow(0.011)
			inside := func(what string, r sheetmodel.Rect) {
				assert.True(t, usable.Contains(sheetmodel.SheetPoint{X: r.X, Y: r.Y}) &&
					usable.Contains(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H}), "%s: %s %s %v", name, s.Name, what, r)
			}
			for _, f := range s.Fields {
				inside(f.Name, f.Rect)
			}
			for _, m := range s.Marks {
				inside(fmt.Sprint("mark ", m.ID), m.Rect)
			}
			for _, r := range s.Identity {
				inside("identity", r)
			}
		}
	}
}

// A thumb covers about 25 by 25 mm of a corner.
func TestBind_ThumbAtOneCorner_LeavesFiveMarksAndOneIdentity(t *testing.T) {
	for name, l := range everyBinding(t) {
		for i := range l.Sides {
			s := &l.Sides[i]
			for _, x := range []sheetmodel.MM{0, s.W - 25} {
				for _, y := range []sheetmodel.MM{15, s.H - 25} {
					thumb := sheetmodel.Rect{X: x, Y: y, W: 25, H: 25}
					hidden, codes := 0, 0
					for _, m := range s.Marks {
						if m.Rect.Overlaps(thumb) {
							hidden++
						}
					}
					for _, r := range s.Identity {
						if !r.Overlaps(thumb) {
							codes++
						}
					}
					assert.LessOrEqual(t, hidden, 1, name)
					assert.GreaterOrEqual(t, codes, 1, name)
				}
			}
		}
	}
}

func TestBind_Rows_AreTenWithTheirParts(t *testing.T) {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{SecondWriting: true})
	require.NoError(t, err)
	front := l.Side(sheetmodel.Front)
	require.Equal(t, 10, front.Rows())
	for row := 1; row <= 10; row++ {
		var parts []string
		for _, f := range front.RowFields(row) {
			parts = append(parts, string(f.Part))
			assert.Equal(t, fmt.Sprintf("row-%02d.%s", row, f.Part), f.Name)
		}
		assert.Equal(t, "bib bib-again code code-other gate panel rerun", strings.Join(parts, " "))
	}
	bib := front.Field("row-03.bib")
	require.NotNil(t, bib)
	assert.Equal(t, 3, bib.Boxes)
	var values []string
	for _, o := range front.Field("row-03.code").Options {
		values = append(values, o.Value)
	}
	assert.Equal(t, []string{"F", "K", "W", "P", "H"}, values)
	values = nil
	for _, o := range front.Field("row-03.panel").Options {
		values = append(values, o.Value)
	}
	assert.Equal(t, []string{"B", "C", "D", "E", "F", "G"}, values)
}

func TestBind_Back_HasSixStripsOfThree(t *testing.T) {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	require.NoError(t, err)
	back := l.Side(sheetmodel.Back)
	strips := map[string]int{}
	for _, f := range back.Fields {
		if f.Part == sheetmodel.PartBib {
			strips[f.Panel]++
			assert.Equal(t, fmt.Sprintf("panel-%s.entry-%d.bib", strings.ToLower(f.Panel), f.Entry), f.Name)
		}
	}
	assert.Equal(t, map[string]int{"B": 3, "C": 3, "D": 3, "E": 3, "F": 3, "G": 3}, strips)
	assert.NotNil(t, back.Field("panel-a.drawing"))
}

func TestBind_WithoutGroups_TheGroupIsWritten(t *testing.T) {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	require.NoError(t, err)
	assert.Equal(t, sheetmodel.Text, l.Sides[0].Field("header.group").Kind)
	l, err = sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Groups: groups(2)})
	require.NoError(t, err)
	group := l.Sides[0].Field("header.group")
	assert.Equal(t, sheetmodel.Choice, group.Kind)
	assert.True(t, group.Rings)
	assert.Len(t, group.Options, 2)
}

func TestBind_WhatDoesNotFit_SaysWhatToShorten(t *testing.T) {
	book := sheetmodel.BuiltinCodeBook()
	for i := range book.Codes {
		book.Codes[i].Tick = true
	}
	long := sheetmodel.BuiltinCodeBook()
	long.Codes[0].Word = "uncommonly-long-single-word"
	for want, o := range map[string]sheetmodel.BindOptions{
		`no paper "a6"`:                      {Paper: "a6"},
		"7 codes have tick: true":            {Codes: book},
		"too long for the head":              {Codes: long},
		"12 words to ring":                   {Groups: groups(12)},
		"has room for bibs of 3 boxes only":  {SecondWriting: true, BibBoxes: 4},
		"no variant for [race one-writing b": {BibBoxes: 5},
	} {
		_, err := sheetmodel.GateCard().Bind(o)
		require.ErrorContains(t, err, want)
	}
}

// Printed cards name their layout by its hash; an accidental change of the form must not pass.
// If the form was changed on purpose, raise its version, and write the new hashes here.
func TestBind_Hash_IsStable(t *testing.T) {
	for paper, want := range map[string]string{
		"a5":          "d412136471e0",
		"half-letter": "1bcb2344e158",
	} {
		l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Paper: paper})
		require.NoError(t, err)
		assert.Equal(t, want, l.Hash()[:12], paper)
		again, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Paper: paper})
		require.NoError(t, err)
		assert.Equal(t, l.Hash(), again.Hash())
		assert.Equal(t, l.Hash()[:6], l.HashStart())
	}
}

func TestBind_DifferentForms_HaveDifferentHashes(t *testing.T) {
	seen := map[string]string{}
	for name, l := range everyBinding(t) {
		assert.Empty(t, seen[l.Hash()], name)
		seen[l.Hash()] = name
	}
}
