package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Collecting was cut off between the photos and the work on both sides together: what the strip says
// against the row isn't known, so no proposal stands on it.
func TestTies_NotWorkedOutYet_TheRowWaits(t *testing.T) {
	b := newTable(t)
	back := b.back(2)
	back.Read.Reading.Strips = []sheetmodel.StripEntry{{
		Panel: "B", Entry: 1, Bib: sheetmodel.Reading{Field: "strip-b.1", Side: sheetmodel.Back, Text: "40", State: sheetmodel.Clear},
	}}
	b.add(b.front(2, "14"), back)
	s, result := b.load()
	row := s.Row(rowRef(2, 1))
	assert.Equal(t, sheetmodel.BibWaiting, row.BibState)
	assert.Contains(t, row.Reason, "run gatefold collect again")
	assert.Len(t, s.Waiting(result), 1, "it can be typed meanwhile")

	b.types("Ada", row.BibSeen.Key, "14")
	s, result = b.load()
	assert.Empty(t, result.Calls)
	assert.Equal(t, look.NeedNothing, s.Waiting(result)[0].Need, "nobody types it again")

	c := s.Card(rowRef(2, 1).CardKey)
	add := func(ties ...look.Tied) {
		require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{Front: c.Front.ID, Back: c.Back.ID, Reader: "reader", Ties: ties}))
	}
	add()
	_, result = b.load()
	require.Len(t, result.Calls, 1)
	assert.False(t, result.Calls[0].Waiting)
	add(look.Tied{Row: 1, Panel: "B", Entry: 1, Second: "40", Differs: true})
	s, _ = b.load()
	assert.Equal(t, look.NeedJudge, s.Row(rowRef(2, 1)).BibSeen.Seen.Next)
}

// The photo of a back that was taken first comes in last, as from a phone that was out of reach: what its judge has written over, or
// struck out, under the drawing since doesn't heal.
func TestTies_OlderPhotoOfTheBackComesLate_IsAsked(t *testing.T) {
	for name, doubt := range map[string]sheetmodel.DoubtKind{"written over": sheetmodel.DoubtOverwritten, "struck out": sheetmodel.DoubtStruckOut} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			backOf := func(bib string) store.NewSheet {
				back := b.back(2)
				back.Read.Reading.Strips = []sheetmodel.StripEntry{{
					Panel: "B", Entry: 1, Bib: sheetmodel.Reading{Field: "panel-b.bib-1", Side: sheetmodel.Back, Text: bib, State: sheetmodel.Clear},
				}}
				return back
			}
			newer := backOf("19")
			newer.Read.Reading.Strips[0].Bib.Doubt(doubt, "for this test")
			b.add(b.front(2, "14"), newer)
			b.add(backOf("14"))
			s, _ := b.load()
			c := s.Card(rowRef(2, 1).CardKey)
			require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{
				Front: c.Front.ID, Back: c.Back.ID, Reader: "reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Text: "14", Second: "14", Clear: true}},
			}))
			s, _ = b.load()
			assert.Equal(t, sheetmodel.BibWaiting, s.Row(rowRef(2, 1)).BibState)
			require.Len(t, s.Questions, 1)
			assert.Contains(t, s.Questions[0].Ask, "the bibs under the drawings")

			b.answer(s.Questions[0].Key, "later")
			s, _ = b.load()
			assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 1)).BibState)
		})
	}
}

// Some cards have the drawings on their front, and their bibs with them: two photos of it that show other bibs there are asked about, and
// the rows that name a drawing wait, whatever the photo that came last lends them. Source: our own logic, as for a back.
func TestTies_TwoPhotosOfAFrontWithDrawings_TheirRowsWait(t *testing.T) {
	b := newTable(t)
	frontOf := func(strip string) store.NewSheet {
		n := b.front(2, "14", "19")
		n.Read.Plain = &store.PlainCard{OneSided: true}
		n.Read.Reading.Rows[1].Panel = sheetmodel.Reading{Field: "row-02.panel", Side: sheetmodel.Front, State: sheetmodel.Empty}
		n.Read.Reading.Strips = []sheetmodel.StripEntry{{
			Panel: "B", Entry: 1, Bib: sheetmodel.Reading{Field: "panel-b.bib-1", Side: sheetmodel.Front, Text: strip, State: sheetmodel.Clear},
		}}
		return n
	}
	b.add(frontOf("41")) // as its judge wrote it over
	b.add(frontOf("14")) // as it was before, from a phone that was out of reach
	s, _ := b.load()
	require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{
		Front: s.Card(rowRef(2, 1).CardKey).Front.ID, Reader: "reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Text: "14", Second: "14", Clear: true}},
	}))
	s, result := b.load()
	require.Len(t, s.Questions, 1)
	assert.Contains(t, s.Questions[0].Ask, "the bibs under the drawings")
	assert.Equal(t, sheetmodel.BibWaiting, s.Row(rowRef(2, 1)).BibState)
	assert.Equal(t, sheetmodel.BibOneLook, s.Row(rowRef(2, 2)).BibState, "it names no drawing")
	for _, c := range result.Calls {
		assert.True(t, c.Waiting, "%+v", c)
	}
	b.answer(s.Questions[0].Key, "later")
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 1)).BibState)
}

