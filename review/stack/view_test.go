package stack_test

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// elsewhere is the question about a row at a gate that its judge doesn't watch.
const elsewhereKey = "gate-in-section/1/Blue/1/1/25"

func elsewhereRow() stacktest.Row { return stacktest.Row{Bib: "14", Code: "F", Gate: "25"} }

// again is what asks a question once more, nil if it counts as answered.
func askedAnew(b *stacktest.Table, key string) *sheetmodel.Finding {
	_, result := b.Load()
	for i, f := range result.Findings {
		if f.Question != nil && f.Question.Key == key {
			return &result.Findings[i]
		}
	}
	return nil
}

// answers gives an answer to a question that is asked, of what is in view.
func answers(b *stacktest.Table, key, value string) {
	b.T.Helper()
	st, result := b.Load()
	require.NotNil(b.T, askedAnew(b, key))
	view := st.ViewOf(result, key)
	require.NotEmpty(b.T, view)
	require.NoError(b.T, b.Store.Answer(b.T.Context(), st.OnPaper(store.Answer{Question: key, Value: value, By: "Ada", View: view})...))
	require.Nil(b.T, askedAnew(b, key), "it is answered")
}

// retakes photographs both sides of a card once more, or its back alone.
func retakes(b *stacktest.Table, name string, backOnly bool, rows ...stacktest.Row) {
	b.T.Helper()
	sheets := b.Sheets("Blue", 1, rows...)
	if backOnly {
		sheets = sheets[1:]
	}
	original := []byte("\x89PNG\r\n\x1a\n" + name)
	p, _, err := b.Store.AddPhoto(b.T.Context(), name, bytes.NewReader(original), int64(len(original)), time.Time{})
	require.NoError(b.T, err)
	require.NoError(b.T, b.Store.AddSheets(b.T.Context(), p.ID, "test reader", sheets))
}

// A person says of a row at a neighbour's gate that its judge saw it there. What bears on that and has changed since asks it anew, and says
// what; what doesn't, doesn't. Source: our own logic.
func TestView_AnswerOfARow(t *testing.T) {
	for name, then := range map[string]struct {
		do  func(b *stacktest.Table)
		why string // empty: it counts
	}{
		"nothing": {do: func(*stacktest.Table) {}},
		"photographed again": {
			do:  func(b *stacktest.Table) { retakes(b, "again", false, elsewhereRow()) },
			why: "another photo of card 1 (B1) counts",
		},
		"its back again":           {do: func(b *stacktest.Table) { retakes(b, "back", true, elsewhereRow()) }},
		"a second look":            {do: func(b *stacktest.Table) { b.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14") }},
		"other rows of its card":   {do: func(b *stacktest.Table) { b.Type("Bo", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "9") }},
		"another card comes in":    {do: func(b *stacktest.Table) { b.Card("Blue", 2, stacktest.Row{Bib: "9", Code: "F", Gate: "8"}) }},
		"its gate typed as it was": {do: func(b *stacktest.Table) { b.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartGate), "25") }},
		"its card's gates": {
			do: func(b *stacktest.Table) {
				require.NoError(t, b.Store.Bind(t.Context(), store.Binding{
					Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Run: 1, Course: "Blue", Gates: []string{"1", "2", "3"}, Source: "header", By: "Bo",
				}))
			},
			why: "card 1 (B1) watches other gates",
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := stacktest.New(t)
			b.Card("Blue", 1, elsewhereRow(), stacktest.Row{Bib: "9", Code: "F", Gate: "3"})
			answers(b, elsewhereKey, "counts")
			then.do(b)
			f := askedAnew(b, elsewhereKey)
			if then.why == "" {
				assert.Nil(t, f)
				return
			}
			require.NotNil(t, f)
			assert.Contains(t, f.Sentence, "It was answered before, said by Ada: yes: the row counts as written. Since then "+then.why)
			answers(b, elsewhereKey, "counts") // of what is there now
		})
	}
}

// An older program kept no view: what was answered with it counts as it did. Source: our own logic.
func TestView_OfAnOlderProgram(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, elsewhereRow())
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: elsewhereKey, Value: "counts", By: "Ada"}))
	retakes(b, "again", false, elsewhereRow())
	assert.Nil(t, askedAnew(b, elsewhereKey))
}

