package store_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// laptop is a copy of a race with a clock of its own.
type laptop struct {
	*store.Store
	t *testing.T
}

func laptopAt(t *testing.T, dir string, ahead time.Duration) laptop {
	t.Helper()
	clock := storetest.Clock()
	s, err := store.Open(t.Context(), dir, store.Options{Now: func() time.Time { return clock().Add(ahead) }})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return laptop{s, t}
}

// parted is a race with one photo of card 4, read, and a copy of it on a second laptop whose clock is an hour
// behind.
func parted(t *testing.T) (a, b laptop) {
	t.Helper()
	a = laptopAt(t, t.TempDir(), 0)
	a.photo(1, 4)
	a.types("Ada", 1, "1")
	dir := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(dir, os.DirFS(a.Dir())))
	return a, laptopAt(t, dir, -time.Hour)
}

func key(row int) string {
	return fmt.Sprintf("run1/Blue/card-4/front/row-%02d.bib", row)
}

// session is the browser's of a person; it doesn't hold the name.
func session(by string) string { return "session " + by[:1] }

func (l laptop) photo(n, card int) store.Photo {
	l.t.Helper()
	p, _, err := l.AddPhoto(l.t.Context(), "card.jpg", bytes.NewReader(fmt.Appendf([]byte("\xff\xd8\xff\xe0"), "photo %d", n)), -1, time.Time{})
	require.NoError(l.t, err)
	side := storetest.Side(card, 1, "46")
	side.Page = fmt.Appendf([]byte("\x89PNG\r\n\x1a\n"), "page %d", n)
	require.NoError(l.t, l.AddSheets(l.t.Context(), p.ID, "reader", []store.NewSheet{side}))
	return p
}

// sheet is the newest sheet of card 4.
func (l laptop) sheet() int64 {
	sheets, err := l.Sheets(l.t.Context())
	require.NoError(l.t, err)
	return sheets[0].ID
}

func (l laptop) types(by string, row int, text string) store.Decision {
	l.t.Helper()
	sheet := l.sheet()
	require.NoError(l.t, l.Serve(l.t.Context(), store.Served{Session: session(by), Person: by, Readings: []string{key(row)}, Sheet: sheet, What: "entry"}))
	return l.settles(store.Entry{Reading: key(row), Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: session(by), Sheet: sheet})
}

func (l laptop) settles(e store.Entry) store.Decision {
	l.t.Helper()
	d, err := l.Settle(l.t.Context(), e)
	require.NoError(l.t, err)
	return d[0]
}

func (l laptop) setsAside(by string, row int) {
	l.t.Helper()
	l.settles(store.Entry{Reading: key(row), Basis: sheetmodel.BasisSetAside, Note: "can't be read", By: by, Session: session(by)})
}

func (l laptop) shows(by, reading string) {
	l.t.Helper()
	require.NoError(l.t, l.Serve(l.t.Context(), store.Served{Session: session(by), Person: by, Readings: []string{reading}, Reveals: true, What: "draft"}))
}

// joins joins a copy of other, as the program does: other itself is only read.
func (l laptop) joins(other laptop) store.Joined {
	l.t.Helper()
	before := tree(l.t, other.Dir())
	c, err := store.OpenCopy(l.t.Context(), other.Dir(), l.t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(l.t, err)
	done, err := l.Join(l.t.Context(), c)
	require.NoError(l.t, errors.Join(err, c.Close()))
	assert.Equal(l.t, before, tree(l.t, other.Dir()), "the other copy is not changed, not by a byte")
	return done
}

// tree is every file of a folder but SQLite's table of locks, which any reader touches.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasSuffix(path, "-shm") {
			return err
		}
		text, err := os.ReadFile(path)
		all[strings.TrimPrefix(path, dir)] = string(text)
		return err
	}))
	return all
}

