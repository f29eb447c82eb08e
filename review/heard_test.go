package review_test

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

func heardForm(bib, gate, words string) url.Values {
	return url.Values{"at": {"1 Blue"}, "clock": {"11:06"}, "from": {"gate 27"}, "bib": {bib}, "gate": {gate}, "words": {words}}
}

// A line without a row asks the judge of that gate; one with a row asks nothing; neither is a call or makes
// anything surer. Source: our own logic.
func TestHeard_WithoutARow_IsAQuestionAndNeverACall(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "3", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	_, before := b.Load()
	require.Len(t, before.Calls, 1)

	a := p.send("/heard", heardForm("9", "3", "nine missed the red"))
	assert.Contains(t, a.body, "It is in the log.")
	assert.Contains(t, a.body, "nine missed the red")
	st, after := b.Load()
	assert.Equal(t, before.Calls, after.Calls, "no call comes or goes")
	assert.Equal(t, "14", st.Row(ref(1, 1)).Bib)
	questions := p.get("/questions").body
	assert.Contains(t, questions, "The log of what was heard names")
	assert.NotContains(t, questions, "nine missed", "the words stay in the log")

	// Bib 14's row is there: nothing is asked of it.
	n := len(after.Findings)
	p.send("/heard", heardForm("14", "3", ""))
	_, after = b.Load()
	assert.Len(t, after.Findings, n)

	// Struck, the line stays in the log and asks nobody.
	log, err := b.Store.HeardLog(t.Context())
	require.NoError(t, err)
	require.Len(t, log, 2)
	strike := url.Values{"strike": {"1000000"}}
	assert.Equal(t, http.StatusNotFound, p.send("/heard", strike).status)
	for range 2 { // sent twice, it is struck once
		strike.Set("strike", strconv.FormatInt(log[0].ID, 10))
		a = p.send("/heard", strike)
	}
	assert.Contains(t, a.body, "struck by Cleo")
	assert.NotContains(t, p.get("/questions").body, "The log of what was heard names")
	log, err = b.Store.HeardLog(t.Context())
	require.NoError(t, err)
	assert.Len(t, log, 3)
	for _, path := range []string{"/posting", "/coach?run=1&course=Blue&group=girls&bib=14", "/packet?bib=14&group=girls", "/draft/draft.csv"} {
		assert.NotContains(t, p.get(path).body, "nine missed", path)
	}
}

// A call is heard again after its judge was asked, as of a re-run: the judge is asked again. Two who wrote down the same minute heard one
// call. Source: common practice, no source.
func TestHeard_HeardAgainLater_AsksTheJudgeAnew(t *testing.T) {
	const question = "names girls 9 at gate 3"
	for clock, anew := range map[string]bool{"11:40": true, "11:06": false} {
		b := stacktest.New(t)
		b.Card("Blue", 1)
		p := sit(t, open(t, b), "Cleo")
		p.send("/heard", heardForm("9", "3", "nine missed the red"))
		require.Contains(t, p.get("/questions").body, question)
		require.Equal(t, http.StatusOK, p.send("/questions", url.Values{"question": {"heard/1/Blue/girls 9/3"}, "answer": {"nothing"}, "note": {"the judge"}}).status)
		again := heardForm("9", "3", "nine again")
		again.Set("clock", clock)
		p.send("/heard", again)
		_, result := b.Load()
		asked := slices.ContainsFunc(result.Findings, func(f sheetmodel.Finding) bool { return f.Rule == "heard" && f.Question != nil })
		assert.Equal(t, anew, asked, clock)
		if anew {
			assert.Contains(t, p.get("/questions").body, "at gate 3 at 11:06 and 11:40")
		}
	}
}

// A call comes before the start list has its bib: the group that was said is kept with it. Source: our own logic.
func TestHeard_BibIsOnNoListYet_KeepsTheGroupThatWasSaid(t *testing.T) {
	b := stacktest.New(t)
	p := sit(t, open(t, b), "Cleo")
	for group, kept := range map[string]string{"girls": "girls", "": "", "nobody's": ""} {
		form := heardForm("199", "3", "")
		form.Set("group", group)
		require.Equal(t, http.StatusOK, p.send("/heard", form).status)
		log, err := b.Store.HeardLog(t.Context())
		require.NoError(t, err)
		assert.Equal(t, kept, log[len(log)-1].Bib.Group, group)
	}
}

