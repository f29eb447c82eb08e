//go:build unix

package store_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/review/store/storetest/cluster"
)

func TestStore_OnPostgres_KeepsItsPromises(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a server")
	}
	c := cluster.Start(t)
	schemas := map[string]string{} // by race folder
	storetest.Run(t, func(t *testing.T, dir string, opt store.Options) *store.Store {
		if schemas[dir] == "" {
			schemas[dir] = fmt.Sprintf("race_%d", len(schemas)+1)
			require.NoError(t, os.WriteFile(filepath.Join(dir, store.AddressName), []byte(c.Address(schemas[dir])+"\n"), 0o600))
		}
		s, err := store.Open(t.Context(), dir, opt)
		require.NoError(t, err)
		return s
	})
	t.Run("Join_OfACopyBesideItself_TakesAllAndDisputes", func(t *testing.T) {
		a, b := parted(t)
		b.types("Bo", 1, "7")
		b.photo(2, 5)
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, store.AddressName), []byte(c.Address("joined")), 0o600))
		here := laptopAt(t, dir, 0)
		_, err := here.Join(t.Context(), a.Store)
		require.NoError(t, err)
		here.types("Cleo", 1, "9")
		done, err := here.Join(t.Context(), b.Store)
		require.NoError(t, err)
		assert.Len(t, done.Disputes, 1, "row 1 was typed in both since they parted")
		photos, err := here.Photos(t.Context())
		require.NoError(t, err)
		assert.Len(t, photos, 2)
		again, err := here.Join(t.Context(), b.Store)
		require.NoError(t, err)
		assert.Empty(t, again.Disputes)
		bad, err := here.VerifyFiles(t.Context())
		require.NoError(t, err)
		assert.Empty(t, bad)

		// The other way there is no file to be copied.
		_, err = store.OpenCopy(t.Context(), dir, t.TempDir(), store.Options{Now: time.Now})
		require.ErrorIs(t, err, store.ErrElsewhere)
		_, err = store.OpenSketch(t.Context(), dir, t.TempDir(), store.Options{Now: time.Now})
		require.ErrorIs(t, err, store.ErrElsewhere)
		_, err = store.Rescue(t.Context(), dir, t.TempDir(), store.Options{Now: time.Now})
		require.ErrorIs(t, err, store.ErrElsewhere)
	})
	t.Run("SeveralAtOnceOnANewRace_AllGetInAndNumbersAreDrawnOnce", func(t *testing.T) {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, store.AddressName), []byte(c.Address("together")), 0o600))
		var group sync.WaitGroup
		for n := range 4 {
			group.Go(func() {
				s, err := store.Open(t.Context(), dir, store.Options{Now: time.Now})
				if !assert.NoError(t, err) {
					return
				}
				for i := range 20 {
					b := fmt.Appendf([]byte("\xff\xd8\xff\xe0"), "photo %d of %d", i, n)
					if _, _, err = s.AddPhoto(t.Context(), "a.jpg", bytes.NewReader(b), -1, time.Time{}); !assert.NoError(t, err) {
						return
					}
				}
				assert.NoError(t, s.Close())
			})
		}
		group.Wait()
		s, err := store.Open(t.Context(), dir, store.Options{Now: time.Now})
		require.NoError(t, err)
		photos, err := s.Photos(t.Context())
		require.NoError(t, err)
		assert.Len(t, photos, 80)
		head, err := s.Head(t.Context())
		require.NoError(t, err)
		assert.EqualValues(t, 80, head)
		var out bytes.Buffer
		require.NoError(t, s.WriteLogbook(t.Context(), &out))
		require.NoError(t, s.Close())
		// What it writes down, a store on SQLite takes up, number by number.
		back, err := store.FromLogbook(t.Context(), t.TempDir(), store.Options{Now: time.Now}, bytes.NewReader(out.Bytes()))
		require.NoError(t, err)
		var again bytes.Buffer
		require.NoError(t, back.WriteLogbook(t.Context(), &again))
		require.NoError(t, back.Close())
		assert.Equal(t, out.String(), again.String())
	})
}

func TestAddress_ThatCanNotBeUsed_SaysWhatToDo(t *testing.T) {
	for _, one := range []struct{ address, want string }{
		{"", "is empty; write one line such as postgres://"},
		{"postgres://u:secret@h:notaport/db?search_path=a", "is no address of a PostgreSQL database"},
		{"postgres://u:secret@h/db", "has to name one schema"},
		{"postgres://u:secret@h/db?search_path=a,b", "has to name one schema"},
		{"postgres:///db?host=/nowhere&user=u&search_path=a", "check that the database is running"},
	} {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, store.AddressName), []byte(one.address), 0o600))
		_, err := store.Open(t.Context(), dir, store.Options{Now: time.Now})
		require.ErrorContains(t, err, one.want)
		require.ErrorContains(t, err, filepath.Join(dir, store.AddressName))
		assert.NotContains(t, err.Error(), "secret")
	}
	dir := t.TempDir()
	s, err := store.Open(t.Context(), dir, store.Options{Now: time.Now})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoError(t, os.WriteFile(filepath.Join(dir, store.AddressName), []byte("postgres://h/db?search_path=a"), 0o600))
	_, err = store.Open(t.Context(), dir, store.Options{Now: time.Now})
	require.ErrorContains(t, err, "keep one of the two")
}