// said lists what people said of a reading, "!" after what is no longer unseen.
func (l laptop) said(row int) []string {
	l.t.Helper()
	all, err := l.Decisions(l.t.Context())
	require.NoError(l.t, err)
	var said []string
	for _, d := range all {
		if d.Reading != key(row) {
			continue
		}
		mark := ""
		if !d.Blind {
			mark = "!"
		}
		if d.Undone != nil {
			mark = " undone"
		}
		said = append(said, d.By+" "+d.Text+mark)
	}
	return said
}

func (l laptop) open() []string {
	l.t.Helper()
	all, err := l.Disputes(l.t.Context())
	require.NoError(l.t, err)
	var open []string
	for _, d := range all {
		open = append(open, fmt.Sprintf("%s %s: %s | %s", d.Kind, d.Subject, d.Ours, d.Theirs))
	}
	return open
}

func (l laptop) logbook() string {
	l.t.Helper()
	var b strings.Builder
	require.NoError(l.t, l.WriteLogbook(l.t.Context(), &b))
	return b.String()
}

func TestJoin_TakesOverWhatTheOtherHas_OnceAndForAll(t *testing.T) {
	a, b := parted(t)
	a.photo(2, 5)
	b.photo(3, 6)
	same := b.photo(2, 5) // collected on both laptops
	a.types("Bo", 2, "7")
	b.types("Cy", 3, "9")
	require.NoError(t, b.CloseGap(t.Context(), store.GapReason{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 9}, Reason: "wet through", By: "Cy"}))
	d := b.types("Cy", 4, "11")
	require.NoError(t, b.Undo(t.Context(), d.ID, "Cy", "Cy's"))

	before, err := a.Decisions(t.Context())
	require.NoError(t, err)
	done := a.joins(b)
	assert.Equal(t, store.Joined{Photos: 1, Decisions: 2, Records: 2, Disputes: []store.Dispute{}, Damaged: []string{}}, done)
	after, err := a.Decisions(t.Context())
	require.NoError(t, err)
	assert.Equal(t, before, after[:len(before)], "nothing here was replaced")
	assert.Equal(t, []string{"Bo 7"}, a.said(2))
	assert.Equal(t, []string{"Cy 9"}, a.said(3))
	assert.Equal(t, []string{"Cy 11 undone"}, a.said(4))
	sheets, err := a.Sheets(t.Context())
	require.NoError(t, err)
	assert.Len(t, sheets, 3, "the photo that both collected is one")
	photos, err := a.Photos(t.Context())
	require.NoError(t, err)
	assert.Len(t, photos, 3)
	assert.Contains(t, []string{photos[0].ID, photos[1].ID}, same.ID)
	bad, err := a.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)

	// once more: the same bytes
	once := a.logbook()
	again := a.joins(b)
	assert.False(t, again.Changed())
	assert.Equal(t, once, a.logbook())

	// the other way round, and back: both hold the same, and nothing comes back twice
	b.joins(a)
	assert.Equal(t, []string{"Bo 7"}, b.said(2))
	assert.False(t, a.joins(b).Changed())
	assert.Empty(t, a.open())
	assert.Empty(t, b.open())
}

