package store_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
)

// Lines that were made public together are kept together: none, if one of them can't be. Our own logic.
func TestAnswer_Several_AreKeptAllOrNone(t *testing.T) {
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	require.Error(t, s.Answer(t.Context(), store.Answer{Question: "a", Value: "1", By: "Ada"}, store.Answer{Question: "b", Value: "2"}))
	got, err := s.Answers(t.Context())
	require.NoError(t, err)
	assert.Empty(t, got)
	require.NoError(t, s.Answer(t.Context(), store.Answer{Question: "a", Value: "1", By: "Ada"}, store.Answer{Question: "b", Value: "2", By: "Ada"}))
	got, err = s.Answers(t.Context())
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, "a", got[0].Question)
	assert.Equal(t, got[0].At, got[1].At)
}
