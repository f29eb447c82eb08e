package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// What two doubtful photos of a box show is one ink where each may be what the other is; else one of them may be older, whichever came
// first: which one shows the card as it was handed in is asked, and the row waits. Source: our own logic, after design, section 5 (what is
// from outside the ink never makes it clearer, and pencil heals nowhere).
func TestPhotos_DoubtfulBoth_AreAskedAboutWhereTheyCanNotBeOneInk(t *testing.T) {
	over, low := sheetmodel.DoubtOverwritten, sheetmodel.DoubtLowCertainty
	type box struct {
		text   string
		doubt  sheetmodel.DoubtKind
		rivals []string
	}
	for name, c := range map[string]struct {
		first, later box
		asked        bool
	}{
		"the same":                      {box{"14", low, nil}, box{"14", low, nil}, false},
		"each may be the other":         {box{"14", low, []string{"19"}}, box{"19", low, []string{"14"}}, false},
		"neither may be the other":      {box{"14", low, nil}, box{"19", low, nil}, true},
		"neither, and both have rivals": {box{"14", low, []string{"41"}}, box{"19", low, []string{"10"}}, true},
		"gone over on the first alone":  {box{"14", over, nil}, box{"14", low, nil}, true},
		"gone over on both":             {box{"14", over, []string{"19"}}, box{"14", over, []string{"19"}}, false},
		"once more on the first":        {box{"14", over, []string{"19", "41"}}, box{"14", over, []string{"19"}}, true},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			for _, of := range []box{c.first, c.later} {
				n := b.front(2, of.text)
				n.Read.Alone = nil
				bib := &n.Read.Reading.Rows[0].Bib
				for _, text := range of.rivals {
					bib.Rivals = append(bib.Rivals, sheetmodel.Rival{Text: text, Prob: 0.2})
				}
				bib.Doubt(of.doubt, "for this test")
				b.add(n)
			}
			s, result := b.load()
			if !c.asked {
				assert.Empty(t, s.Questions)
				return
			}
			require.Len(t, s.Questions, 1)
			assert.Equal(t, []int{1}, s.Questions[0].Rows)
			assert.True(t, open(result, s.Questions[0].Ask))
		})
	}
}

// A photo in which no row was found, one that shows row 1, and one that shows other ink there. That the first of them counts and not the
// second is said of what the second shows: the third is asked about too. Source: our own logic, found by the walk over HTTP.
func TestPhotos_RowMissedInThePhotoThatCounts_OtherInkInAnotherIsAskedAbout(t *testing.T) {
	for name, other := range map[string]bool{"the same ink": false, "other ink": true} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			b.add(b.front(2))
			b.add(b.front(2, "14"))
			third := b.front(2, "14")
			if other {
				third.Read.Reading.Rows[0].Code.Text = "K"
			}
			b.add(third)
			s, _ := b.load()
			require.NotEmpty(t, s.Questions)
			require.NoError(t, b.store.Answer(t.Context(), store.Answer{Question: s.Questions[0].Key, Value: stack.AnswerEarlier, By: "Ada"}))
			s, _ = b.load()
			open := 0
			for _, q := range s.Questions {
				if !q.Answered {
					open++
				}
			}
			assert.Equal(t, other, open > 0, "%+v", s.Questions)
		})
	}
}

// A list of racers is photographed twice, and the two photos show other marks: whom they differ about can't be told, also where the later
// one is clear. Source: our own logic.
func TestPassages_OtherMarksInAnotherPhoto_CanNotBeTold(t *testing.T) {
	b := newTable(t)
	b.add(b.list(sheetmodel.Clear, sheetmodel.Empty, sheetmodel.Empty))
	b.add(b.list(sheetmodel.Clear, sheetmodel.Clear, sheetmodel.Empty))
	s, _ := b.load()
	card := s.Card(rowRef(2, 1).CardKey)
	numbers := func(bibs []sheetmodel.Bib) (all []string) {
		for _, bib := range bibs {
			all = append(all, bib.Number)
		}
		return all
	}
	assert.Equal(t, []string{"1"}, numbers(card.Passed))
	assert.Equal(t, []string{"2"}, numbers(card.Untold))
}

// Two photos in which nothing is read in a row needn't show the same: that an earlier photo counts, said of the one, is not said of the
// other. Source: our own logic.
func TestPhotos_RowReadInNeitherOfTwo_TheEarlierCountsIsAskedOfEach(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	b.add(b.front(2))
	b.add(b.front(2))
	s, _ := b.load()
	require.Len(t, s.Questions, 1)
	b.answer(s.Questions[0].Key, stack.AnswerEarlier)
	s, _ = b.load()
	require.Len(t, s.Questions, 2)
	assert.False(t, s.Questions[1].Answered)
	b.answer(s.Questions[1].Key, stack.AnswerEarlier)
	s, _ = b.load()
	assert.Equal(t, "14", s.Rows[0].Bib)
	assert.True(t, s.Questions[1].Answered)
}
