package review_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

func run2Form(do, clock string, more ...string) url.Values {
	form := juryForm(do, more...)
	form.Set("run", "2")
	form.Set("at", clock)
	return form
}

// A racer has a line in both runs, each made public and protested. The jury upholds run 1's, and run 2's row is held: its line still hangs there,
// and the protest on it is told beside it, not the name of who handed it in. Run 1's overruled after all, packet and draft have it again.
// Source: our own logic, after ICR 627; nothing that people said is lost.
func TestPosting_Run2sProtestedLineGoesWithRun1s_TheProtestIsTold(t *testing.T) {
	b := afternoon(t)
	run := b.Race.Run(2)
	course := run.Course("Blue")
	course.Gates, course.Places = []string{"1", "2", "3", "4", "5", "6"}, []sheetmodel.Place{{Card: 1, Gates: []string{"1", "2", "3", "4", "5", "6"}}}
	none := sheetmodel.BibList{Given: sheetmodel.ListNone}
	run.DidNotStart, run.DidNotEnd, run.Reruns = none, none, none
	h := openHut(t, b)
	p, viewer := sit(t, h.here, "Cleo"), h.pair("Uma", "view")
	require.Equal(t, http.StatusOK, at14(p, "posted", "12:04").status)
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:10", "from", "Ash").status)
	card := sheetmodel.CardKey{Run: 2, Course: "Blue", Card: 1}
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: card, Rows: 1, By: "Ada"}))
	for _, name := range []string{"Ada", "Ben"} {
		for part, text := range map[string]string{"bib": "14", "code": "F", "gate": "6"} {
			b.Type(name, store.Key(card, sheetmodel.Front, "row-01."+part), text)
		}
	}
	st, result := b.Load()
	for _, f := range result.Findings {
		if f.Rule == "run-2-list" && f.Question != nil {
			a := store.Answer{Question: f.Question.Key, Value: "counts", By: "Ada", View: st.ViewOf(result, f.Question.Key)}
			require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(a)...))
		}
	}
	require.Equal(t, http.StatusOK, p.send("/packet", run2Form("posted", "14:04", "word", "1")).status)
	require.Equal(t, http.StatusOK, p.send("/packet", run2Form("protest", "14:06", "from", "Elm")).status)
	assert.Contains(t, p.get("/packet?bib=14").body, "Protest at 12:10:00 by Ash.", "each run has its own")
	assert.Contains(t, p.get("/packet?bib=14").body, "Protest at 14:06:00 by Elm.")
	const told = "A protest on it is open, handed in at 14:06:00."
	assert.NotContains(t, p.get("/posting").body, told)

	require.Equal(t, http.StatusOK, at14(p, "upheld", "14:12", "present", "referee").status)
	_, result = b.Load()
	for _, c := range result.Calls {
		assert.NotEqual(t, 2, c.Run, "out in run 1")
	}
	assert.Contains(t, p.get("/posting").body, told)
	page := viewer.get("/posting").body
	assert.Contains(t, page, told)
	assert.NotContains(t, page, "Elm")

	require.Equal(t, http.StatusOK, at14(p, "overruled", "14:20", "present", "referee").status)
	assert.NotContains(t, p.get("/posting").body, told)
	assert.Contains(t, p.get("/packet?bib=14").body, "Protest at 14:06:00 by Elm.")
}