// What both settled, and differently, waits: neither the copy joined last nor the clock that is ahead decides.
func TestJoin_SettledDifferently_WaitsForAPerson(t *testing.T) {
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 5}
	name := "run1/Blue/card-5"
	for _, c := range []struct {
		name   string
		ours   func(laptop)
		theirs func(laptop)
		want   string
		settle func(laptop)
	}{
		{"bib", func(a laptop) { a.types("Bo", 2, "46") }, func(b laptop) { b.types("Cy", 2, "40") },
			"reading " + key(2) + ": 46 | 40", func(a laptop) { a.types("Di", 2, "46") }},
		{"bib set aside", func(a laptop) { a.types("Bo", 2, "46") }, func(b laptop) { b.setsAside("Cy", 2) },
			"reading " + key(2) + ": 46 | set aside", func(a laptop) { a.setsAside("Bo", 2) }},
		{"bib taken back", func(a laptop) {
			all, err := a.Decisions(t.Context())
			require.NoError(t, errors.Join(err, a.Undo(t.Context(), all[0].ID, "Ada", "Ada's")))
		}, func(b laptop) { b.types("Cy", 1, "7") }, "reading " + key(1) + ": taken back | 1 and 7", func(a laptop) {
			a.settles(store.Entry{Reading: key(1), Text: "7", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Di", Session: "Di's"})
		}},
		{"answer", func(a laptop) {
			require.NoError(t, a.Answer(t.Context(), store.Answer{Question: "q", Value: "one", By: "Bo"}))
		}, func(b laptop) {
			require.NoError(t, b.Answer(t.Context(), store.Answer{Question: "q", Value: "two", By: "Cy"}))
		}, "answer q: one | two", func(a laptop) {
			require.NoError(t, a.Answer(t.Context(), store.Answer{Question: "q", Value: "one", By: "Bo"}))
		}},
		{"place", func(a laptop) {
			require.NoError(t, a.Bind(t.Context(), store.Binding{Card: card, Run: 1, Course: "Blue", Gates: []string{"1"}, Source: "header", By: "Bo"}))
		}, func(b laptop) {
			require.NoError(t, b.Bind(t.Context(), store.Binding{Card: card, Run: 1, Course: "Blue", Gates: []string{"2"}, Source: "header", By: "Cy"}))
		}, "place " + name + `: run 1, Blue, gates ["1"],   | run 1, Blue, gates ["2"],  `, func(a laptop) {
			require.NoError(t, a.Bind(t.Context(), store.Binding{Card: card, Run: 1, Course: "Blue", Gates: []string{"2"}, Source: "header", By: "Bo"}))
		}},
		{"gap", func(a laptop) {
			require.NoError(t, a.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "lost", By: "Bo"}))
		}, func(b laptop) {
			require.NoError(t, b.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "nobody stood there", By: "Cy"}))
		}, "gap " + name + ": lost | nobody stood there", func(a laptop) {
			require.NoError(t, a.CloseGap(t.Context(), store.GapReason{Card: card, Reason: "lost", By: "Bo"}))
		}},
		{"paper", func(a laptop) {
			require.NoError(t, a.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 2, By: "Bo"}))
		}, func(b laptop) {
			require.NoError(t, b.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 3, By: "Cy"}))
		}, "paper " + name + ": 2 | 3", func(a laptop) {
			require.NoError(t, a.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 3, By: "Bo"}))
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, b := parted(t)
			c.ours(a)
			c.theirs(b)
			done := a.joins(b)
			require.Len(t, done.Disputes, 1)
			assert.Equal(t, []string{c.want}, a.open())
			assert.False(t, a.joins(b).Changed(), "joined twice, the dispute is one")
			assert.Equal(t, []string{c.want}, a.open())
			c.settle(a)
			assert.Empty(t, a.open(), "settled by a person")
			// the other laptop learns of the dispute and of how it ended
			b.joins(a)
			assert.Empty(t, b.open())
			assert.False(t, a.joins(b).Changed())
		})
	}
}

func TestJoin_SettledAlikeOrByOneOnly_IsNoDispute(t *testing.T) {
	a, b := parted(t)
	a.types("Bo", 2, "46")
	b.types("Cy", 2, "46") // two people agree
	b.types("Cy", 1, "7")  // the other copy went on; here nobody said anything since
	a.setsAside("Bo", 3)
	b.setsAside("Cy", 3)
	assert.Empty(t, a.joins(b).Disputes)
	assert.Equal(t, []string{"Bo 46", "Cy 46"}, a.said(2))
	assert.Equal(t, []string{"Ada 1", "Cy 7"}, a.said(1))
}

