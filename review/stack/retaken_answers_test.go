package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// One copy of a race sets a row aside, the other has photographed the card again and lets it count: kept with two photos, the answers
// are two all the same, and which copy was joined last must not decide. Nor does a third copy that knows of neither. Source: our own logic.
func TestJoined_AnswersAtTwoPhotosOfACard_CountInNeitherWay(t *testing.T) {
	const question = "gate-in-section/1/Blue/1/1/25"
	a := stacktest.New(t)
	a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "25"})
	a.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	say := func(b *stacktest.Table, value, by string) {
		st, _ := b.Load()
		require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(store.Answer{Question: question, Value: value, By: by})...))
	}
	b, c := secondLaptop(t, a), secondLaptop(t, a)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "25"}, stacktest.Row{Bib: "8", Code: "F", Gate: "3"})
	c.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "25"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
	say(a, "set-aside", "Ada")
	say(b, "counts", "Cy")
	say(c, "counts", "Dora")
	join(t, a, b)
	join(t, b, a)
	open := func() {
		t.Helper()
		for _, l := range []*stacktest.Table{a, b} {
			st, result := l.Load()
			assert.Empty(t, st.Answers[question], "asked again")
			require.NotEmpty(t, result.Calls)
			assert.True(t, result.Calls[0].Waiting)
		}
	}
	open()
	join(t, a, c)
	join(t, b, c)
	open()
	say(a, "set-aside", "Ada")
	st, result := a.Load()
	assert.Empty(t, st.Disputes(), "said again, it is settled")
	assert.Equal(t, "set-aside", st.Answers[question])
	assert.Empty(t, result.Calls)
}

// So it is with a strike that one copy makes and the other takes back.
func TestJoined_MarksAtTwoPhotosOfACard_TheRowWaits(t *testing.T) {
	mark := stack.StruckKey(rowRef(1, 1).CardKey, 1)
	a := stacktest.New(t)
	a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	a.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	say := func(b *stacktest.Table, value, by string) {
		st, _ := b.Load()
		require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(store.Answer{Question: mark, Value: value, By: by})...))
	}
	b := secondLaptop(t, a)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, stacktest.Row{Bib: "8", Code: "F", Gate: "3"})
	say(a, stack.Marked, "Ada")
	say(b, stack.Marked, "Cy")
	say(b, "", "Cy")
	join(t, a, b)
	join(t, b, a)
	for _, l := range []*stacktest.Table{a, b} {
		st, _ := l.Load()
		assert.NotEmpty(t, st.Facts().Open)
		assert.Equal(t, sheetmodel.BibWaiting, st.Row(rowRef(1, 1)).BibState)
	}
}
