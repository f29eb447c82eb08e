package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// blurred is a front whose bibs nobody can read.
func (b *table) blurred(card int, bibs ...string) store.NewSheet {
	n := b.front(card, bibs...)
	for i := range n.Read.Reading.Rows {
		n.Read.Reading.Rows[i].Bib.State = sheetmodel.Doubtful
	}
	return n
}

func (b *table) answer(key, value string) {
	b.t.Helper()
	require.NoError(b.t, b.store.Answer(b.t.Context(), store.Answer{Question: key, Value: value, By: "Ada"}))
}

func TestPhotos_BlurredOneBetween_HidesNoDifference(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	b.add(b.blurred(2, "14"))
	b.add(b.front(2, "19"))
	s, _ := b.load()
	require.Len(t, s.Questions, 1)
	assert.Equal(t, []int{1}, s.Questions[0].Rows)
	assert.Contains(t, s.Questions[0].Ask, "row 1")
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)

	b.answer(s.Questions[0].Key, stack.AnswerEarlier)
	s, _ = b.load()
	assert.Equal(t, "14", s.Rows[0].Bib, "the first photo counts, not the blurred one")
	assert.Equal(t, sheetmodel.BibOneLook, s.Rows[0].BibState)

	b.add(b.blurred(2, "14"))
	s, _ = b.load()
	assert.Len(t, s.Questions, 1, "it agrees with every photo that counts")
	b.add(b.blurred(2, "19"))
	s, _ = b.load()
	assert.Len(t, s.Questions, 2, "it came after somebody said that the 19 doesn't count")
}

// Two photos differ clearly in one row; in another one of them is read otherwise, but not clearly. While nobody has said which photo shows
// the card, that row waits too, also where the same difference was asked about two other photos. A row read alike doesn't.
// Source: our own logic.
func TestPhotos_WhileItIsOpenWhichCounts_RowsReadOtherwiseWait(t *testing.T) {
	b := newTable(t)
	doubtful := func(bibs ...string) store.NewSheet {
		n := b.front(2, bibs...)
		r := &n.Read.Reading.Rows[1].Bib
		r.State, r.Rivals = sheetmodel.Doubtful, []sheetmodel.Rival{{Text: "46"}}
		return n
	}
	states := func() (all []sheetmodel.BibState) {
		s, _ := b.load()
		for _, r := range s.Rows {
			all = append(all, r.BibState)
		}
		return all
	}
	b.add(b.front(2, "14", "46", "30"))
	b.add(b.front(2, "19", "46", "30"))
	s, _ := b.load()
	require.Len(t, s.Questions, 1)
	require.Equal(t, []sheetmodel.BibState{sheetmodel.BibWaiting, sheetmodel.BibOneLook, sheetmodel.BibOneLook}, states())
	b = newTable(t)
	b.add(doubtful("14", "40", "30"))
	b.add(b.front(2, "19", "46", "30"))
	s, _ = b.load()
	require.Len(t, s.Questions, 1)
	assert.Equal(t, []int{1}, s.Questions[0].Rows)
	assert.Equal(t, []sheetmodel.BibState{sheetmodel.BibWaiting, sheetmodel.BibWaiting, sheetmodel.BibOneLook}, states())
	b.answer(s.Questions[0].Key, stack.AnswerLater)
	assert.Equal(t, []sheetmodel.BibState{sheetmodel.BibOneLook, sheetmodel.BibOneLook, sheetmodel.BibOneLook}, states())
	// The same difference, asked about two other photos.
	b = newTable(t)
	b.add(b.front(2, "14", "46", "30"))
	b.add(b.front(2, "19", "46", "30"))
	b.add(doubtful("14", "40", "30"))
	b.add(b.front(2, "19", "46", "30"))
	assert.Equal(t, []sheetmodel.BibState{sheetmodel.BibWaiting, sheetmodel.BibWaiting, sheetmodel.BibOneLook}, states())
}

// A photo shows a bib clearly, and two people type another at a later photo that leaves it doubtful. The clear ink isn't forgotten because it
// came first: which photo shows the card is asked, and the row waits, as it does where the clear photo came last. Source: our own logic.
func TestPhotos_TwoPeopleAgainstAnotherPhotosClearInk_IsAsked(t *testing.T) {
	for _, c := range []struct {
		texts []string
		asked int
	}{{[]string{"40", "40"}, 1}, {[]string{"40"}, 0}, {[]string{"46", "46"}, 0}} {
		b := newTable(t)
		d := b.front(2, "40")
		r := &d.Read.Reading.Rows[0].Bib
		r.State, r.Rivals = sheetmodel.Doubtful, []sheetmodel.Rival{{Text: "46"}}
		b.add(b.front(2, "46"))
		b.add(d)
		for i, text := range c.texts {
			s, _ := b.load()
			b.said([]string{"Ada", "Ben"}[i], "run1/Blue/card-2/front/row-01.bib", text, s.Rows[0].Sheet.ID, false)
		}
		s, _ := b.load()
		require.Len(t, s.Questions, c.asked, "%v", c.texts)
		if c.asked == 0 {
			continue
		}
		assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
		b.answer(s.Questions[0].Key, stack.AnswerLater)
		s, _ = b.load()
		assert.Equal(t, "40", s.Rows[0].Bib)
		assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
	}
}

func TestPhotos_TheSameDifference_IsAskedOnce(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	b.add(b.front(2, "14"))
	b.add(b.front(2, "19"))
	b.add(b.front(2, "19"))
	s, _ := b.load()
	require.Len(t, s.Questions, 1)
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
	b.answer(s.Questions[0].Key, stack.AnswerLater)
	s, _ = b.load()
	require.Len(t, s.Questions, 1)
	assert.Equal(t, "19", s.Rows[0].Bib)
	assert.Equal(t, sheetmodel.BibOneLook, s.Rows[0].BibState)
}

