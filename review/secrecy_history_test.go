package review_test

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// said is what people have done with a row before somebody new sits down.
func said(t testing.TB, b *stacktest.Table, by, key, text string, how string) {
	t.Helper()
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	var sheet int64
	for _, s := range sheets {
		if strings.HasPrefix(key, store.CardName(s.Card)+"/front/") {
			sheet = s.ID
		}
	}
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, Sheet: sheet, What: "test"}))
	e := store.Entry{Reading: key, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: by, Sheet: sheet}
	switch how {
	case "asked":
		e.Basis, e.ReadBack = sheetmodel.BasisJudgeAsked, true
	case "nod":
		e.Basis = sheetmodel.BasisJudgeAsked
	}
	_, err = b.Store.Settle(t.Context(), e)
	require.NoError(t, err)
}

// again photographs a card once more.
func again(t testing.TB, b *stacktest.Table, card int, rows ...stacktest.Row) {
	t.Helper()
	sheets := b.Sheets("Blue", card, rows...)
	p, _, err := b.Store.AddPhoto(t.Context(), "again.png", bytes.NewReader(append(slices.Clone(sheets[0].Page), "again"...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), p.ID, "test reader", sheets))
}

// Rows with a past: typed and then mended by their judge, shown otherwise by two photos, settled differently in two copies of the
// race, agreed to by a judge who was shown the text, set aside and taken back, typed from the paper, added by hand. Neither what
// a reader makes of them nor what anybody has typed is in any answer while it waits. Source: our own logic.
func TestSecrecy_RowsWithAPast_HoldNoTextThatMayStillBeTyped(t *testing.T) {
	inFull(t)
	b := stacktest.New(t)
	key := func(card, row int) string { return stacktest.Key("Blue", card, row, sheetmodel.PartBib) }
	b.Card("Blue", 1, stacktest.Row{Bib: "4871", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "4970", Code: "F", Gate: "3", Panel: "C"})
	b.Card("Blue", 2, stacktest.Row{Bib: "6794", Code: "F", Gate: "9", Panel: "B"})
	b.Card("Blue", 3, stacktest.Row{Bib: "8597", Code: "F", Gate: "15", Panel: "B"}, stacktest.Row{Bib: "9758", Code: "F", Gate: "16", Panel: "C"})
	b.Card("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25", Panel: "B"}, stacktest.Row{Bib: "5479", Code: "F", Gate: "27", Panel: "C", State: sheetmodel.Doubtful, Rivals: []string{"5979"}})
	secrets := []string{"4871", "5983", "4970", "6794", "7489", "8597", "5071", "9758", "7391", "5479", "5979", "8390", "4587", "9847"}
	for _, n := range secrets {
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: n, Group: "girls"}, Course: "Blue"})
	}
	b.Type("Ada", key(5, 1), "14")

	// Two copies.
	dir := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(dir, os.DirFS(b.Store.Dir())))
	other := *b
	s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	other.Store = s
	said(t, b, "Ada", key(3, 1), "8597", "typed")
	said(t, &other, "Bo", key(3, 1), "5071", "typed")
	require.NoError(t, s.Close())
	c, err := store.OpenCopy(t.Context(), dir, t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	done, err := b.Store.Join(t.Context(), c)
	require.NoError(t, err)
	require.Len(t, done.Disputes, 1)
	require.NoError(t, c.Close())

	// Mended; and set aside, taken back.
	said(t, b, "Ada", key(1, 1), "4871", "typed")
	said(t, b, "Bo", key(1, 1), "4871", "asked")
	said(t, b, "Bo", key(1, 2), "8390", "typed")
	b.SetAside("Bo", key(1, 2), "the judge has left")
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.Store.Undo(t.Context(), decisions[len(decisions)-1].ID, "Bo", "Bo"))
	again(t, b, 1,
		stacktest.Row{Bib: "5983", Code: "F", Gate: "6", Panel: "B", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtOverwritten, Rivals: []string{"4871"}},
		stacktest.Row{Bib: "4970", Code: "F", Gate: "3", Panel: "C"})
	// Two photos.
	said(t, b, "Ada", key(2, 1), "6794", "typed")
	again(t, b, 2, stacktest.Row{Bib: "7489", Code: "F", Gate: "9", Panel: "B"})
	// A judge who agreed to what was shown, and a second person who reads it otherwise.
	said(t, b, "Ada", key(3, 2), "7391", "nod")
	said(t, b, "Bo", key(5, 2), "5979", "typed")
	// From the paper, and added by hand.
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 6}, Rows: 2, By: "Ada"}))
	b.Type("Ada", key(6, 1), "4587")
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: stack.AddedKey(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 5}, 5), Value: "10.0,90.0,100.0,8.0", By: "Ada"}))
	said(t, b, "Bo", key(5, 5), "9847", "typed")

	st, result := b.Load()
	waits := map[string]bool{}
	for _, w := range st.Waiting(result) {
		waits[w.Entry.Key] = true
	}
	for _, k := range []string{key(1, 1), key(1, 2), key(2, 1), key(3, 1), key(3, 2), key(5, 2), key(5, 5), key(6, 1), key(6, 2)} {
		require.True(t, waits[k], k)
	}
	h := openHut(t, b)
	photos, err := b.Store.Photos(t.Context())
	require.NoError(t, err)
	who := map[string]*person{"the laptop": sit(t, h.here, "Cleo"), "Vic": h.pair("Vic", "view"), "Hal": h.pair("Hal", "photos", "hear"), "All": h.pair("All", "photos", "hear", "settle", "view")}
	phones := revokeID.FindAllStringSubmatch(who["the laptop"].get("/phones").body, -1)
	for name, p := range who {
		for path, a := range crawl(t, p, st, everyPath(t, b)...) {
			require.NotEqual(t, http.StatusInternalServerError, a.status, "%s: %s", path, a.body)
			for _, photo := range photos {
				a.body = strings.ReplaceAll(a.body, photo.ID, "")
			}
			for _, phone := range phones {
				a.body = strings.ReplaceAll(a.body, phone[1], "")
			}
			for _, secret := range secrets {
				assert.Empty(t, leak(a, secret), "%s in %s for %s", secret, path, name)
			}
		}
	}
}
