//go:build cgo

package main

import (
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
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
			if t.Kind == sheetmodel.Printed && (len(f.Options) != 1 || f.Options[0].Value != t.Options[0].Value) {
				return false // a printed bib is right only as it is printed
			}
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

var describePhotos = flag.Int("describe.photos", 1, "how many photos of each blank card are described")

// A blank card that lies flat on something dark, photographed by the simulated camera: it is described, or refused. What
// is described must be where it is. Our own logic.
func TestDescribe_PhotoOfABlankCard_IsStraightenedOrRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("takes photos")
	}
	cards := []int{3}
	if *describePhotos > 1 {
		cards = []int{0, 1, 2, 3, 4}
	}
	for _, i := range cards {
		c := blankCards[i]
		truth := blankCardTruth(t, c.picture)
		side := &truth.Sides[0]
		data, err := os.ReadFile(filepath.Join(blankCardFolder, c.picture))
		require.NoError(t, err)
		greys, err := flatSides(t.Context(), c.picture, data, side.W, side.H)
		require.NoError(t, err)
		flat, _ := propose.Level(greys[0])
		refused, all := 0, map[sheetmodel.Kind]*found{}
		for n := range *describePhotos {
			rng := rand.New(rand.NewPCG(uint64(n), uint64(400+i)))
			level := camera.Levels()[camera.Ordinary]
			level.TurnDeg, level.BendMM = camera.Span{Min: -10, Max: 10}, camera.Span{}
			shot := level.Draw(camera.Scene{W: side.W, H: side.H}, rng)
			shot.Ground = []camera.Ground{camera.Bench, camera.Glove, camera.Cloth, camera.Hood}[rng.IntN(4)]
			shot.Covers = nil
			photo, err := shot.View().Take(camera.Sheet{Image: flat, PxPerMM: float64(flat.Rect.Dx()) / float64(side.W)}, 1)
			require.NoError(t, err)
			name := filepath.Join(t.TempDir(), "blank.jpg")
			require.NoError(t, os.WriteFile(name, photo.JPEG, 0o644))
			a := &app{out: io.Discard, errs: os.Stderr, now: time.Now}
			got, err := a.describe(t.Context(), name, filepath.Join(t.TempDir(), "draft.yaml"), side.W, side.H, truth.Style)
			if err != nil {
				t.Logf("%s, photo %d: %v", c.picture, n, err)
				refused++
				continue
			}
			missed := compareFields(side, &got.Sides[0], all)
			t.Logf("%s, photo %d: missed %d: %s", c.picture, n, len(missed), shortList(missed))
		}
		sum := found{}
		for _, v := range all {
			sum = found{sum.drawn + v.drawn, sum.proposed + v.proposed, sum.right + v.right, sum.part + v.part}
		}
		t.Logf("| %s | %d photos, %d refused | %d | %d | %d | %d |", c.picture, *describePhotos, refused, sum.drawn, sum.proposed, sum.right, sum.part)
		assert.Zero(t, refused, "a card that lies flat on something dark")
		assert.GreaterOrEqual(t, float64(sum.right), 0.9*float64(sum.drawn))
		assert.GreaterOrEqual(t, float64(sum.right), 0.9*float64(sum.proposed))
	}
}

func shortList(names []string) string {
	if len(names) > 6 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:6], ", "), len(names)-6)
	}
	return strings.Join(names, ", ")
}