// Whoever typed a bib before can't outvote the other copy by typing it again.
func TestJoin_TypedAgainByTheSame_StaysADispute(t *testing.T) {
	a, b := parted(t)
	a.types("Bo", 2, "46")
	b.types("Cy", 2, "40")
	a.joins(b)
	a.settles(store.Entry{Reading: key(2), Text: "46", Basis: sheetmodel.BasisOnPaper, By: "Bo", Session: "Bo's second", Sheet: a.sheet()})
	assert.Len(t, a.open(), 1)
	// settled, and the settling taken back: it waits again
	d := a.types("Di", 2, "46")
	assert.Empty(t, a.open())
	require.NoError(t, a.Undo(t.Context(), d.ID, "Di", "Di's"))
	assert.Len(t, a.open(), 1)
}

// A person who was shown a text on one laptop has typed nothing unseen on the other, whichever came first:
// the two clocks can't be compared.
func TestJoin_ShownOnTheOtherLaptop_IsNoLongerUnseen(t *testing.T) {
	for _, c := range []struct {
		name           string
		shower, typist string
		shown          string
		want           string
	}{
		{"that reading", "Bo", "bo", key(2), "bo 46!"},
		{"everything", "Bo", "Bo", store.AllReadings, "Bo 46!"},
		{"another reading", "Bo", "Bo", key(9), "Bo 46"},
		{"to another person", "Cy", "Bo", key(2), "Bo 46"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, direction := range []string{"typed there", "typed here"} {
				a, b := parted(t)
				shows, types := a, b
				if direction == "typed here" {
					shows, types = b, a
				}
				shows.shows(c.shower, c.shown)
				types.types(c.typist, 2, "46")
				done := a.joins(b)
				assert.Equal(t, []string{c.want}, a.said(2), direction)
				assert.Equal(t, strings.HasSuffix(c.want, "!"), done.Sighted == 1, direction)
				b.joins(a)
				assert.Equal(t, []string{c.want}, b.said(2), direction)
			}
		})
	}
}

func TestJoin_DamagedOriginalThere_IsNamedAndTheRestTaken(t *testing.T) {
	a, b := parted(t)
	p, q := b.photo(2, 5), b.photo(3, 6)
	b.types("Cy", 2, "46")
	require.NoError(t, os.WriteFile(filepath.Join(b.Dir(), p.File), []byte("cut"), 0o600))
	done := a.joins(b)
	assert.Equal(t, []string{p.File}, done.Damaged)
	assert.Equal(t, []string{"Cy 46"}, a.said(2))
	f, err := a.OpenFile(q.File)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	bad, err := a.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{p.File + ": missing; bring it back from a copy"}, bad)
}

// Any durable step may fail: then nothing of the other copy is seen, and the next try takes all of it.
func TestJoin_StepFails_NothingIsSeenAndARetryWorks(t *testing.T) {
	a, b := parted(t)
	b.photo(2, 5)
	b.types("Cy", 2, "46")
	dir := a.Dir()
	require.NoError(t, a.Close())
	for n := 0; ; n++ {
		i, fired := 0, false
		s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock(), Step: func(string) error {
			i++
			if fired = fired || i > n; fired {
				return errors.New("disk is full")
			}
			return nil
		}})
		require.NoError(t, err)
		l := laptop{s, t}
		before := l.logbook()
		c, err := store.OpenCopy(t.Context(), b.Dir(), t.TempDir(), store.Options{Now: storetest.Clock()})
		require.NoError(t, err)
		_, err = s.Join(t.Context(), c)
		require.NoError(t, c.Close())
		if !fired {
			require.NoError(t, err)
			assert.Equal(t, []string{"Cy 46"}, l.said(2))
			assert.Greater(t, n, len(store.Steps), "files and the commit failed in turn")
			require.NoError(t, s.Close())
			return
		}
		require.ErrorContains(t, err, "disk is full")
		assert.Equal(t, before, l.logbook())
		require.NoError(t, s.Close())
	}
}

