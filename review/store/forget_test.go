package store_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

const (
	judgeName  = "Sepp Otterhammer"
	judgePhone = "0664 555 0199"
)

// raw is every byte of the database and its log.
func raw(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	for _, end := range []string{"", "-wal", "-shm"} {
		text, err := os.ReadFile(filepath.Join(dir, store.FileName+end))
		if !errors.Is(err, os.ErrNotExist) {
			require.NoError(t, err)
		}
		all.Write(text)
	}
	return all.String()
}

func headerKey(part string) string { return "run1/Blue/card-4/front/header." + part }

// withJudge is a race in which the judge of card 4 stands everywhere a judge may stand.
func withJudge(t *testing.T) laptop {
	t.Helper()
	a := laptopAt(t, t.TempDir(), 0)
	p, _, err := a.AddPhoto(t.Context(), "sepp otterhammer 1.jpg", strings.NewReader("\xff\xd8\xff\xe0 a card"), -1, time.Time{})
	require.NoError(t, err)
	side := storetest.Side(4, 1, "46")
	side.Read.Reading.Header = append(side.Read.Reading.Header,
		sheetmodel.Reading{Field: "header.judge", Text: "Sepp Otterhamner", State: sheetmodel.Doubtful, Rivals: []sheetmodel.Rival{{Text: judgeName, Prob: 0.2}}},
		sheetmodel.Reading{Field: "header.phone", Text: judgePhone, State: sheetmodel.Doubtful})
	require.NoError(t, a.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{side}))
	a.settles(store.Entry{Reading: headerKey("judge"), Text: "sepp  otterhammer", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s1", Sheet: a.sheet()})
	a.settles(store.Entry{Reading: headerKey("phone"), Text: judgePhone, Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s1", Sheet: a.sheet()})
	a.types("Ada", 1, "46")
	a.types(judgeName, 2, "46")
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}
	require.NoError(t, errors.Join(
		a.Bind(t.Context(), store.Binding{Card: card, Run: 1, Course: "Blue", Gates: []string{"1"}, Judge: judgeName, Source: "header", By: "Ada"}),
		a.Bind(t.Context(), store.Binding{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 9}, Run: 1, Course: "Blue", Judge: "Lina Fernbucket", Source: "header", By: "Ada"}),
		a.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "ask Sepp Otterhammer, " + judgePhone + ".", By: "Ada"}),
		a.Hear(t.Context(), store.HeardEntry{Run: 1, Course: "Blue", Clock: "10:40", From: judgeName, Words: "this is sepp otterhammer, 46 went out", By: "Ada"}),
		a.Answer(t.Context(), store.Answer{Question: "q", Value: "46", Note: "SEPP OTTERHAMMER says so", By: "Ada"}),
	))
	return a
}

func forgetting(t *testing.T, a laptop, try bool) store.Forgotten {
	t.Helper()
	done, err := a.Forget(t.Context(), store.Forget{
		Match: func(name string) bool { return look.Person(name) == look.Person(judgeName) }, Words: []string{judgeName}, By: "Cy", Try: try,
	})
	require.NoError(t, err)
	return done
}

func TestForget_RemovesAPersonFromRowsAndFreePages(t *testing.T) {
	a := withJudge(t)
	// Long enough to fill pages of its own, which are free once it is short.
	long := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 8}
	require.NoError(t, a.CloseGap(t.Context(), store.GapReason{Card: long, Reason: strings.Repeat(judgeName+", ", 2000), By: "Ada"}))
	before := a.logbook()
	tried := forgetting(t, a, true)
	assert.Equal(t, before, a.logbook(), "trying changes nothing")
	assert.Contains(t, raw(t, a.Dir()), judgeName)
	assert.Contains(t, raw(t, a.Dir()), "Otterhamner")

	done := forgetting(t, a, false)
	assert.Equal(t, tried, done)
	assert.Equal(t, []string{"a judge's name", "a name or number inside a remark", "a phone number", "the name of somebody who worked at the laptop"}, done.Kinds)
	assert.Len(t, done.Photos, 1, "the photo still shows the card's header")
	for _, secret := range []string{"sepp", "otterham", "0664", "0199"} {
		assert.NotContains(t, strings.ToLower(raw(t, a.Dir())), secret, "not in a free page, not in the log")
	}

	// what was decided stays, also by whom it was in effect: two people are two people still
	assert.Equal(t, []string{"Ada 46"}, a.said(1))
	assert.Equal(t, []string{"person 1 46"}, a.said(2))
	sheets, err := a.Sheets(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "46", sheets[0].Read.Reading.Rows[0].Bib.Text)
	bindings, err := a.Bindings(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{"", "Lina Fernbucket"}, []string{bindings[0].Judge, bindings[1].Judge}, "another judge is left alone")
	gaps, err := a.GapReasons(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "ask (removed), (removed).", gaps[0].Reason)
	notes, err := a.Forgets(t.Context())
	require.NoError(t, err)
	require.Len(t, notes, 1)
	assert.Equal(t, "Cy", notes[0].By)
	assert.Equal(t, strings.Join(done.Kinds, ", "), notes[0].Kinds)
	assert.False(t, notes[0].At.IsZero())
	bad, err := a.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)

	// nothing left to remove: no second note
	again := forgetting(t, a, false)
	assert.Empty(t, again.Kinds)
	notes, err = a.Forgets(t.Context())
	require.NoError(t, err)
	assert.Len(t, notes, 1)
}

