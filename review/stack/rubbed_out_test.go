package stack_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// said keeps what somebody typed unseen at a sheet, or the judge's word that they wrote down.
func (b *table) said(by, key, text string, sheet int64, judge bool) {
	b.t.Helper()
	e := store.Entry{Reading: key, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: by, Sheet: sheet}
	if judge {
		e.Basis, e.ReadBack = sheetmodel.BasisJudgeAsked, true
	}
	require.NoError(b.t, b.store.Serve(b.t.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, Sheet: sheet, What: "test"}))
	_, err := b.store.Settle(b.t.Context(), e)
	require.NoError(b.t, err)
}

// laterCounts says of all photos that the later one counts.
func (b *table) laterCounts() {
	b.t.Helper()
	s, _ := b.load()
	for _, q := range s.Questions {
		if !q.Answered && len(q.Answers) > 1 && q.Answers[1].Value == stack.AnswerLater {
			b.answer(q.Key, stack.AnswerLater)
		}
	}
}

// A judge writes with a pencil, and may rub out: what was typed or named of a bib, or of a gate, that stands on its card no more is no
// look at the empty box. What the judge named of a box that was empty then stays. Source: our own logic.
func TestLooks_OfWhatWasRubbedOutSince_AreNoLooks(t *testing.T) {
	for _, state := range []sheetmodel.State{sheetmodel.Clear, sheetmodel.Doubtful} {
		for _, part := range []sheetmodel.Part{sheetmodel.PartBib, sheetmodel.PartGate} {
			b := newTable(t)
			of := func(n *store.NewSheet) *sheetmodel.Reading {
				if part == sheetmodel.PartGate {
					return &n.Read.Reading.Rows[0].Gate
				}
				return &n.Read.Reading.Rows[0].Bib
			}
			first := b.front(2, "14")
			of(&first).State = state
			text := of(&first).Text
			b.add(first)
			s, _ := b.load()
			key, sheet := store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, of(&first).Field), s.Rows[0].Sheet.ID
			b.said("Ada", key, text, sheet, true)
			b.said("Bo", key, text, sheet, false)
			entry := func() look.Seen {
				s, _ := b.load()
				if part == sheetmodel.PartGate {
					return s.Row(rowRef(2, 1)).Gate.Seen
				}
				return s.Row(rowRef(2, 1)).BibSeen.Seen
			}
			require.Equal(t, sheetmodel.BibTwoLooks, entry().State)
			again := b.front(2, "14")
			of(&again).Text, of(&again).State = "", sheetmodel.Empty
			b.add(again)
			b.laterCounts()
			assert.NotEqual(t, sheetmodel.BibTwoLooks, entry().State, "%s, %s", part, state)
		}
	}
	b := newTable(t)
	blank := func() store.NewSheet {
		n := b.front(2, "14")
		n.Read.Reading.Rows[0].Gate = sheetmodel.Reading{Field: "row-01.gate", Side: sheetmodel.Front, State: sheetmodel.Empty}
		return n
	}
	b.add(blank())
	s, _ := b.load()
	key := store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, "row-01.gate")
	b.said("Ada", key, "7", s.Rows[0].Sheet.ID, true)
	b.said("Bo", key, "7", s.Rows[0].Sheet.ID, false)
	b.add(blank())
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].Gate.Seen.State, "as empty as it was")
}

// So it is with what was typed from the paper, where the photo that comes shows the row without its bib. Source: our own logic.
func TestLooks_TypedFromPaperAndRubbedOutBeforeThePhoto_AreNoLooks(t *testing.T) {
	b := newTable(t)
	b.paper(1)
	key := store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, "row-01.bib")
	b.said("Ada", key, "14", 0, true)
	b.said("Bo", key, "14", 0, false)
	s, _ := b.load()
	require.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
	b.add(b.front(2, ""))
	s, _ = b.load()
	require.True(t, s.Rows[0].Ink.HasInk)
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
	b.said("Cy", key, "14", s.Rows[0].Sheet.ID, true)
	b.said("Di", key, "14", s.Rows[0].Sheet.ID, false)
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
}