func TestOpenCopy_NoStore_OrDamaged(t *testing.T) {
	_, err := store.OpenCopy(t.Context(), t.TempDir(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.ErrorIs(t, err, store.ErrNotFound)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, store.FileName), bytes.Repeat([]byte("no database "), 1000), 0o600))
	_, err = store.OpenCopy(t.Context(), dir, t.TempDir(), store.Options{Now: storetest.Clock()})
	require.ErrorContains(t, err, "not a database")
}

// What was heard at two laptops is one log afterwards, and a line that was struck there is struck here.
func TestJoin_HeardOnBoth_IsOneLog(t *testing.T) {
	a, b := parted(t)
	hear := func(l laptop, h store.HeardEntry) {
		t.Helper()
		require.NoError(t, l.Hear(t.Context(), h))
	}
	hear(a, store.HeardEntry{Run: 1, Course: "Blue", Clock: "11:01", From: "finish", Words: "two are out", By: "Bo"})
	hear(b, store.HeardEntry{Run: 1, Course: "Blue", Clock: "11:06", From: "gate 27", Bib: sheetmodel.Bib{Number: "19"}, Gate: "27", By: "Cy"})
	theirs, err := b.HeardLog(t.Context())
	require.NoError(t, err)
	hear(b, store.HeardEntry{Strikes: theirs[0].ID, By: "Cy"})
	a.joins(b)
	log, err := a.HeardLog(t.Context())
	require.NoError(t, err)
	require.Len(t, log, 3)
	assert.Equal(t, "two are out", log[0].Words)
	assert.Equal(t, "19", log[1].Bib.Number)
	assert.Equal(t, log[1].ID, log[2].Strikes, "it strikes the same line under its number here")
	assert.False(t, a.joins(b).Changed())
}

// What two copies settled differently waits for a word that was typed since: an older one that was taken back and is put back is
// none. Source: our own logic.
func TestRedo_DisputedSince_SettlesNothing(t *testing.T) {
	ours, theirs := parted(t)
	d := ours.types("Ada", 1, "46")
	theirs.types("Bo", 1, "40")
	require.NoError(t, ours.Undo(t.Context(), d.ID, "Ada", session("Ada")))
	ours.types("Cy", 1, "46")
	require.NotEmpty(t, ours.joins(theirs).Disputes)
	_, err := ours.Redo(t.Context(), []int64{d.ID}, "Ada", session("Ada"))
	require.ErrorIs(t, err, store.ErrSince)
	assert.NotEmpty(t, ours.open())
}

// Nor does a text to which the judge only agreed, nor one that is read aloud to somebody who was shown it: neither is a look, and what the
// other copy says would be outvoted by it. The judge's word to somebody who was shown nothing settles it. Source: our own logic, after
// design, section 5.6.
func TestJoin_SettledDifferently_TheJudgeWhoOnlyAgreesSettlesNothing(t *testing.T) {
	ours, theirs := parted(t)
	ours.types("Bo", 2, "46")
	theirs.types("Cy", 2, "40")
	require.NotEmpty(t, ours.joins(theirs).Disputes)
	require.NoError(t, ours.Serve(t.Context(), store.Served{Session: "Di's", Person: "Di", Readings: []string{key(2)}, Reveals: true, What: "draft"}))
	asked := store.Entry{Reading: key(2), Text: "46", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Di", Session: "Di's"}
	ours.settles(asked)
	assert.NotEmpty(t, ours.open(), "Di named it")
	asked.Basis = sheetmodel.BasisOnPaper
	ours.settles(asked)
	assert.NotEmpty(t, ours.open(), "Di knew what to hear")
	asked.Basis, asked.By, asked.Session = sheetmodel.BasisJudgeAsked, "Ed", "Ed's"
	ours.settles(asked)
	assert.Empty(t, ours.open())
}