// Two copies of the race that have read one photo each by itself, under other numbers, have one view of it: what was answered in the one
// counts in the other. Where the other has another photo of the card, it doesn't. Source: our own logic.
func TestView_Joined(t *testing.T) {
	for _, retaken := range []bool{false, true} {
		t.Run(fmt.Sprintf("retaken %t", retaken), func(t *testing.T) {
			a := stacktest.New(t)
			b := secondLaptop(t, a)
			a.Card("Blue", 2, stacktest.Row{Bib: "9", Code: "F", Gate: "8"}) // moves its numbers on
			for _, l := range []*stacktest.Table{a, b} {
				retakes(l, "one photo", false, elsewhereRow())
			}
			of := func(l *stacktest.Table) string {
				st, result := l.Load()
				return st.ViewOf(result, elsewhereKey)
			}
			assert.Equal(t, of(a), of(b))
			answers(b, elsewhereKey, "counts")
			if retaken {
				retakes(a, "another photo", false, elsewhereRow())
			}
			join(t, a, b)
			assert.Equal(t, retaken, askedAnew(a, elsewhereKey) != nil)
			join(t, b, a)
			assert.Equal(t, retaken, askedAnew(b, elsewhereKey) != nil)
		})
	}
}

// A card is typed from the paper, and a person answers of it. Its rows are counted or typed anew, or it is photographed: it is asked anew.
// Source: our own logic.
func TestView_OfACardTypedFromPaper(t *testing.T) {
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	for name, then := range map[string]func(b *stacktest.Table){
		"counted anew": func(b *stacktest.Table) {
			require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: key, Rows: 2, By: "Bo"}))
		},
		"photographed": func(b *stacktest.Table) { retakes(b, "late", false, elsewhereRow()) },
		"typed otherwise": func(b *stacktest.Table) {
			st, _ := b.Load()
			for _, d := range st.Decisions {
				if d.Text == "14" {
					require.NoError(t, b.Store.Undo(t.Context(), d.ID, d.By, d.By))
				}
			}
			require.Nil(t, askedAnew(b, elsewhereKey), "while nobody knows the bib")
			b.Type("Cy", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "19")
			b.Type("Dora", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "19")
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := stacktest.New(t)
			require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: key, Rows: 1, By: "Ada"}))
			for part, text := range map[sheetmodel.Part]string{sheetmodel.PartBib: "14", sheetmodel.PartCode: "F", sheetmodel.PartGate: "25"} {
				for _, by := range []string{"Ada", "Bo"} {
					b.Type(by, stacktest.Key("Blue", 1, 1, part), text)
				}
			}
			answers(b, elsewhereKey, "counts")
			then(b)
			require.NotNil(t, askedAnew(b, elsewhereKey))
		})
	}
}

// The question whether a row is struck out is about the line on its photo: what is typed of the row since bears on nothing. Of another
// photo it is asked anew, with what was answered, and the row waits meanwhile. Source: our own logic.
func TestView_OfALineThroughARow(t *testing.T) {
	b := newTable(t)
	line := func() store.NewSheet {
		n := b.front(2, "14")
		n.Read.Reading.Rows[0].Struck = true
		return n
	}
	key, _ := rules.StruckAnswer(rowRef(2, 1))
	asked := func() *sheetmodel.Finding {
		_, result := b.load()
		for i, f := range result.Findings {
			if f.Question != nil && f.Question.Key == key {
				return &result.Findings[i]
			}
		}
		return nil
	}
	b.add(line())
	f := asked()
	require.NotNil(t, f)
	s, _ := b.load()
	require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: key, Value: "stands", By: "Ada", View: f.Question.View})...))
	require.Nil(t, asked())
	s, _ = b.load()
	b.said("Bo", s.Rows[0].BibSeen.Key, "14", s.Rows[0].Sheet.ID, false)
	b.said("Cy", s.Rows[0].BibSeen.Key, "14", s.Rows[0].Sheet.ID, false)
	assert.Nil(t, asked(), "typed")
	b.add(line())
	require.NotNil(t, asked())
	assert.Contains(t, asked().Sentence, "It was answered before, said by Ada: no: it is not struck out")
	_, result := b.load()
	assert.Equal(t, rules.MayBeStruck, result.Standings[0].Why)
}

// Two copies answer alike, each of its own photo of the card; joined in any order, the answer was given of the photo that counts. So it was
// where a person turns back to the photo of which it was given first. Source: our own logic.
func TestView_SaidOfEach(t *testing.T) {
	for _, turned := range []bool{false, true} {
		a := stacktest.New(t)
		a.Card("Blue", 1, elsewhereRow())
		b := secondLaptop(t, a)
		answers(b, elsewhereKey, "counts")
		retakes(a, "again", false, elsewhereRow())
		answers(a, elsewhereKey, "counts")
		if turned {
			a, b = b, a
		}
		join(t, a, b)
		assert.Nil(t, askedAnew(a, elsewhereKey), "turned %t", turned)
		require.NoError(t, a.Store.Answer(t.Context(), store.Answer{Question: elsewhereKey, By: "Bo"}))
		require.NotNil(t, askedAnew(a, elsewhereKey), "taken back")
		retakes(a, "third", false, elsewhereRow())
		answers(a, elsewhereKey, "counts")
	}
}