// The judge names a bib, and then writes another one under the drawing: nobody knows which is meant, so the word settles nothing until
// the judge is asked again. What was known under the drawing when they spoke, and what says the same, changes nothing. Source: our own
// logic, as for a second box.
func TestTies_OtherBibUnderTheDrawingSinceTheJudgeSpoke_TheJudgeIsAskedAgain(t *testing.T) {
	for name, c := range map[string]struct {
		before, since string
		waits         bool
	}{
		"written over":          {before: "14", since: "19", waits: true},
		"photographed later":    {since: "19", waits: true},
		"known when asked":      {before: "19"},
		"photographed again":    {before: "19", since: "19"},
		"what the judge named":  {before: "19", since: "14"},
		"only the front was in": {},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.add(b.blurred(2, "14"))
			backIs := func(bib string) {
				if bib == "" {
					return
				}
				back := b.back(2)
				back.Read.Reading.Strips = []sheetmodel.StripEntry{{
					Panel: "B", Entry: 1, Bib: sheetmodel.Reading{Field: "panel-b.bib-1", Side: sheetmodel.Back, Text: bib, State: sheetmodel.Clear},
				}}
				b.add(back)
				s, _ := b.load()
				for _, q := range s.Questions {
					b.answer(q.Key, stack.AnswerLater)
				}
				s, _ = b.load()
				card := s.Card(rowRef(2, 1).CardKey)
				tie := look.Tied{Row: 1, Panel: "B", Entry: 1, Second: bib, Differs: bib != "14"}
				require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{Front: card.Front.ID, Back: card.Back.ID, Reader: "reader", Ties: []look.Tied{tie}}))
			}
			asked := func() {
				s, _ := b.load()
				_, err := b.store.Settle(t.Context(), store.Entry{
					Reading: s.Rows[0].BibSeen.Key, Text: "14", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Ada", Session: "Ada", Sheet: s.Rows[0].Sheet.ID,
				})
				require.NoError(t, err)
			}
			backIs(c.before)
			asked()
			backIs(c.since)
			s, _ := b.load()
			if !c.waits {
				assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState, s.Rows[0].Reason)
				return
			}
			assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
			assert.Equal(t, look.NeedJudge, s.Rows[0].BibSeen.Seen.Next)
			asked()
			s, _ = b.load()
			assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState, "the same word, in the same hand, of the card as it is now")
		})
	}
}

// So it is with a second box that could not be read while the judge spoke, and shows another bib in a better photo. Source: our own logic.
func TestTies_OtherBibInTheSecondBoxSinceTheJudgeSpoke_TheJudgeIsAskedAgain(t *testing.T) {
	b := newTable(t)
	front := func(second string, state sheetmodel.State) {
		n := b.blurred(2, "14")
		again := &n.Read.Reading.Rows[0].BibAgain
		again.Text, again.State = second, state
		b.add(n)
		b.laterCounts()
		s, _ := b.load()
		tie := look.Tied{Row: 1, Second: second, Differs: second != ""}
		require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{Front: s.Card(rowRef(2, 1).CardKey).Front.ID, Reader: "reader", Ties: []look.Tied{tie}}))
	}
	front("", sheetmodel.Doubtful)
	s, _ := b.load()
	b.said("Ada", s.Rows[0].BibSeen.Key, "14", s.Rows[0].Sheet.ID, true)
	s, _ = b.load()
	require.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
	front("19", sheetmodel.Clear)
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
	b.said("Ada", s.Rows[0].BibSeen.Key, "14", s.Rows[0].Sheet.ID, true)
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState, "asked with that known")
}

