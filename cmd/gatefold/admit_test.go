//go:build cgo

package main

import (
	"encoding/json"
	"image"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/draw"

	"gatefold/cmd/internal/trial"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// filledCard is a photo of the front of a blank card of testdata/blank-cards with something written on it, by field.
func filledCard(t *testing.T, name, picture string, written map[string]string, seed uint64) (photo []byte, truth fill.Truth) {
	t.Helper()
	const sheetPxPerMM = 16.0
	file := filepath.Join(blankCardFolder, name+".yaml")
	l, err := readLayout(file)
	require.NoError(t, err)
	blanks, err := blanksOf(t.Context(), file, filepath.Join(blankCardFolder, picture), l)
	require.NoError(t, err)
	side := &l.Sides[0]
	paper := image.NewGray(image.Rect(0, 0, int(float64(side.W)*sheetPxPerMM), int(float64(side.H)*sheetPxPerMM)))
	draw.BiLinear.Scale(paper, paper.Rect, blanks[side.Name], blanks[side.Name].Rect, draw.Src, nil)
	rng := rand.New(rand.NewPCG(seed, 1))
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, sheetPxPerMM)
	level := camera.Levels()[camera.Ordinary]
	w := fill.Writer{Pen: hand.DrawWriter(level.Pens(), rng), Digits: trial.OwnDigits{}}
	truth = fill.Truth{}
	for _, f := range side.Fields {
		text := written[f.Name]
		if text == "" {
			continue
		}
		truth[f.Name] = fill.Wrote{Text: text}
		one := f
		one.Row, one.Panel = 0, ""
		only := &sheetmodel.Side{Name: side.Name, W: side.W, H: side.H, Fields: []sheetmodel.Field{one}}
		fill.Side(ink, only, fill.Plan{Header: map[string]string{f.Name: text}}, w, rng)
	}
	ink.Over(paper)
	shot := level.Draw(fill.SceneOf(side, image.Point{}), rng)
	taken, err := shot.View().Take(camera.Sheet{Image: paper, PxPerMM: sheetPxPerMM}, 1)
	require.NoError(t, err)
	return taken.JPEG, truth
}

// A league's card goes all the way: admitted, photographed, collected beside one of ours, named by a person, settled,
// drafted, put away and taken out again. What is expected follows from what was written; our own logic.
func TestAdmit_CardOfAnotherMake_GoesFromPhotoToArchive(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs and reads cards for some seconds")
	}
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	code, out, errs := runApp(t, "admit", dir, filepath.Join(blankCardFolder, "photocopy.yaml"), "--blank", filepath.Join(blankCardFolder, "photocopy.png"))
	require.Zero(t, code, errs)
	assert.Contains(t, out, "kept, with its blank front")
	// A letter that is written means what the book says, whatever the card's own key says of it.
	assert.Contains(t, out, "note: in the code book F is fault, K is lost ski")

	photo, truth := filledCard(t, "photocopy", "photocopy.png", map[string]string{"row-01.bib": "14", "row-01.gate": "6", "row-01.code": "F"}, 5)
	league := filepath.Join(t.TempDir(), "league.jpg")
	require.NoError(t, os.WriteFile(league, photo, 0o600))
	code, out, errs = runApp(t, "collect", dir, "--json", league, filepath.Join(demoStackDir, "photos", "card-02-front.jpg"))
	require.Zero(t, code, errs)
	require.NoError(t, validateJSON("collect.schema.json", out))
	var report collectReport
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Len(t, report.Photos, 2)
	assert.Equal(t, []string{"photocopy, front: which card it is, the desk asks"}, report.Photos[0].Cards)
	assert.Equal(t, []string{"Blue, run 1, card 2, front"}, report.Photos[1].Cards)

	// Until somebody says which card it is, its rows count nowhere and every list says so.
	s, err := (&app{now: clockOfTests}).openRace(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	st, result, err := s.look(t.Context())
	require.NoError(t, err)
	require.Len(t, st.Unnamed, 1)
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	assert.False(t, st.Card(key).In)
	assert.True(t, slices.ContainsFunc(st.Facts().Open, func(g rules.Gap) bool {
		return g.Run == 1 && g.Course == "Blue" && strings.Contains(g.Why, "Nobody has said which card")
	}))
	assert.NotEmpty(t, result.Incomplete)

	side := st.Unnamed[0]
	require.NoError(t, s.store.Answer(t.Context(), store.Answer{Question: store.WhichCard(side.Photo, side.Part), Value: store.CardName(key), By: "Ada"}))
	code, _, errs = runApp(t, "collect", dir, league)
	require.Zero(t, code, errs)
	p := &settler{t: t, s: s, truth: map[sheetmodel.CardKey]map[sheetmodel.SideName]fill.Truth{key: {sheetmodel.Front: truth}}}
	st, result = p.settle()
	require.Empty(t, st.Unnamed)
	assert.Contains(t, proposed(result, false), "Blue 14 6 F")
	assert.True(t, st.Card(key).OneSided(), "nobody asks for its back")

	archive := filepath.Join(t.TempDir(), "archive")
	code, _, errs = runApp(t, "pack", dir, archive, "--full")
	require.Zero(t, code, errs)
	code, _, errs = runApp(t, "verify", archive)
	require.Zero(t, code, errs)
	again := filepath.Join(t.TempDir(), "again")
	code, _, errs = runApp(t, "restore", archive, again)
	require.Zero(t, code, errs)
	from, err := (&app{now: clockOfTests}).openRace(t.Context(), again)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, from.Close()) })
	_, result, err = from.look(t.Context())
	require.NoError(t, err)
	assert.Contains(t, proposed(result, false), "Blue 14 6 F")
	_, _, err = raceForms(from.folder)
	assert.NoError(t, err, "the picture of the blank card came along")
}