// A phone number that somebody mistyped as a bib's length takes no bib along.
// Whoever is forgotten and sits down again is no second person beside themselves: nobody knows any more who they were, so
// nobody new counts where somebody who is forgotten has typed or was told. Source: our own logic.
func TestForget_SitsDownAgain_IsNoSecondPerson(t *testing.T) {
	a := withJudge(t)
	two := key(2)
	forgetting(t, a, false)
	saying := func(by, reading string, e store.Entry) store.Decision {
		e.Reading, e.By, e.Session, e.Sheet = reading, by, "session of "+by, a.sheet()
		require.NoError(t, a.Serve(t.Context(), store.Served{Session: e.Session, Person: by, Readings: []string{reading}, Sheet: e.Sheet, What: "entry"}))
		d, err := a.Settle(t.Context(), e)
		require.NoError(t, err)
		return d[0]
	}
	typed := store.Entry{Text: "46", Basis: sheetmodel.BasisOnPaper}
	asked := store.Entry{Text: "46", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true}
	assert.False(t, saying(judgeName, two, typed).Blind)
	assert.False(t, saying("S. O.", two, typed).Blind, "nor under another name")
	assert.False(t, saying("Somebody New", two, asked).ReadBack, "nor is what they say of the judge a second source")
	assert.True(t, saying("Ada", two, typed).Blind, "who was here before is somebody else")
	assert.True(t, saying(judgeName, key(3), typed).Blind, "of what nobody has typed, everybody may type")
}

func TestForget_ShortNumberOnTheHeader_TakesNoBibAlong(t *testing.T) {
	a := withJudge(t)
	a.settles(store.Entry{Reading: headerKey("phone"), Text: "46", Basis: sheetmodel.BasisOnPaper, By: "Bo", Session: "s2", Sheet: a.sheet()})
	forgetting(t, a, false)
	assert.Equal(t, []string{"Ada 46"}, a.said(1))
	answers, err := a.Answers(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "46", answers[0].Value)
}

func TestForget_CommitFails_NothingIsChanged(t *testing.T) {
	a := withJudge(t)
	dir, before := a.Dir(), a.logbook()
	require.NoError(t, a.Close())
	s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock(), Step: func(string) error { return errors.New("disk is full") }})
	require.NoError(t, err)
	_, err = s.Forget(t.Context(), store.Forget{Match: func(string) bool { return true }, By: "Cy"})
	require.ErrorContains(t, err, "disk is full")
	assert.Equal(t, before, laptop{s, t}.logbook())
	_, err = s.Forget(t.Context(), store.Forget{Match: func(string) bool { return true }})
	require.ErrorContains(t, err, "needs the person")
	require.NoError(t, s.Close())
}

// An older copy would bring the data back.
func TestForget_ThenJoinAnOlderCopy_IsRefused(t *testing.T) {
	a := withJudge(t)
	dir := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(dir, os.DirFS(a.Dir())))
	forgetting(t, a, false)
	c, err := store.OpenCopy(t.Context(), dir, t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	_, err = a.Join(t.Context(), c)
	require.ErrorIs(t, err, store.ErrForgotten)
	require.NoError(t, c.Close())
	assert.NotContains(t, raw(t, a.Dir()), judgeName)
}

func TestTelling(t *testing.T) {
	for text, want := range map[string]bool{"46": false, "V1": false, "1234": false, "0664 555": true, "+43664": false, "Bo": true, "B": false, "": false, "Ada B.": true} {
		assert.Equal(t, want, store.Telling(text), text) // our own logic: a bib has at most four digits
	}
}
