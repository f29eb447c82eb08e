package storetest

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Opener opens the store under test in a race folder. The suite closes it.
type Opener func(t *testing.T, dir string, opt store.Options) *store.Store

// zone is east of Greenwich, so that a lost offset shows.
var zone = time.FixedZone("", 3600)

// Clock returns a clock that starts on an invented race day and moves by a second at each look.
func Clock() func() time.Time {
	t := time.Date(2027, 1, 23, 9, 0, 0, 0, zone)
	return func() time.Time {
		t = t.Add(time.Second)
		return t
	}
}

// Run runs all promises.
func Run(t *testing.T, open Opener) {
	for _, one := range []struct {
		name string
		run  func(*testing.T, Opener)
	}{
		{"Photo_SentTwice_IsNoDouble", photoTwice},
		{"Photo_Truncated_LeavesNothing", truncated},
		{"Photo_NameWithFolders_IsNeverAPath", names},
		{"Photo_RefusedThenAccepted_NewestReaderCounts", refusedThenAccepted},
		{"Photo_FurtherCardRefused_IsKeptWithThePhoto", furtherRefused},
		{"Photo_ReadByTwo_IsKeptOnceAndWithWhatTheGuardWrote", readByTwo},
		{"Ties_WorkedOutByTwo_AreKeptOnce", tiesTwice},
		{"Reopened_FindsAllThatWasAcknowledged", reopened},
		{"Step_Fails_NothingIsSeenAndARetryWorks", failingSteps},
		{"Readings_SurviveWithCertaintyAndCurve", readings},
		{"Entry_IsBlindOnlyIfTheLogProvesIt", blindness},
		{"JudgesWord_ThroughWhoeverTypedAnother_IsNoLook", judgesWord},
		{"People_InAnySpelling_AreNamedOnceAsTheyCame", people},
		{"Entry_SentTwice_IsNoDouble", entryTwice},
		{"Undo_StaysInTheLogAndEndsBlindness", undo},
		{"Redo_SaysWhatWasTakenBackOnceMore", redo},
		{"Judge_SpeaksOfTheCardAsItWas", judgeOfNewPhoto},
		{"Entry_WithoutReasonOrName_IsRefused", badEntries},
		{"Unknown_IsErrNotFound", unknown},
		{"Files_AlteredOrMissing_AreNamed", verifyFiles},
	} {
		t.Run(one.name, func(t *testing.T) { one.run(t, open) })
	}
}