// A row was typed from a photo by two people, with whom the reader doesn't agree: the judge is asked. Another photo counts, in which no
// reader sees that row, and a person says that it stands on the card. That says nothing of its bib, which may have been written over
// since: it is typed anew, or the judge names it. Source: our own logic, as for rows that were added by hand.
func TestEntered_FromAPhotoThatNoLongerCounts_IsTypedAnewThoughItStands(t *testing.T) {
	for name, blank := range map[string]bool{"a row less": false, "a row without ink": true} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.add(b.front(2, "14", "40"))
			s, _ := b.load()
			row := s.Row(rowRef(2, 2))
			b.said("Ada", row.BibSeen.Key, "46", row.Sheet.ID, false)
			b.said("Bo", row.BibSeen.Key, "46", row.Sheet.ID, false)
			s, _ = b.load()
			require.Equal(t, look.NeedJudge, s.Row(rowRef(2, 2)).BibSeen.Seen.Next)

			again := b.front(2, "14")
			if blank {
				again = b.front(2, "14", "")
				none := &again.Read.Reading.Rows[1]
				none.HasInk = false
				for _, r := range []*sheetmodel.Reading{&none.Code, &none.Gate, &none.Panel} {
					r.Text, r.State = "", sheetmodel.Empty
				}
			}
			b.add(again)
			b.laterCounts()
			s, _ = b.load()
			for _, q := range s.Questions {
				if !q.Answered {
					b.answer(q.Key, stack.AnswerStands)
				}
			}
			s, result := b.load()
			assert.NotEqual(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 2)).BibState)
			for _, c := range result.Calls {
				assert.True(t, c.Waiting, "%+v", c)
			}
			var sheet int64
			if now := s.Row(rowRef(2, 2)).Sheet; now != nil {
				sheet = now.ID
			}
			b.said("Cy", row.BibSeen.Key, "46", sheet, true)
			b.said("Di", row.BibSeen.Key, "46", sheet, false)
			s, _ = b.load()
			assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 2)).BibState, "the judge's word and somebody's, of the card as it is")
		})
	}
}

// Two people typed a row from the paper. A photo comes in on which no reader sees that row, and a person says that it stands on the card:
// its judge may have written over it since. It is typed anew. Source: our own logic, as above.
func TestEntered_FromPaperBeforeAPhotoThatDoesNotShowIt_IsTypedAnewThoughItStands(t *testing.T) {
	b := newTable(t)
	b.paper(2)
	b.row2()
	b.add(b.front(2, "14"))
	asked, _ := b.load()
	for _, q := range asked.Questions {
		for _, a := range q.Answers {
			if a.Value == stack.AnswerStands {
				b.answer(q.Key, stack.AnswerStands)
			}
		}
	}
	s, result := b.load()
	row := s.Row(rowRef(2, 2))
	assert.Equal(t, sheetmodel.BibWaiting, row.BibState)
	for _, c := range result.Calls {
		assert.True(t, c.Waiting || !slices.Contains(c.Rows, rowRef(2, 2)))
	}
	for _, by := range []string{"Cy", "Di"} {
		b.said(by, row.BibSeen.Key, "46", 0, false)
	}
	s, _ = b.load()
	assert.NotEqual(t, "14", s.Row(rowRef(2, 2)).Bib, "what they see is not what was typed before")
}

