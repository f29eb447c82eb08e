package review_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A racer left the course, and a person has said that a row further down counts all the same. Another row is still to be typed unseen, and if
// it is that racer's the question comes anew. The draft can't say that of the line, or it would tell what stands in the row: whatever that is,
// the page says of all its lines that none is final, and says so no more once the row is typed. Source: our own logic.
func TestDraft_RowToTypeMayTakeALineBack_ThePageCallsNoLineFinal(t *testing.T) {
	var before []string
	for _, second := range []string{"14", "46"} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "P", Gate: "3"})
		b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9", Panel: "B"}, stacktest.Row{Bib: second, Code: "F", Gate: "12", Panel: "B"})
		b.Type("Ada", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib), "14")
		require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: "left-course/1/Blue/girls 14/3/9", Value: "counts", By: "Ada"}))
		p := sit(t, open(t, b), "Cleo")
		page := p.get("/draft").body
		assert.Contains(t, page, draft.NotFinal)
		before = append(before, shownOf(t, p))
		b.Type("Ben", stacktest.Key("Blue", 2, 2, sheetmodel.PartBib), second)
		assert.NotContains(t, p.get("/draft").body, draft.NotFinal)
		after := shownOf(t, p)
		if second == "14" {
			assert.Equal(t, "waiting", after, "it is asked anew")
		} else {
			assert.Equal(t, "14 at gate 9, 46 at gate 12", after)
		}
	}
	assert.Equal(t, []string{"14 at gate 9", "14 at gate 9"}, before)
}

// A row of run 1 waits, and where it is 14's, whether 14 started in run 2 is asked: no line of run 2 is final, unless run 2 has a list of its own.
// Nor is any while a spare with rows is bound to no run. Source: our own logic, after ICR 627.
func TestDraft_RowOfRun1OrOfALooseSpareMayTakeALineBack_NoLineIsFinal(t *testing.T) {
	paper := func(b *stacktest.Table, card sheetmodel.CardKey, by ...string) {
		require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Ada"}))
		for _, name := range by {
			for part, text := range map[string]string{"bib": "14", "code": "F", "gate": "3"} {
				b.Type(name, store.Key(card, sheetmodel.Front, "row-01."+part), text)
			}
		}
	}
	for _, c := range []struct {
		waits string // where a row waits
		list  bool   // run 2 has a list of its own
		final bool
	}{{"run 1", false, false}, {"run 1", true, true}, {"", false, true}, {"spare", false, false}} {
		b := stacktest.New(t)
		run := b.Race.Run(2)
		course := run.Course("Blue")
		course.Gates, course.Places = []string{"1", "2", "3", "4"}, []sheetmodel.Place{{Card: 1, Gates: []string{"1", "2", "3", "4"}}}
		if c.list {
			run.MayStart = sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Group: "girls", Number: "14"}}}
		}
		paper(b, sheetmodel.CardKey{Run: 2, Course: "Blue", Card: 1}, "Ada", "Ben")
		switch c.waits {
		case "run 1":
			paper(b, sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, "Ada")
		case "spare":
			paper(b, sheetmodel.CardKey{Card: 201}, "Ada")
		}
		var list *draft.Section
		st, result := b.Load()
		d, err := draft.New(st, result, draft.Options{At: at, Layout: b.LayoutByHash})
		require.NoError(t, err)
		for i := range d.Sections {
			if d.Sections[i].Run == 2 && d.Sections[i].Course == "Blue" {
				list = &d.Sections[i]
			}
		}
		require.Len(t, list.Proposed, 1, "%+v", c)
		assert.Equal(t, !c.final, list.MayTakeBack(), "%+v", c)
	}
}

// The jury upheld 14's line of run 1, and the look at its row is taken back: it waits, to be typed unseen, and no page tells that it was 14's.
// Run 2's line of 14 is held in truth; its list says that it isn't final, whatever list run 2 has, and goes out on the referee's word only.
// Source: our own logic, after ICR 627.
func TestPosting_Run2WhileAnUpheldRowOfRun1WaitsAgain_TellsNothingAndAsksForTheWord(t *testing.T) {
	for _, list := range []bool{false, true} {
		b := stacktest.New(t)
		run := b.Race.Run(2)
		course := run.Course("Blue")
		course.Gates, course.Places = []string{"1", "2", "3", "4"}, []sheetmodel.Place{{Card: 1, Gates: []string{"1", "2", "3", "4"}}}
		if list {
			run.MayStart = sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Group: "girls", Number: "14"}}}
		}
		none := sheetmodel.BibList{Given: sheetmodel.ListNone}
		run.DidNotStart, run.DidNotEnd, run.Reruns = none, none, none
		for n := range 2 {
			card := sheetmodel.CardKey{Run: n + 1, Course: "Blue", Card: 1}
			require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Ada"}))
			for _, name := range []string{"Ada", "Ben"} {
				for part, text := range map[string]string{"bib": "14", "code": "F", "gate": "3"} {
					b.Type(name, store.Key(card, sheetmodel.Front, "row-01."+part), text)
				}
			}
		}
		p := sit(t, open(t, b), "Cleo")
		for _, do := range []string{"posted", "upheld"} {
			require.Equal(t, 200, p.send("/packet", juryForm(do, "present", "referee")).status)
		}
		const may = "may take a line of this list back"
		assert.NotContains(t, p.get("/posting").body, may)
		st, _ := b.Load()
		for _, d := range st.Decisions {
			if d.By == "Ben" && d.Reading == store.Key(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, sheetmodel.Front, "row-01.bib") {
				require.NoError(t, b.Store.Undo(t.Context(), d.ID, "Ben", "Ben"))
			}
		}
		_, result := b.Load()
		for _, c := range result.Calls {
			require.True(t, c.Run == 1 || c.Waiting, "held in truth")
		}
		board := p.get("/posting").body
		assert.Contains(t, board, may, "%v", list)
		for _, page := range []string{board, p.get("/draft").body, p.get("/packet?bib=14").body} {
			assert.NotContains(t, page, "disqualified in run 1")
			assert.NotContains(t, page, "Upheld by the jury")
		}
		assert.Contains(t, p.get("/draft").body, draft.NotFinal)
	}
}

// shownOf is what the desk's list proposes on the first course.
func shownOf(t *testing.T, p *person) string {
	t.Helper()
	var list draft.Draft
	require.NoError(t, json.Unmarshal([]byte(p.get("/draft/draft.json").body), &list))
	words := ""
	for _, l := range list.Sections[0].Proposed {
		if words != "" {
			words += ", "
		}
		words += l.Bib + " at gate " + l.Gate
	}
	if words == "" && len(list.Sections[0].Waiting) > 0 {
		return "waiting"
	}
	return words
}