// A person says that the earlier of two photos counts. A photo that comes in after that and shows what the later one does was not before
// them: its judge may have changed the card back. Source: our own logic.
func TestPhotos_TheEarlierCounts_IsNotSaidOfOneThatComesSince(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	b.add(b.front(2, "19"))
	b.add(b.front(2, "19"))
	s, _ := b.load()
	require.Len(t, s.Questions, 1)
	b.answer(s.Questions[0].Key, stack.AnswerEarlier)
	s, _ = b.load()
	require.Len(t, s.Questions, 1, "all three were in")
	require.Equal(t, "14", s.Rows[0].Bib)
	require.Equal(t, sheetmodel.BibOneLook, s.Rows[0].BibState)

	b.add(b.front(2, "19"))
	s, _ = b.load()
	require.Len(t, s.Questions, 2)
	assert.False(t, s.Questions[1].Answered)
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
	b.answer(s.Questions[1].Key, stack.AnswerLater)
	s, _ = b.load()
	assert.Equal(t, "19", s.Rows[0].Bib)
}

func TestPhotos_ThreeDifferentOnes_AreAllAsked(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	b.add(b.front(2, "41"))
	b.add(b.front(2, "19"))
	s, _ := b.load()
	assert.Len(t, s.Questions, 3)
	for len(s.Questions) > 0 {
		open := 0
		for _, q := range s.Questions {
			if !q.Answered {
				open++
				b.answer(q.Key, stack.AnswerEarlier)
				break
			}
		}
		if open == 0 {
			break
		}
		assert.NotEqual(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
		s, _ = b.load()
	}
	assert.Equal(t, "14", s.Rows[0].Bib)
	assert.Equal(t, sheetmodel.BibOneLook, s.Rows[0].BibState)
}

func (b *table) headed(rows, from, to, course string, bibs ...string) store.NewSheet {
	n := b.front(2, bibs...)
	for field, text := range map[string]string{"foot.row-count": rows, "header.gate-from": from, "header.gate-to": to, "header.course": course} {
		r := sheetmodel.Reading{Field: field, Side: sheetmodel.Front, Text: text, State: sheetmodel.Clear}
		n.Read.Reading.Header = append(n.Read.Reading.Header, r)
	}
	return n
}

func TestPhotos_OtherGatesInTheHead_AreAskedAndHoldAllRows(t *testing.T) {
	for name, other := range map[string][3]string{
		"gates": {"1", "1", "12"}, "ringed course": {"1", "6", "12"},
	} {
		b := newTable(t)
		b.add(b.headed("1", "6", "12", "Blue", "14"))
		course := "Blue"
		if name == "ringed course" {
			course = "Red"
		}
		b.add(b.headed(other[0], other[1], other[2], course, "14"))
		s, result := b.load()
		require.Len(t, s.Questions, 1, name)
		assert.Contains(t, s.Questions[0].Ask, name)
		assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState, name)
		assert.True(t, open(result, s.Questions[0].Ask), name)

		b.answer(s.Questions[0].Key, stack.AnswerEarlier)
		s, result = b.load()
		assert.Equal(t, sheetmodel.BibOneLook, s.Rows[0].BibState, name)
		assert.False(t, open(result, s.Questions[0].Ask), name)
		assert.Equal(t, "6", s.Card(rowRef(2, 1).CardKey).HeaderFrom, name)
	}
}

// A card without a row: nothing waits, and yet the run isn't complete.
func TestPhotos_OtherRowsThatStand_KeepTheDraftOpen(t *testing.T) {
	b := newTable(t)
	b.add(b.headed("2", "6", "12", "Blue"))
	b.add(b.headed("0", "6", "12", "Blue"))
	s, result := b.load()
	require.Len(t, s.Questions, 1)
	assert.Contains(t, s.Questions[0].Ask, "the rows that stand")
	assert.True(t, open(result, s.Questions[0].Ask))
	b.answer(s.Questions[0].Key, stack.AnswerLater)
	_, result = b.load()
	assert.False(t, open(result, s.Questions[0].Ask))
}

// open reports whether a run of Blue is incomplete for this reason.
func open(result rules.Result, why string) bool {
	for _, g := range result.Incomplete {
		if g.Run == 1 && g.Course == "Blue" && g.Why == why {
			return true
		}
	}
	return false
}

// A mark that may be one is on the first photo and not on the second, brighter one: it doesn't go without a
// word. Grain of the paper does.
func TestPhotos_DoubtfulMarkThatTheLaterPhotoLacks_IsAskedAbout(t *testing.T) {
	for doubt, asked := range map[sheetmodel.DoubtKind]int{sheetmodel.DoubtTwoMarks: 1, sheetmodel.DoubtFaintInk: 0} {
		b := newTable(t)
		first := b.front(2, "14")
		mark := &first.Read.Reading.Rows[0].Rerun
		mark.Text, mark.State = "X", sheetmodel.Doubtful
		mark.Rivals = []sheetmodel.Rival{{Text: "", Prob: 0.2}}
		mark.Doubt(doubt, "for this test")
		b.add(first)
		b.add(b.front(2, "14"))
		s, _ := b.load()
		require.Len(t, s.Questions, asked, "%s", doubt)
		if asked > 0 {
			assert.Equal(t, []int{1}, s.Questions[0].Rows)
		}
	}
}