func fresh(t *testing.T, open Opener) *store.Store {
	t.Helper()
	s := open(t, t.TempDir(), store.Options{Now: Clock()})
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// jpeg is no picture, only bytes that begin like one: the store looks no further.
func jpeg(n int) []byte { return fmt.Appendf([]byte("\xff\xd8\xff\xe0"), "photo %d", n) }

func addPhoto(t *testing.T, s *store.Store, n int) store.Photo {
	t.Helper()
	b := jpeg(n)
	p, known, err := s.AddPhoto(t.Context(), fmt.Sprintf("card-%02d.jpg", n), bytes.NewReader(b), int64(len(b)), time.Time{})
	require.NoError(t, err)
	require.False(t, known)
	return p
}

func photoTwice(t *testing.T, open Opener) {
	s := fresh(t, open)
	taken := time.Date(2027, 1, 23, 8, 59, 0, 0, zone)
	first, known, err := s.AddPhoto(t.Context(), "a.jpg", bytes.NewReader(jpeg(1)), int64(len(jpeg(1))), taken)
	require.NoError(t, err)
	assert.False(t, known)
	again, known, err := s.AddPhoto(t.Context(), "b.jpg", bytes.NewReader(jpeg(1)), -1, time.Time{})
	require.NoError(t, err)
	assert.True(t, known)
	assert.Equal(t, first, again)
	assert.True(t, first.Taken.Equal(taken))
	_, offset := first.Taken.Zone()
	assert.Equal(t, 3600, offset)
	all, err := s.Photos(t.Context())
	require.NoError(t, err)
	assert.Len(t, all, 1)
}

func truncated(t *testing.T, open Opener) {
	s := fresh(t, open)
	_, _, err := s.AddPhoto(t.Context(), "half.jpg", bytes.NewReader(jpeg(1)), 4000, time.Time{})
	require.ErrorIs(t, err, store.ErrTruncated)
	_, _, err = s.AddPhoto(t.Context(), "torn.jpg", io.MultiReader(bytes.NewReader(jpeg(2)), broken{}), -1, time.Time{})
	require.ErrorIs(t, err, store.ErrTruncated)
	_, _, err = s.AddPhoto(t.Context(), "empty.jpg", bytes.NewReader(nil), 0, time.Time{})
	require.ErrorContains(t, err, "empty")
	left, err := os.ReadDir(filepath.Join(s.Dir(), store.OriginalsName))
	require.NoError(t, err)
	assert.Empty(t, left)
	all, err := s.Photos(t.Context())
	require.NoError(t, err)
	assert.Empty(t, all)
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("connection lost") }

func names(t *testing.T, open Opener) {
	s := fresh(t, open)
	p, _, err := s.AddPhoto(t.Context(), "../../etc/\x00pass\nwd\\..\\card.jpg", bytes.NewReader(jpeg(1)), -1, time.Time{})
	require.NoError(t, err)
	assert.Equal(t, "card.jpg", p.Sent)
	assert.Equal(t, store.OriginalsName+"/"+p.ID+".jpg", p.File)
	for _, bad := range []string{"../gatefold.db", "gatefold.db", "originals/../gatefold.db", "originals/", "originals/.upload-1", `originals/..\gatefold.db`} {
		_, err = s.OpenFile(bad)
		require.ErrorIs(t, err, store.ErrNotFound, bad)
	}
}

func furtherRefused(t *testing.T, open Opener) {
	s := fresh(t, open)
	p := addPhoto(t, s, 1)
	cut := store.Refusal{Fault: "cut", Detail: "2 of 6 marks seen", Remedy: "retake this card by itself"}
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader-1", []store.NewSheet{Side(4, 1, "46")}, cut))
	p, err := s.Photo(t.Context(), p.ID)
	require.NoError(t, err)
	assert.Equal(t, store.FateAccepted, p.Fate)
	assert.Equal(t, []store.Refusal{cut}, p.Further)
	photos, err := s.Photos(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []store.Photo{p}, photos)
	require.NoError(t, s.Refuse(t.Context(), p.ID, "reader-2", store.Refusal{Fault: "blur"}, cut, cut))
	p, err = s.Photo(t.Context(), p.ID)
	require.NoError(t, err)
	assert.Len(t, p.Further, 2)
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader-3", []store.NewSheet{Side(4, 1, "46")}))
	p, err = s.Photo(t.Context(), p.ID)
	require.NoError(t, err)
	assert.Empty(t, p.Further, "a better reader could use it")
}

func refusedThenAccepted(t *testing.T, open Opener) {
	s := fresh(t, open)
	p := addPhoto(t, s, 1)
	assert.Equal(t, store.FateUnread, p.Fate)
	why := store.Refusal{Fault: "no-marks", Detail: "1 of 6 seen", Remedy: "retake with the whole card in view"}
	require.NoError(t, s.Refuse(t.Context(), p.ID, "reader-1", why))
	p, err := s.Photo(t.Context(), p.ID)
	require.NoError(t, err)
	assert.Equal(t, &why, p.Refusal)
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader-2", []store.NewSheet{Side(4, 1, "46")}))
	p, err = s.Photo(t.Context(), p.ID)
	require.NoError(t, err)
	assert.Equal(t, store.FateAccepted, p.Fate)
	assert.Nil(t, p.Refusal)
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader-3", []store.NewSheet{Side(4, 1, "40")}))
	sheets, err := s.Sheets(t.Context())
	require.NoError(t, err)
	require.Len(t, sheets, 1, "an older reader's sheet is kept, but not current")
	assert.Equal(t, "40", sheets[0].Read.Reading.Rows[0].Bib.Text)
}

// readByTwo is our own logic.
func readByTwo(t *testing.T, open Opener) {
	s := fresh(t, open)
	p, q := addPhoto(t, s, 1), addPhoto(t, s, 2)
	require.NoError(t, s.Together(t.Context(), func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `CREATE TABLE closed (photo TEXT NOT NULL)`)
		return err
	}))
	count := func(photo string) (n int) {
		db, _ := s.Database()
		require.NoError(t, db.QueryRowContext(t.Context(), `SELECT COUNT(*) FROM closed WHERE photo = $1`, photo).Scan(&n))
		return n
	}
	closing := func(photo string) store.Guard {
		return func(ctx context.Context, tx *sql.Tx) error {
			_, err := tx.ExecContext(ctx, `INSERT INTO closed (photo) VALUES ($1)`, photo)
			return err
		}
	}
	g := s.Guarded(closing(p.ID), store.Unread(p.ID))
	require.NoError(t, g.AddSheets(t.Context(), p.ID, "reader-1", []store.NewSheet{Side(4, 1, "46")}))
	assert.Equal(t, 1, count(p.ID))
	head, err := s.Head(t.Context())
	require.NoError(t, err)
	require.ErrorIs(t, g.AddSheets(t.Context(), p.ID, "reader-2", []store.NewSheet{Side(4, 1, "40")}), store.ErrReadMeanwhile)
	require.ErrorIs(t, g.Refuse(t.Context(), p.ID, "reader-2", store.Refusal{Fault: "blur"}), store.ErrReadMeanwhile)
	assert.Equal(t, 1, count(p.ID), "what the guard wrote goes with what was not kept")
	now, err := s.Head(t.Context())
	require.NoError(t, err)
	assert.Equal(t, head, now)
	sheets, err := s.Sheets(t.Context())
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	assert.Equal(t, "46", sheets[0].Read.Reading.Rows[0].Bib.Text)
	// The other way round: a photo that can't be kept closes nothing.
	wrong := Side(4, 1, "46")
	wrong.Identity.Side = sheetmodel.Back
	require.Error(t, s.Guarded(closing(q.ID), store.Unread(q.ID)).AddSheets(t.Context(), q.ID, "reader-1", []store.NewSheet{wrong}))
	assert.Zero(t, count(q.ID))
}

