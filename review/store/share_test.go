package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
)

func hideAll() store.Hide {
	return store.Hide{
		Person: func(string) string { return "P" }, Judge: func(string, int) string { return "J" }, Note: func(string) string { return "N" },
		Answer: func(_, v string) string { return v }, Page: func(store.Sheet) ([]byte, error) { return nil, nil },
	}
}

// An empty store has rows nowhere, so this asks of every table of the newest schema whether all of its columns are decided on.
func TestShare_EveryColumnOfEveryTableIsDecidedOn(t *testing.T) {
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	defer func() { assert.NoError(t, s.Close()) }()
	undecided, err := store.Undecided(t.Context(), s)
	require.NoError(t, err)
	assert.Empty(t, undecided, "say in share.go whether they may be handed around")
	c, err := s.Share(t.Context(), t.TempDir(), hideAll())
	require.NoError(t, err)
	require.NoError(t, c.Close())
}

func TestLatest_IsWhenTheLastThingWasKept(t *testing.T) {
	at := time.Date(2027, 1, 23, 11, 0, 0, 0, time.FixedZone("", 3600))
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: func() time.Time { return at }})
	require.NoError(t, err)
	defer func() { assert.NoError(t, s.Close()) }()
	last, err := s.Latest(t.Context())
	require.NoError(t, err)
	assert.True(t, last.IsZero())
	require.NoError(t, s.Answer(t.Context(), store.Answer{Question: "a", Value: "b", By: "Ada"}))
	at = at.Add(time.Hour)
	require.NoError(t, s.Answer(t.Context(), store.Answer{Question: "c", Value: "d", By: "Ada"}))
	last, err = s.Latest(t.Context())
	require.NoError(t, err)
	assert.True(t, last.Equal(at), "%v", last)
}
