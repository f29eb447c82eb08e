package stack_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// secondLaptop is a copy of the race as it stands.
func secondLaptop(t *testing.T, b *stacktest.Table) *stacktest.Table {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(dir, os.DirFS(b.Store.Dir())))
	s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	other := *b
	other.Store = s
	return &other
}

func join(t *testing.T, a, b *stacktest.Table) store.Joined {
	t.Helper()
	c, err := store.OpenCopy(t.Context(), b.Store.Dir(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, c.Close()) })
	done, err := a.Store.Join(t.Context(), c)
	require.NoError(t, err)
	return done
}

// A bib that stands on one laptop and was typed otherwise on the other proposes nothing until a third person,
// the judge or a reason settles it. What each says is our own logic; the law is that no copy wins unseen.
func TestJoined_BibSettledDifferently_Waits(t *testing.T) {
	a := stacktest.New(t)
	a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	b := secondLaptop(t, a)
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	a.Type("Ada", key, "14")
	st, _ := a.Load()
	require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
	b.Type("Bo", key, "74")

	require.Len(t, join(t, a, b).Disputes, 1)
	st, result := a.Load()
	row := st.Rows[0]
	assert.Equal(t, sheetmodel.BibWaiting, row.BibState)
	assert.Equal(t, look.NeedSecondPerson, row.BibSeen.Seen.Next)
	assert.Contains(t, row.BibSeen.Seen.Reason, stack.SettledTwice)
	assert.Equal(t, []string{"Ada", "Bo"}, row.BibSeen.Seen.Typed)
	assert.Contains(t, row.BibSeen.Seen.Rivals, "74")
	assert.False(t, row.BibSeen.Sure())
	var waits []string
	for _, w := range st.Waiting(result) {
		waits = append(waits, w.Entry.Key)
	}
	assert.Contains(t, waits, key)

	// the same from the other side, where the other one's word came last
	join(t, b, a)
	st, _ = b.Load()
	assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)

	a.Type("Cy", key, "14")
	st, _ = a.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
	assert.Equal(t, "14", st.Rows[0].BibSeen.Seen.Text)
}

// A row that one laptop set aside and the other typed is neither out of the list nor in it.
func TestJoined_SetAsideHereTypedThere_Waits(t *testing.T) {
	for _, asideJoinsLast := range []bool{true, false} {
		a := stacktest.New(t)
		a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
		b := secondLaptop(t, a)
		key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
		a.SetAside("Ada", key, "judge not sure")
		b.Type("Bo", key, "14")
		if asideJoinsLast {
			a, b = b, a
		}
		join(t, a, b)
		st, _ := a.Load()
		assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)
		a.SetAside("Cy", key, "judge has left")
		st, _ = a.Load()
		assert.Equal(t, sheetmodel.BibSetAside, st.Rows[0].BibState)
	}
}

func TestJoined_RecordsSaidDifferently_CountInNeitherWay(t *testing.T) {
	a := stacktest.New(t)
	a.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	b := secondLaptop(t, a)
	missing := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 3}
	bound := sheetmodel.CardKey{Card: 201}
	typed := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}
	for i, l := range []*stacktest.Table{a, b} {
		ctx, who := t.Context(), []string{"Ada", "Bo"}[i]
		require.NoError(t, l.Store.CloseGap(ctx, store.GapReason{Card: missing, Reason: "reason of " + who, By: who}))
		require.NoError(t, l.Store.Bind(ctx, store.Binding{Card: bound, Run: 1, Course: "Blue", Gates: []string{[]string{"1", "2"}[i]}, Source: "header", By: who}))
		require.NoError(t, l.Store.TypeFromPaper(ctx, store.PaperCard{Card: typed, Rows: 3 - i, By: who}))
		require.NoError(t, l.Store.Answer(ctx, store.Answer{Question: "q", Value: who, By: who}))
	}
	require.Len(t, join(t, a, b).Disputes, 4)
	st, _ := a.Load()
	assert.Empty(t, st.Answers["q"], "asked again")
	assert.Empty(t, st.Card(missing).GapReason, "missing again")
	assert.Nil(t, st.Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 201}), "placed nowhere")
	assert.Equal(t, 3, st.Card(typed).Paper.Rows, "no row is dropped")
	var why []string
	for _, g := range st.Facts().Open {
		why = append(why, g.Why)
	}
	assert.Contains(t, why, "Card 201 was placed differently in two copies of this race: say again where it was used.")
	assert.Contains(t, why, "Two copies of this race count the rows of card 4 differently: count them again on its page.")
}

// On one laptop somebody says that the earlier of two photos counts; meanwhile a third comes in on the other. It was not before them, so
// joined it is asked about, whichever number the answer has here. Source: our own logic.
func TestJoined_TheEarlierPhotoCounts_IsNotSaidOfAPhotoThatOnlyTheOtherHad(t *testing.T) {
	a := stacktest.New(t)
	front := func(bib string) store.NewSheet {
		return a.Sheets("Blue", 1, stacktest.Row{Bib: bib, Code: "F", Gate: "6"})[0]
	}
	keep(t, a, "first.jpg", "reader", front("14"))
	keep(t, a, "second.jpg", "reader", front("19"))
	b := secondLaptop(t, a)
	st, _ := b.Load()
	require.Len(t, st.Questions, 1)
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: st.Questions[0].Key, Value: stack.AnswerEarlier, By: "Bo"}))
	keep(t, a, "third.jpg", "reader", front("19"))
	join(t, a, b)
	st, _ = a.Load()
	require.Len(t, st.Questions, 2)
	assert.True(t, st.Questions[0].Answered)
	assert.False(t, st.Questions[1].Answered)
	assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)
}