// What two writings were together in one photo of a front is not lent to another photo of it: which of the boxes were mended meanwhile, the
// reader has to see. Source: our own logic.
func TestTies_OfAnotherPhotoOfTheFront_LendNothing(t *testing.T) {
	b := newTable(t)
	back := b.back(2)
	back.Read.Reading.Strips = []sheetmodel.StripEntry{{
		Panel: "B", Entry: 1, Bib: sheetmodel.Reading{Field: "panel-b.bib-1", Side: sheetmodel.Back, Text: "14", State: sheetmodel.Clear},
	}}
	b.add(b.front(2, "14"), back)
	s, _ := b.load()
	card := s.Card(rowRef(2, 1).CardKey)
	tie := func(front int64) {
		require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{
			Front: front, Back: card.Back.ID, Reader: "reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Text: "14", Second: "14", Clear: true}},
		}))
	}
	tie(card.Front.ID)
	s, _ = b.load()
	require.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
	b.add(b.blurred(2, "14"))
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
	assert.Contains(t, s.Rows[0].Reason, "not been read together yet")
	tie(s.Rows[0].Sheet.ID)
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
}

// A bib under a drawing that its judge has rubbed out stands, hardly legible, on an older photo that comes in late: which of the two counts is
// asked, and its row waits. Source: our own logic, as for boxes of a row.
func TestTies_RubbedOutUnderTheDrawing_AnOlderPhotoIsAskedAbout(t *testing.T) {
	for _, late := range []bool{true, false} {
		b := newTable(t)
		backOf := func(bib string, state sheetmodel.State) store.NewSheet {
			back := b.back(2)
			strip := sheetmodel.Reading{Field: "panel-b.bib-1", Side: sheetmodel.Back, Text: bib, State: state}
			if state == sheetmodel.Doubtful {
				strip.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtLowCertainty, Detail: "for this test"}}
			}
			back.Read.Reading.Strips = []sheetmodel.StripEntry{{Panel: "B", Entry: 1, Bib: strip}}
			return back
		}
		b.add(b.front(2, "14"))
		if late {
			b.add(backOf("", sheetmodel.Empty))
		}
		b.add(backOf("14", sheetmodel.Doubtful))
		if !late {
			b.add(backOf("", sheetmodel.Empty))
		}
		s, _ := b.load()
		card := s.Card(rowRef(2, 1).CardKey)
		require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{
			Front: card.Front.ID, Back: card.Back.ID, Reader: "reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Text: "14", Second: "14", Clear: late}},
		}))
		s, _ = b.load()
		require.Len(t, s.Questions, 1, "late: %v", late)
		assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState, "late: %v", late)
	}
}

// Somebody asks the judge and says that every racer under a drawing is in a row. What is written there since is asked about again, though it
// be as many bibs as before. Source: our own logic.
func TestStrip_OtherBibsUnderTheDrawingSince_IsAskedAgain(t *testing.T) {
	b := newTable(t)
	backOf := func(bibs ...string) store.NewSheet {
		back := b.back(2)
		for i, bib := range bibs {
			strip := sheetmodel.Reading{Field: "panel-b.bib-" + string(rune('1'+i)), Side: sheetmodel.Back, Text: bib, State: sheetmodel.Clear}
			back.Read.Reading.Strips = append(back.Read.Reading.Strips, sheetmodel.StripEntry{Panel: "B", Entry: i + 1, Bib: strip})
		}
		return back
	}
	asked := func() (keys []string) {
		_, result := b.load()
		for _, f := range result.Findings {
			if f.Rule == "strip" && f.Severity == sheetmodel.Asks {
				keys = append(keys, f.Question.Key)
			}
		}
		return keys
	}
	b.add(b.front(2, "14"), backOf("14", "19"))
	require.Len(t, asked(), 1)
	b.answer(asked()[0], "all")
	require.Empty(t, asked())
	b.add(backOf("14", "19"))
	assert.Empty(t, asked(), "the same once more")
	b.add(backOf("14", "41"))
	b.laterCounts()
	require.Len(t, asked(), 1)
	b.answer(asked()[0], "all")
	assert.Empty(t, asked())
}