// tiesTwice is our own logic.
func tiesTwice(t *testing.T, open Opener) {
	s := fresh(t, open)
	p := addPhoto(t, s, 1)
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{Side(4, 1, "46")}))
	sheets, err := s.Sheets(t.Context())
	require.NoError(t, err)
	ties := store.CardTies{Front: sheets[0].ID, Reader: "reader", Ties: []look.Tied{{Row: 1, Text: "46", Clear: true}}}
	require.NoError(t, s.AddTies(t.Context(), ties))
	require.NoError(t, s.AddTies(t.Context(), ties))
	other := ties
	other.Reader = "reader-2"
	require.NoError(t, s.AddTies(t.Context(), other))
	require.NoError(t, s.AddTies(t.Context(), ties), "the last one counts: this is said again")
	all, err := s.Ties(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 3)
	assert.Equal(t, []string{"reader", "reader-2", "reader"}, []string{all[0].Reader, all[1].Reader, all[2].Reader})
}

// Side is the front of a card on course Blue with one written row.
func Side(card, row int, bib string) store.NewSheet {
	field := func(part string) string { return fmt.Sprintf("row-%02d.%s", row, part) }
	return store.NewSheet{
		Part: 1, Identity: sheetmodel.Identity{Run: 1, Course: 1, Card: card, Side: sheetmodel.Front, Race: "0a0b", Layout: "abcdef"},
		Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, Layout: "abcdef0123456789",
		Page: []byte("\x89PNG\r\n\x1a\npage of " + bib), PagePxPerMM: 10,
		Grid: []store.GridPoint{{Sheet: sheetmodel.SheetPoint{X: 1, Y: 2}, Photo: sheetmodel.PhotoPoint{X: 3, Y: 4}}},
		Read: store.SideRead{
			Reading: sheetmodel.SheetReading{Side: sheetmodel.Front, Reader: "reader", Rows: []sheetmodel.Row{{
				Number: row, HasInk: true,
				Bib:  sheetmodel.Reading{Field: field("bib"), Side: sheetmodel.Front, Text: bib, State: sheetmodel.Clear},
				Code: sheetmodel.Reading{Field: field("code"), Side: sheetmodel.Front, Text: "F", State: sheetmodel.Clear},
				Gate: sheetmodel.Reading{Field: field("gate"), Side: sheetmodel.Front, Text: "11", State: sheetmodel.Clear},
			}}},
			Alone: []string{field("bib")},
		},
	}
}

