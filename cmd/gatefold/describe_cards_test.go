//go:build cgo

package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// blankCards are the pictures of testdata/blank-cards, with the size that a person would measure.
var blankCards = []struct{ picture, size string }{
	{"plain-table.pdf", "148x210"}, {"dense-columns.png", "210x297"}, {"every-racer.png", "210x297"},
	{"landscape.png", "210x148"}, {"photocopy.png", "139.7x215.9"},
}

const blankCardFolder = "../../testdata/blank-cards"

func blankCardTruth(t *testing.T, picture string) *sheetmodel.Layout {
	t.Helper()
	file := filepath.Join(blankCardFolder, strings.TrimSuffix(picture, filepath.Ext(picture))+".yaml")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	l, err := sheetmodel.ParseLayout(file, text)
	require.NoError(t, err)
	return l
}

// found counts proposed fields of one kind.
type found struct{ drawn, proposed, right, part int }

// compare counts a proposed field as right if its kind, its boxes and its row are those described by hand, and no edge
// lies off by more than 1.5 mm: a level scan's own turn and the width of the pen. part: its part is right as well.
func compareFields(truth, got *sheetmodel.Side, by map[sheetmodel.Kind]*found) (missed []string) {
	of := func(k sheetmodel.Kind) *found {
		if by[k] == nil {
			by[k] = &found{}
		}
		return by[k]
	}
	used := make([]bool, len(got.Fields))
	for _, f := range got.Fields {
		of(f.Kind).proposed++
	}
	for _, t := range truth.Fields {
		of(t.Kind).drawn++
		at := slices.IndexFunc(got.Fields, func(f sheetmodel.Field) bool {
			off := max(math.Abs(float64(f.Rect.X-t.Rect.X)), math.Abs(float64(f.Rect.Y-t.Rect.Y)),
				math.Abs(float64(f.Rect.X+f.Rect.W-t.Rect.X-t.Rect.W)), math.Abs(float64(f.Rect.Y+f.Rect.H-t.Rect.Y-t.Rect.H)))
			return f.Kind == t.Kind && f.Boxes == t.Boxes && len(f.Options) == len(t.Options) && f.Row == t.Row && off <= 1.5
		})
		if at < 0 || used[at] {
			missed = append(missed, t.Name)
			continue
		}
		used[at] = true
		of(t.Kind).right++
		if f := got.Fields[at]; f.Part == t.Part && f.Panel == t.Panel && (f.Grammar == t.Grammar || t.Part == f.Part) {
			of(t.Kind).part++
		}
	}
	return missed
}

// Blank cards that nobody has helped with: what is found, kind by kind, against what was described by hand. Floors are
// our own logic: lower would be a defect. Our own cards, see cmd/blankcards; the figures stand in
// sheetmodel/propose/report.md.
func TestDescribe_BlankCards_FieldsAreFoundWithoutHelp(t *testing.T) {
	all := map[sheetmodel.Kind]*found{}
	for _, c := range blankCards {
		w, h, ok := parseSize(c.size)
		require.True(t, ok)
		truth := blankCardTruth(t, c.picture)
		a := &app{out: io.Discard, errs: os.Stderr, now: time.Now}
		out := filepath.Join(t.TempDir(), "draft.yaml")
		got, err := a.describe(t.Context(), filepath.Join(blankCardFolder, c.picture), out, w, h, truth.Style)
		require.NoError(t, err, c.picture)
		by := map[sheetmodel.Kind]*found{}
		missed := compareFields(&truth.Sides[0], &got.Sides[0], by)
		for _, k := range sheetmodel.Kinds {
			v := by[k]
			if v == nil {
				continue
			}
			if all[k] == nil {
				all[k] = &found{}
			}
			*all[k] = found{all[k].drawn + v.drawn, all[k].proposed + v.proposed, all[k].right + v.right, all[k].part + v.part}
			t.Logf("| %s | %s | %d | %d | %d | %d |", strings.TrimSuffix(c.picture, filepath.Ext(c.picture)), k, v.drawn, v.proposed, v.right, v.part)
		}
		if len(missed) > 0 {
			t.Logf("%s: missed %s", c.picture, shortList(missed))
		}
		text, err := os.ReadFile(out)
		require.NoError(t, err)
		again, err := sheetmodel.ParseLayout(out, text)
		require.NoError(t, err, "the draft of %s can't be read back", c.picture)
		assert.Equal(t, got.Hash(), again.Hash())
	}
	for k, v := range all {
		assert.GreaterOrEqual(t, float64(v.right), 0.95*float64(v.drawn), "%s: too few found: %+v", k, *v)
		assert.GreaterOrEqual(t, float64(v.right), 0.95*float64(v.proposed), "%s: too many that are none: %+v", k, *v)
		assert.GreaterOrEqual(t, float64(v.part), 0.8*float64(v.right), "%s: words too often misunderstood: %+v", k, *v)
	}
}

func shortList(names []string) string {
	if len(names) > 6 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:6], ", "), len(names)-6)
	}
	return strings.Join(names, ", ")
}
