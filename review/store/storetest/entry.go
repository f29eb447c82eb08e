package storetest

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

const bibKey = "run1/Blue/card-4/front/row-03.bib"

func entry(by, session, text string) store.Entry {
	return store.Entry{Reading: bibKey, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: session, Sheet: 7}
}

func serve(t *testing.T, s *store.Store, by, session string, reveals bool, keys ...string) {
	t.Helper()
	require.NoError(t, s.Serve(t.Context(), store.Served{Session: session, Person: by, Readings: keys, Sheet: 7, Reveals: reveals, What: "test"}))
}

func settle(t *testing.T, s *store.Store, e store.Entry) store.Decision {
	t.Helper()
	d, err := s.Settle(t.Context(), e)
	require.NoError(t, err)
	require.Len(t, d, 1)
	return d[0]
}

func blindness(t *testing.T, open Opener) {
	const other = "run1/Blue/card-4/front/row-04.bib"
	for _, c := range []struct {
		name  string
		shown func(t *testing.T, s *store.Store)
		want  bool
	}{
		{"nothing in the log", func(*testing.T, *store.Store) {}, false},
		{"only the ink", func(t *testing.T, s *store.Store) { serve(t, s, "Ada", "s1", false, bibKey) }, true},
		{"the ink, to another session", func(t *testing.T, s *store.Store) { serve(t, s, "Ada", "s2", false, bibKey) }, false},
		{"ink, then text", func(t *testing.T, s *store.Store) {
			serve(t, s, "Ada", "s1", false, bibKey)
			serve(t, s, "Ada", "s1", true, bibKey)
		}, false},
		{"text in another session of the same person", func(t *testing.T, s *store.Store) {
			serve(t, s, "Ada", "s2", true, bibKey)
			serve(t, s, "Ada", "s1", false, bibKey)
		}, false},
		{"text in this session under another name", func(t *testing.T, s *store.Store) {
			serve(t, s, "Bo", "s1", true, bibKey)
			serve(t, s, "Ada", "s1", false, bibKey)
		}, false},
		{"text to the same person in another spelling", func(t *testing.T, s *store.Store) {
			serve(t, s, "ADA\u200b ", "s2", true, bibKey)
			serve(t, s, "Ada", "s1", false, bibKey)
		}, false},
		{"all of it to the same person in another spelling", func(t *testing.T, s *store.Store) {
			serve(t, s, "\u0410da", "s2", true, store.AllReadings)
			serve(t, s, "Ada", "s1", false, bibKey)
		}, false},
		{"typed before in another spelling", func(t *testing.T, s *store.Store) {
			serve(t, s, "ada", "s2", false, bibKey)
			settle(t, s, entry("ada", "s2", "40"))
			serve(t, s, "Ada", "s1", false, bibKey)
		}, false},
		{"undone in another spelling", func(t *testing.T, s *store.Store) {
			serve(t, s, "Bo", "s2", false, bibKey)
			d := settle(t, s, entry("Bo", "s2", "40"))
			require.NoError(t, s.Undo(t.Context(), d.ID, "A.D.A.", "s3"))
			serve(t, s, "Ada", "s1", false, bibKey)
		}, false},
		{"text to someone else", func(t *testing.T, s *store.Store) {
			serve(t, s, "Bo", "s2", true, bibKey)
			serve(t, s, "Ada", "s1", false, bibKey)
		}, true},
		{"text of another row", func(t *testing.T, s *store.Store) {
			serve(t, s, "Ada", "s1", true, other)
			serve(t, s, "Ada", "s1", false, bibKey)
		}, true},
		{"a page that reveals all", func(t *testing.T, s *store.Store) {
			serve(t, s, "Ada", "s1", true, store.AllReadings)
			serve(t, s, "Ada", "s1", false, bibKey)
		}, false},
		{"typed before", func(t *testing.T, s *store.Store) {
			serve(t, s, "Ada", "s1", false, bibKey)
			settle(t, s, entry("Ada", "s1", "40"))
		}, false},
		{"typed before by someone else", func(t *testing.T, s *store.Store) {
			serve(t, s, "Bo", "s2", false, bibKey)
			settle(t, s, entry("Bo", "s2", "40"))
			serve(t, s, "Ada", "s1", false, bibKey)
		}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := fresh(t, open)
			c.shown(t, s)
			assert.Equal(t, c.want, settle(t, s, entry("Ada", "s1", "46")).Blind)
		})
	}
}

