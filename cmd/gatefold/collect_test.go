package main

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/reading"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// Two cards in one photo, one of them cut off: what is wrong with it is kept with the photo.
func TestIntake_FurtherCardRefused_IsKept(t *testing.T) {
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	photo, _, err := s.AddPhoto(t.Context(), "two.jpg", strings.NewReader("\xff\xd8\xff two"), -1, time.Time{})
	require.NoError(t, err)
	in := &intake{race: &sheetmodel.Race{ID: "r", Courses: []string{"Blue"}}, store: s, pages: &keptPages{first: map[string]keptPhoto{}}}
	cut := refusal{Fault: "cut", Detail: "2 of 6 marks seen", Remedy: "retake it by itself"}
	p := reading.Photo{
		File: "two.jpg", SHA256: photo.ID, Reader: "reader", Refused: &cut,
		Cards: []reading.Card{{
			Side:     sheetmodel.Front,
			Identity: &sheetmodel.Identity{Run: 1, Course: 1, Card: 4, Side: sheetmodel.Front, Race: sheetmodel.RaceHash("r")},
			Reading:  sheetmodel.SheetReading{Side: sheetmodel.Front},
		}},
	}
	_, err = in.take(t.Context(), p)
	require.NoError(t, err)
	photo, err = s.Photo(t.Context(), photo.ID)
	require.NoError(t, err)
	assert.Equal(t, store.FateAccepted, photo.Fate)
	assert.Equal(t, []store.Refusal{store.Refusal(cut)}, photo.Further)

	p.Cards, p.More = nil, []reading.Refusal{cut}
	_, err = in.take(t.Context(), p)
	require.NoError(t, err)
	photo, err = s.Photo(t.Context(), photo.ID)
	require.NoError(t, err)
	assert.Equal(t, store.FateRefused, photo.Fate)
	assert.Len(t, photo.Further, 1)
}
