package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// What was said of a row as it stood before somebody set it aside is not kept, and neither is what was said with it; said
// knowingly it is. Source: our own logic.
func TestSettle_SetAsideSinceItWasLookedAt_IsRefused(t *testing.T) {
	l := laptopAt(t, t.TempDir(), time.Duration(0))
	l.photo(1, 4)
	head, err := l.Head(t.Context())
	require.NoError(t, err)
	l.setsAside("Ben", 1)
	aloud := store.Entry{Reading: key(1), Text: "46", Basis: sheetmodel.BasisOnPaper, ReadBack: true, By: "Ada", Session: session("Ada"), Head: head}
	other := aloud
	other.Reading = key(2)
	_, err = l.Settle(t.Context(), other, aloud)
	require.ErrorIs(t, err, store.ErrSetAside)
	all, err := l.Decisions(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 1, "all or nothing")
	aloud.Head, err = l.Head(t.Context())
	require.NoError(t, err)
	_, err = l.Settle(t.Context(), aloud)
	require.NoError(t, err)
}