// So it is with what was typed in another copy of the race before that photo came in here, and is joined later: it gets a later number.
// Source: our own logic.
func TestEntered_FromPaperInAnotherCopyBeforeAPhotoThatDoesNotShowIt_IsTypedAnew(t *testing.T) {
	there := newTable(t)
	there.paper(2)
	there.row2()
	b := newTable(t)
	b.paper(2)
	for range 20 { // this laptop's clock goes on
		b.add(b.front(3))
	}
	b.add(b.front(2, "14"))
	_, err := b.store.Join(t.Context(), there.store)
	require.NoError(t, err)
	s, _ := b.load()
	for _, q := range s.Questions {
		if len(q.Answers) > 0 && q.Answers[0].Value == stack.AnswerStands {
			b.answer(q.Key, stack.AnswerStands)
		}
	}
	s, result := b.load()
	row := s.Row(rowRef(2, 2))
	require.NotNil(t, row)
	assert.Equal(t, sheetmodel.BibWaiting, row.BibState)
	assert.False(t, row.CodeSure, "what happened may be another thing by now")
	for _, c := range result.Calls {
		assert.True(t, c.Waiting || !slices.Contains(c.Rows, rowRef(2, 2)))
	}
}

// What somebody typed from the paper and took back isn't put back over a photo that came in since: it would be a word about the card as
// it is now. Put back before, it is as old as it was, for whoever compares it with photos of another copy. Source: our own logic, as above.
func TestRedo_TypedFromPaper_IsAsOldAsItWas(t *testing.T) {
	for _, photo := range []string{"none since", "while it was taken back", "while it stood"} {
		b := newTable(t)
		b.add(b.front(1, "9")) // of another card, so that the copy holds something
		b.paper(1)
		key := store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, "row-01.bib")
		b.said("Ada", key, "14", 0, false)
		last := func() store.Decision {
			s, _ := b.load()
			return s.Decisions[len(s.Decisions)-1]
		}
		first := last()
		require.NotEmpty(t, first.Seen)
		if photo == "while it stood" {
			b.add(b.front(2, ""))
		}
		require.NoError(t, b.store.Undo(t.Context(), first.ID, "Ada", "Ada"))
		switch photo {
		case "while it was taken back":
			b.add(b.front(2, ""))
		case "none since":
			b.add(b.front(3, "21")) // of another card again: it hadn't come in when the word was typed
		}
		_, err := b.store.Redo(t.Context(), []int64{first.ID}, "Ada", "Ada")
		if photo != "none since" {
			require.ErrorIs(t, err, store.ErrSince, photo)
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, first.Seen, last().Seen)
	}
}

// What was typed from the paper counts beside a photo that may show it. One on which nobody reads the bib may be of another paper that goes by
// the same number, and the gate is read from that: it is typed anew, at the ink. Source: our own logic.
func TestLooks_TypedFromPaperBeforeAPhotoThatNobodyReads_AreNoLooks(t *testing.T) {
	for name, c := range map[string]struct {
		text   string
		rivals []sheetmodel.Rival
		stands bool
	}{
		"read alike":   {"14", nil, true},
		"may be it":    {"", []sheetmodel.Rival{{Text: "14"}}, true},
		"reads as two": {"19", []sheetmodel.Rival{{Text: "14"}}, true},
		"nobody reads": {"", nil, false},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.paper(1)
			key := store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, "row-01.bib")
			b.said("Ada", key, "14", 0, true)
			b.said("Bo", key, "14", 0, false)
			s, _ := b.load()
			require.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
			photo := b.front(2, "14")
			bib := &photo.Read.Reading.Rows[0].Bib
			bib.Text, bib.Rivals, bib.State = c.text, c.rivals, sheetmodel.Doubtful
			bib.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtLowCertainty, Detail: "for this test"}}
			b.add(photo)
			s, _ = b.load()
			assert.Equal(t, c.stands, s.Rows[0].BibState == sheetmodel.BibTwoLooks, "%+v", s.Rows[0].BibSeen.Seen)
			if !c.stands {
				b.said("Cy", key, "14", s.Rows[0].Sheet.ID, true)
				b.said("Di", key, "14", s.Rows[0].Sheet.ID, false)
				s, _ = b.load()
				assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState, "typed at the ink by two people who agree")
			}
		})
	}
}