// judgesWord asks whose judge's word is a look. Who has typed a word of the judge's before learned whether it fits the
// ink: another one through them may be what they asked for, also after the first was taken back.
func judgesWord(t *testing.T, open Opener) {
	heard := func(by, session, text string) store.Entry {
		e := entry(by, session, text)
		e.ReadBack = true
		return e
	}
	asked := func(by, session, text string) store.Entry {
		e := heard(by, session, text)
		e.Basis = sheetmodel.BasisJudgeAsked
		return e
	}
	for _, c := range []struct {
		name string
		said func(t *testing.T, s *store.Store)
		want bool
	}{
		{"nothing before", func(*testing.T, *store.Store) {}, true},
		{"another bib heard before", func(t *testing.T, s *store.Store) { settle(t, s, heard("Ada", "s1", "47")) }, false},
		{"another bib heard before, in another spelling and session", func(t *testing.T, s *store.Store) { settle(t, s, heard("ADA", "s2", "47")) }, false},
		{"another bib heard before and taken back", func(t *testing.T, s *store.Store) {
			require.NoError(t, s.Undo(t.Context(), settle(t, s, heard("Ada", "s1", "47")).ID, "Ada", "s1"))
		}, false},
		{"another bib asked for before and taken back", func(t *testing.T, s *store.Store) {
			require.NoError(t, s.Undo(t.Context(), settle(t, s, asked("Ada", "s1", "47")).ID, "Ada", "s1"))
		}, false},
		{"the same bib heard before and taken back", func(t *testing.T, s *store.Store) {
			require.NoError(t, s.Undo(t.Context(), settle(t, s, heard("Ada", "s1", "46")).ID, "Ada", "s1"))
		}, true},
		{"another bib heard by someone else", func(t *testing.T, s *store.Store) { settle(t, s, heard("Bo", "s2", "47")) }, true},
		{"another bib read off the ink", func(t *testing.T, s *store.Store) { settle(t, s, entry("Ada", "s1", "47")) }, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := fresh(t, open)
			c.said(t, s)
			assert.Equal(t, c.want, settle(t, s, asked("Ada", "s1", "46")).ReadBack)
		})
	}
}

func people(t *testing.T, open Opener) {
	s := fresh(t, open)
	serve(t, s, "Ada", "s1", true, bibKey)
	serve(t, s, "Jörg", "s2", false, bibKey)
	settle(t, s, entry("Bo", "s3", "46"))
	settle(t, s, entry("ada", "s4", "46"))
	settle(t, s, entry("Joerg", "s5", "46"))
	names, err := s.People(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{"Ada", "Jörg", "Bo"}, names)
}

func entryTwice(t *testing.T, open Opener) {
	s := fresh(t, open)
	serve(t, s, "Ada", "s1", false, bibKey)
	first := settle(t, s, entry("Ada", "s1", "46"))
	assert.True(t, first.Blind)
	serve(t, s, "Ada", "s1", true, bibKey) // the page after it shows the text; the answer got lost on the way
	again := settle(t, s, entry("Ada", "s1", "46"))
	assert.Equal(t, first.ID, again.ID)
	assert.True(t, again.Blind)
	all, err := s.Decisions(t.Context())
	require.NoError(t, err)
	assert.Len(t, all, 1)
}

func undo(t *testing.T, open Opener) {
	s := fresh(t, open)
	serve(t, s, "Ada", "s1", false, bibKey)
	first := settle(t, s, entry("Ada", "s1", "46"))
	require.NoError(t, s.Undo(t.Context(), first.ID, "Ada", "s1"))
	require.NoError(t, s.Undo(t.Context(), first.ID, "Ada", "s1"), "twice is no fault")
	again := settle(t, s, entry("Ada", "s1", "46"))
	assert.NotEqual(t, first.ID, again.ID)
	assert.False(t, again.Blind)
	all, err := s.Decisions(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 2)
	require.NotNil(t, all[0].Undone)
	assert.Equal(t, "Ada", all[0].Undone.By)
	assert.Nil(t, all[1].Undone)
}

func badEntries(t *testing.T, open Opener) {
	s := fresh(t, open)
	for want, e := range map[string]store.Entry{
		"not a reading's name":   {Reading: "row 3", Text: "46", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s1"},
		"no person":              {Reading: bibKey, Text: "46", Basis: sheetmodel.BasisOnPaper, Session: "s1"},
		"nothing was typed":      {Reading: bibKey, Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s1"},
		"without a reason":       {Reading: bibKey, Basis: sheetmodel.BasisSetAside, By: "Ada", Session: "s1"},
		`basis "guess" is none`:  {Reading: bibKey, Text: "46", Basis: "guess", By: "Ada", Session: "s1"},
		"no person or session n": {Reading: bibKey, Text: "46", Basis: sheetmodel.BasisJudgeAsked, By: "Ada"},
	} {
		good := entry("Ada", "s1", "46")
		_, err := s.Settle(t.Context(), good, e)
		require.ErrorContains(t, err, want)
	}
	all, err := s.Decisions(t.Context())
	require.NoError(t, err)
	assert.Empty(t, all, "one bad entry spoils the whole form")
}
