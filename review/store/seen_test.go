package store_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// unseen makes of a store's database what schema 6 was.
const unseen = `DROP TABLE sights; ALTER TABLE decisions DROP COLUMN seen; ALTER TABLE answers DROP COLUMN seen;
	ALTER TABLE gap_reasons DROP COLUMN seen; DELETE FROM schema_versions WHERE version > 6`

// held tells what was held when each decision, answer and reason was kept, in this order: of each photo "in", "read", "no", or "?" if nobody
// kept that.
func held(t *testing.T, s *store.Store, photos ...store.Photo) (all [][]string) {
	t.Helper()
	sights, err := s.Sights(t.Context())
	require.NoError(t, err)
	decisions, err := s.Decisions(t.Context())
	require.NoError(t, err)
	answers, err := s.Answers(t.Context())
	require.NoError(t, err)
	gaps, err := s.GapReasons(t.Context())
	require.NoError(t, err)
	var names []string
	for _, d := range decisions {
		names = append(names, d.Seen)
	}
	for _, a := range answers {
		names = append(names, a.Seen)
	}
	for _, g := range gaps {
		names = append(names, g.Seen)
	}
	for _, name := range names {
		var one []string
		for _, p := range photos {
			in, known := sights.Photo(name, p.ID)
			read, alike := sights.Paper(name, store.Ink{Photo: p.ID, Part: 1})
			require.Equal(t, known, alike)
			word := map[bool]string{true: "in", false: "no"}[in]
			if read {
				word = "read"
			}
			if !known {
				word = "?"
			}
			one = append(one, word)
		}
		all = append(all, one)
	}
	return all
}

func (l laptop) onPaper(by, text string) {
	l.t.Helper()
	_, err := l.Settle(l.t.Context(), store.Entry{Reading: key(1), Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: session(by)})
	require.NoError(l.t, err)
}

// Whatever is said is kept with what its copy of the race held then: whether a photo had come in, and whether it had been read. That goes
// along when copies are joined, packed and rescued. Source: our own logic.
func TestSights_OfWhatWasSaid_AreThoseOfItsCopy(t *testing.T) {
	a, b := laptopAt(t, t.TempDir(), 0), laptopAt(t, t.TempDir(), time.Hour)
	a.onPaper("Ada", "1")
	one := a.photo(1, 4)
	two, _, err := a.AddPhoto(t.Context(), "card.jpg", bytes.NewReader([]byte("\xff\xd8\xff\xe0photo 2")), -1, time.Time{})
	require.NoError(t, err)
	a.onPaper("Bo", "1")
	require.NoError(t, a.Answer(t.Context(), store.Answer{Question: "q", Value: "yes", By: "Bo"}))
	b.onPaper("Cy", "1")
	three := b.photo(3, 5)
	require.NoError(t, b.CloseGap(t.Context(), store.GapReason{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 7}, Reason: "lost", By: "Cy"}))
	b.onPaper("Di", "1")

	_, err = a.Join(t.Context(), b.Store)
	require.NoError(t, err)
	a.onPaper("Ed", "1")
	require.NoError(t, a.CloseGap(t.Context(), store.GapReason{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 8}, Reason: "lost", By: "Ed"}))
	want := [][]string{
		{"no", "no", "no"}, {"read", "in", "no"}, // Ada, Bo
		{"no", "no", "no"}, {"no", "no", "read"}, // Cy, Di
		{"read", "in", "read"}, // Ed
		{"read", "in", "no"},   // the answer
		{"no", "no", "read"}, {"read", "in", "read"},
	}
	assert.Equal(t, want, held(t, a.Store, one, two, three))

	_, err = b.Join(t.Context(), a.Store)
	require.NoError(t, err)
	assert.ElementsMatch(t, want, held(t, b.Store, one, two, three))
	again, err := a.Join(t.Context(), b.Store)
	require.NoError(t, err)
	assert.False(t, again.Changed())

	var book bytes.Buffer
	require.NoError(t, a.WriteLogbook(t.Context(), &book))
	packed, err := store.FromLogbook(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()}, &book)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, packed.Close()) })
	assert.Equal(t, want, held(t, packed, one, two, three))

	to := t.TempDir()
	_, err = store.Rescue(t.Context(), a.Dir(), to, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	assert.Equal(t, want, held(t, openStore(t, to, storetest.Clock()), one, two, three))
}

// A race of an older program goes on: of what was said in it nobody knows what was held, and of what is said since somebody does. Where
// the row that lists it is lost, it counts as said before any photo. Source: our own logic.
func TestSights_OfAnOlderProgram_AreNotKnown(t *testing.T) {
	dir := t.TempDir()
	a := laptopAt(t, dir, 0)
	one := a.photo(1, 4)
	a.onPaper("Ada", "1")
	older(t, dir, unseen)
	s := openStore(t, dir, storetest.Clock())
	a = laptop{s, t}
	a.onPaper("Bo", "1")
	require.NoError(t, s.Answer(t.Context(), store.Answer{Question: "q", Value: "yes", By: "Bo"}))
	assert.Equal(t, [][]string{{"?"}, {"read"}, {"read"}}, held(t, s, one))

	older(t, dir, `DELETE FROM sights`)
	assert.Equal(t, [][]string{{"?"}, {"no"}, {"no"}}, held(t, s, one))
	a.onPaper("Cy", "1")
	assert.Equal(t, [][]string{{"?"}, {"read"}, {"read"}, {"read"}}, held(t, s, one), "the same set has the same name")
}
