package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
)

func TestStore_OnSQLite_KeepsItsPromises(t *testing.T) {
	storetest.Run(t, func(t *testing.T, dir string, opt store.Options) *store.Store {
		s, err := store.Open(t.Context(), dir, opt)
		require.NoError(t, err)
		return s
	})
}