// Where a row may still be typed unseen, the log doesn't say what was heard there: it may be what the ink says.
func TestHeard_RowsWait_LogTellsNoBibAndNoWords(t *testing.T) {
	b, secrets := secretStack(t)
	p := sit(t, open(t, b), "Cleo")
	for _, s := range secrets {
		a := p.send("/heard", heardForm(s, "6", "number "+s+" is out"))
		require.Equal(t, http.StatusOK, a.status)
		assert.NotContains(t, a.body, s)
		assert.Contains(t, a.body, "not shown yet")
	}
	for _, path := range []string{"/heard", "/questions", "/draft", "/posting", "/", "/next"} {
		body := p.get(path).body
		for _, s := range secrets {
			assert.NotContains(t, body, s, path)
		}
	}
}

// During the run the radio speaks of rows that nobody has typed yet. Until their card is in, or won't come, what was
// heard is told to nobody but whoever wrote it down: they alone type nothing at that gate unseen. Source: our own logic.
func TestHeard_CardNotInYet_TellsNobodyWhoMayTypeItsRows(t *testing.T) {
	b := stacktest.New(t)
	server := open(t, b)
	cleo, dora := sit(t, server, "Cleo"), sit(t, server, "Dora")
	a := cleo.send("/heard", heardForm("4871", "3", "4871 is out"))
	assert.Contains(t, a.body, "4871 is out", "who wrote it knows it")
	for _, path := range []string{"/heard", "/questions", "/draft", "/draft/draft.json", "/posting", "/", "/packet?bib=14", "/why?bib=14"} {
		assert.NotContains(t, dora.get(path).body, "4871", path)
	}
	assert.Contains(t, dora.get("/draft").body, "A call about gate 3 was heard; it is compared with card 1")
	dora.send("/gap/run1/Blue/card-1", url.Values{"reason": {"blown away"}})
	assert.Contains(t, dora.get("/questions").body, "The log of what was heard names 4871 at gate 3", "its judge is asked without the card")
}

func TestHeard_WrongLine_IsRefusedAndKeepsWhatWasTyped(t *testing.T) {
	b := stacktest.New(t)
	p := sit(t, open(t, b), "Cleo")
	for want, form := range map[string]url.Values{
		"Choose the run and the course": {"clock": {"11:06"}, "from": {"finish"}, "words": {"kept words"}},
		"Write the time as":             {"at": {"1 Blue"}, "clock": {"noon"}, "from": {"finish"}, "words": {"kept words"}},
		"whose voice":                   {"at": {"1 Blue"}, "clock": {"11:06"}, "words": {"kept words"}},
		"is not a gate":                 {"at": {"1 Blue"}, "clock": {"11:06"}, "from": {"finish"}, "gate": {"red"}, "words": {"kept words"}},
		"Write one gate":                {"at": {"1 Blue"}, "clock": {"11:06"}, "from": {"finish"}, "gate": {"3-5"}, "words": {"kept words"}},
		"Write bib and gate":            {"at": {"1 Blue"}, "clock": {"11:06"}, "from": {"finish"}, "bib": {"9"}},
		"the bib alone":                 {"at": {"1 Blue"}, "clock": {"11:06"}, "from": {"finish"}, "bib": {"nine is out"}, "words": {"kept words"}},
	} {
		a := p.send("/heard", form)
		assert.Equal(t, http.StatusUnprocessableEntity, a.status, want)
		assert.Contains(t, a.body, want)
		if form.Has("words") {
			assert.Contains(t, a.body, "kept words", want)
		}
	}
	log, err := b.Store.HeardLog(t.Context())
	require.NoError(t, err)
	assert.Empty(t, log)
}

// Who only looks is told nothing of a call, and that the list is open for it as at the desk. Source: our own logic.
func TestHeard_WithoutARow_KeepsAViewersListOpen(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "3", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	h := openHut(t, b)
	require.Equal(t, http.StatusOK, sit(t, h.here, "Cleo").send("/heard", heardForm("9", "3", "nine missed the red")).status)
	page := h.pair("Vic", "view").get("/draft").body
	assert.NotContains(t, page, "The log of what was heard names")
	assert.NotContains(t, page, "nine missed")
	assert.Contains(t, page, "A call that was heard is on no card that is settled")
}