func readings(t *testing.T, open Opener) {
	s := fresh(t, open)
	p := addPhoto(t, s, 1)
	n := Side(4, 3, "46")
	require.NoError(t, json.Unmarshal([]byte(`{"value": 0.9987, "curve": "curve-1"}`), &n.Read.Reading.Rows[0].Bib.Certainty))
	require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{n}))
	sheets, err := s.Sheets(t.Context())
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	assert.Equal(t, "curve-1", sheets[0].Read.Reading.Rows[0].Bib.Certainty.Curve())
	assert.Equal(t, n.Read, sheets[0].Read)
	assert.Equal(t, n.Grid, sheets[0].Grid)
	assert.Equal(t, "run1/Blue/card-4/front/row-03.bib", sheets[0].Key("row-03.bib"))
	one, err := s.Sheet(t.Context(), sheets[0].ID)
	require.NoError(t, err)
	assert.Equal(t, sheets[0], one)
	f, err := s.OpenFile(one.Page)
	require.NoError(t, err)
	page, err := io.ReadAll(f)
	require.NoError(t, errors.Join(err, f.Close()))
	assert.Equal(t, n.Page, page)
	wrong := Side(4, 3, "46")
	wrong.Identity.Side = sheetmodel.Back
	require.ErrorContains(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{wrong}), "the back was read as the front")
}

func unknown(t *testing.T, open Opener) {
	s := fresh(t, open)
	_, err := s.Photo(t.Context(), "beef")
	require.ErrorIs(t, err, store.ErrNotFound)
	_, err = s.Sheet(t.Context(), 99)
	require.ErrorIs(t, err, store.ErrNotFound)
	require.ErrorIs(t, s.Refuse(t.Context(), "beef", "reader", store.Refusal{}), store.ErrNotFound)
	require.ErrorIs(t, s.AddSheets(t.Context(), "beef", "reader", nil), store.ErrNotFound)
	require.ErrorIs(t, s.Undo(t.Context(), 99, "Ada", "s1"), store.ErrNotFound)
	require.ErrorIs(t, s.AddTies(t.Context(), store.CardTies{Front: 99}), store.ErrNotFound)
	require.ErrorIs(t, s.AddTies(t.Context(), store.CardTies{}), store.ErrNotFound)
}

func verifyFiles(t *testing.T, open Opener) {
	s := fresh(t, open)
	a, b := addPhoto(t, s, 1), addPhoto(t, s, 2)
	bad, err := s.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)
	require.NoError(t, os.WriteFile(filepath.Join(s.Dir(), a.File), []byte("other"), 0o600))
	require.NoError(t, os.Remove(filepath.Join(s.Dir(), b.File)))
	bad, err = s.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{a.File + ": altered; bring it back from a copy", b.File + ": missing; bring it back from a copy"}, bad)
	// Sending the photo again heals both.
	for n := 1; n <= 2; n++ {
		_, known, err := s.AddPhoto(t.Context(), "again.jpg", bytes.NewReader(jpeg(n)), -1, time.Time{})
		require.NoError(t, err)
		assert.True(t, known)
	}
	bad, err = s.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)
}
