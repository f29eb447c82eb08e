package review_test

import (
	"html"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

func postingForm(do, clock string, more ...string) url.Values {
	v := url.Values{"run": {"1"}, "course": {"Blue"}, "do": {do}, "at": {clock}}
	if do == "posted" {
		v.Set("word", "1") // most lists of the tests are incomplete
	}
	for i := 0; i+1 < len(more); i += 2 {
		v.Add(more[i], more[i+1])
	}
	return v
}

func postedForm(bib, gate, code string) string {
	return url.Values{"group": {"girls"}, "bib": {bib}, "gate": {gate}, "code": {code}}.Encode()
}

// clockCells are the cells of a line that stands.
func clockCells(from, to string) string {
	return `<td data-head="Made public">` + from + `</td><td data-head="Protest until">` + to
}

// A line is made public, withdrawn and restored: the clock starts anew, the withdrawn one stays, struck.
// Expected words: our own logic.
func TestPosting_PublicWithdrawnRestored(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	page := p.get("/posting").body
	assert.Contains(t, page, "To be made public")
	assert.Contains(t, page, "Referee and jury decide")
	assert.Equal(t, http.StatusConflict, p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "7", "F"))).status, "the draft says gate 6")
	assert.Equal(t, http.StatusConflict, p.send("/posting", postingForm("withdrawn", "12:04", "group", "girls", "bib", "14", "why", "tracks")).status, "not on the board")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/posting", postingForm("posted", "soon", "line", postedForm("14", "6", "F"))).status)
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/posting", postingForm("posted", "12:04")).status, "no line marked")
	page = p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).body
	assert.Contains(t, page, clockCells("12:04:00", "12:19:00"))
	assert.Contains(t, page, "May not start.")
	assert.Equal(t, http.StatusConflict, p.send("/packet", juryForm("posted")).status, "public already: its clock runs")
	page = p.send("/posting", postingForm("corrected", "12:03", "group", "girls", "bib", "14")).body
	assert.Contains(t, page, clockCells("12:03:00", "12:18:00"))
	assert.Contains(t, p.get("/packet?bib=14").body, "Made public at 12:03:00; protests until 12:18:00.", "page and packet agree")
	p.send("/packet", juryForm("protest"))
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/posting", postingForm("withdrawn", "12:10", "group", "girls", "bib", "14")).status, "no reason")
	page = p.send("/posting", postingForm("withdrawn", "12:10", "group", "girls", "bib", "14", "why", "wrong gate read out")).body
	assert.Contains(t, page, "<s>14</s>")
	assert.Contains(t, page, "struck 12:10:00: wrong gate read out")
	assert.Contains(t, page, "Back in.")
	assert.Contains(t, page, "To be made public", "the draft still has the line")
	assert.Equal(t, 2, strings.Count(page, "struck 12:10:00: wrong gate read out"), "on the board, and beside the line that could go out again")
	again := `value="` + html.EscapeString(postedForm("14", "6", "F")) + `"`
	assert.Contains(t, page, `name="line" `+again)
	assert.NotContains(t, page, `name="shown" `+again, "all doesn't put up again what was withdrawn")
	page = p.send("/posting", postingForm("posted", "12:30", "line", postedForm("14", "6", "F"))).body
	assert.Contains(t, page, "<s>14</s>")
	assert.Contains(t, page, clockCells("12:30:00", "12:45:00"))
	page = p.send("/packet", juryForm("overruled", "present", "referee")).body
	assert.Contains(t, page, "Jury: overruled")
	assert.Equal(t, 2, strings.Count(p.get("/posting").body, "<s>14</s>"))
}

// The jury let a line stand, and it is taken back in public later: the racer is back in. Taken back before, the jury's
// word is the last. Source: our own logic.
func TestPosting_WithdrawnAfterTheJuryUpheldIt_IsBackIn(t *testing.T) {
	for at, want := range map[string]string{"12:30": "Back in.", "12:20:50": "Back in.", "12:20": "Back in.", "12:10": "May not start."} {
		p := sit(t, open(t, afternoon(t)), "Cleo")
		p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F")))
		form := juryForm("upheld", "present", "referee")
		form.Set("at", "12:20:40")
		require.Equal(t, http.StatusOK, p.send("/packet", form).status)
		require.Contains(t, p.get("/posting").body, "May not start.")
		page := p.send("/posting", postingForm("withdrawn", at, "group", "girls", "bib", "14", "why", "another racer, as the film shows")).body
		assert.Contains(t, page, want, at)
	}
}

// The jury upheld a line, and then it is made public anew with another gate: the protest is decided, and the new line has none until one is handed in.
// Source: common practice, no source (a protest is against what hangs there).
func TestPosting_PostedAnewAfterTheJuryUpheldIt_HasNoProtestYet(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "14", Code: "F", Gate: "3", Panel: "C"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	at := func(form url.Values, clock string) url.Values {
		form.Set("at", clock)
		return form
	}
	p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F")))
	p.send("/packet", at(juryForm("protest"), "12:06"))
	p.send("/packet", at(juryForm("upheld", "present", "referee"), "12:20"))
	require.Contains(t, p.get("/posting").body, "May not start.")
	b.Type("Ada", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "14")
	page := p.send("/posting", postingForm("posted", "12:30", "line", postedForm("14", "3", "F"))).body
	require.Contains(t, page, clockCells("12:30:00", "12:45:00"))
	assert.Contains(t, page, "May not start.")
	for _, path := range []string{"/packet?bib=14", "/draft"} {
		assert.NotContains(t, p.get(path).body, "Protest at 12:06", path)
	}
	assert.NotContains(t, p.get("/packet?bib=14").body, `value="no-protest"`)
	p.send("/packet", at(juryForm("protest"), "12:35"))
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	assert.Contains(t, p.get("/draft").body, "Protest at 12:35")
}

// A judge who filled a spare beside a card without a row isn't one whom no card of theirs needs, however the name is spelt; and while nobody has
// said whose the spare is, the page says so beside those who may go. Source: ICR 666 (whoever noted a fault stays).
func TestPosting_JudgeWithASpare_IsNotOneWhomNoCardNeeds(t *testing.T) {
	b := afternoon(t)
	spare := sheetmodel.CardKey{Card: 201}
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: spare, Rows: 1, By: "Ada"}))
	h := openHut(t, b)
	p, viewer := sit(t, h.here, "Cleo"), h.pair("Uma", "view")
	free := func(page string) string {
		require.Contains(t, page, "No card of theirs needs them")
		return page[strings.Index(page, "No card of theirs needs them"):]
	}
	card4 := "Blue · run 1, card 4"
	for _, page := range []string{p.get("/posting").body, viewer.get("/posting").body} {
		require.Contains(t, free(page), card4)
		assert.Contains(t, free(page), "Nobody has said whose these are", "the spare isn't bound yet")
	}
	name := b.Race.Run(1).Course("Blue").Places[3].Judge
	require.NotEmpty(t, name)
	require.Equal(t, http.StatusOK, p.send("/bind/spare/card-201", url.Values{"run": {"1"}, "course": {"Blue"}, "gates": {"19-23"}}).status)
	assert.Contains(t, free(p.get("/posting").body), "Nobody has said whose these are", "nor is its judge known")
	require.Equal(t, http.StatusOK, p.send("/bind/spare/card-201", url.Values{"run": {"1"}, "course": {"Blue"}, "gates": {"19-23"}, "judge": {strings.ToUpper(name)}}).status)
	for _, page := range []string{p.get("/posting").body, viewer.get("/posting").body} {
		assert.NotContains(t, free(page), card4)
		assert.NotContains(t, page, "Nobody has said whose these are")
		assert.Contains(t, page, "another card of theirs does")
		assert.Contains(t, page, card4, "it is said why they stay")
	}
	assert.NotContains(t, viewer.get("/posting").body, name)
}

// A line was made public, then its row waits again: its number is nowhere on the page, struck or not.
func TestPosting_LineWhoseRowWaitsAgain_IsHidden(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Ada")
	page := p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F")))
	require.Equal(t, http.StatusOK, page.status, page.body)
	require.Contains(t, page.body, "<strong>14</strong>")
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.Store.Undo(t.Context(), decisions[0].ID, "Ada", "elsewhere"))
	page = p.get("/posting")
	assert.Contains(t, page.body, "1 line that was made public is not in the draft as it stands")
	assert.Contains(t, page.body, "1 racer not shown")
	assert.NotContains(t, page.body, "<strong>14</strong>")
	assert.NotContains(t, page.body, "bib=14")
	p.send("/posting", postingForm("withdrawn", "12:10", "group", "girls", "bib", "14", "why", "the row is looked at again"))
	page = p.get("/posting")
	assert.NotContains(t, page.body, "<s>14</s>")
	assert.NotContains(t, page.body, "<strong>14</strong>")
}

// A racer has two faults; the line was made public with one, and its row waits again: the draft has the other. No page says beside it what was made
// public: that names the gate of the row that is to be typed, and by it its bib. Source: our own logic.
func TestPosting_LineWhoseRowWaitsAgain_IsToldBesideNoOtherLineOfTheRacer(t *testing.T) {
	for _, do := range []string{"", "protest", "upheld"} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "14", Code: "F", Gate: "3", Panel: "C"})
		b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		b.Type("Ada", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "14")
		server := open(t, b)
		ada := sit(t, server, "Ada")
		require.Equal(t, http.StatusOK, ada.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "3", "F"))).status)
		if do != "" {
			require.Equal(t, http.StatusOK, ada.send("/packet", juryForm(do, "present", "referee")).status)
		}
		decisions, err := b.Store.Decisions(t.Context())
		require.NoError(t, err)
		require.NoError(t, b.Store.Undo(t.Context(), decisions[1].ID, "Ada", "elsewhere"))
		bo := sit(t, server, "Bo")
		for _, path := range []string{"/draft", "/packet?bib=14", "/posting", "/why?bib=14", "/questions", "/draft/draft.csv", "/draft/draft.json"} {
			page := bo.get(path).body
			for _, told := range []string{"says gate 3", "with gate 3", "Made public at", "posted_at", "gate 3, F", " 3 F\""} {
				assert.NotContains(t, page, told, "%s %s", do, path)
			}
		}
		require.Contains(t, bo.get("/draft").body, `<span class="bib">14</span>`)
		bo.typed(bo.get(bibPage(1, 2)), "14", "paper")
		require.True(t, decisionsOf(t, b, "Bo")[0].Blind)
		assert.Contains(t, bo.get("/draft").body, "Made public at 12:04", "typed unseen, it is there again")
	}
}

// Nor does any other page tell that the draft doesn't make it any more: the row that waits again is in the same run.
// Source: our own logic.
func TestPosting_LineWhoseRowWaitsAgain_IsToldNowhere(t *testing.T) {
	for _, do := range []string{"", "protest", "upheld", "overruled"} {
		b := stacktest.New(t)
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "4871", Group: "girls"}, Course: "Blue"})
		b.Card("Blue", 1, stacktest.Row{Bib: "4871", Code: "F", Gate: "6", Panel: "B"})
		b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "4871")
		server := open(t, b)
		ada := sit(t, server, "Ada")
		ada.send("/posting", postingForm("posted", "12:04", "line", postedForm("4871", "6", "F")))
		if do != "" {
			form := juryForm(do, "present", "referee")
			form.Set("bib", "4871")
			require.Equal(t, http.StatusOK, ada.send("/packet", form).status)
		}
		require.Contains(t, ada.get("/draft").body, "4871", "the line is there")
		decisions, err := b.Store.Decisions(t.Context())
		require.NoError(t, err)
		require.NoError(t, b.Store.Undo(t.Context(), decisions[0].ID, "Ada", "elsewhere"))
		bo := sit(t, server, "Bo")
		for _, path := range []string{"/", "/draft", "/draft/draft.csv", "/draft/draft.json", "/questions", "/posting", "/next", "/card/run1/Blue/card-1", "/live?once&here=draft"} {
			assert.NotContains(t, bo.get(path).body, "4871", "%s %s", do, path)
		}
		bo.typed(bo.get(bibPage(1, 1)), "4871", "paper")
		assert.Contains(t, bo.get("/draft").body, "4871", "typed unseen, it is there again")
	}
}

// The racer has another line in the draft: the old one tells nothing of the row that waits again.
func TestPosting_OldLineOfARacerWithAnother_IsHidden(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Ada")
	require.Contains(t, p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).body, `<td data-head="Gate">6<`)
	b.Card("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 5, 1, sheetmodel.PartBib), "14")
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.Store.Undo(t.Context(), decisions[0].ID, "Ada", "elsewhere"))
	page := p.get("/posting").body
	assert.Contains(t, page, "14 girls, gate 25")
	assert.NotContains(t, page, `<td data-head="Gate">6<`)
	assert.Contains(t, page, "Withdraw one of them")
}

// An incomplete list goes out only on the referee's word, and the board says what was open then; nothing is marked
// beforehand. Source: our own logic.
func TestPosting_IncompleteList_NeedsTheRefereesWord(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	page := p.get("/posting").body
	assert.Contains(t, page, "<strong>Incomplete:</strong> 4 entries wait, no card is in for gates 30-34;", "page and print")
	assert.NotContains(t, page, " checked", "whoever posts says which lines hang there")
	form := postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))
	form.Del("word")
	a := p.send("/posting", form)
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "Not kept: this list is incomplete. Ask the referee")
	assert.Contains(t, a.body, `value="`+html.EscapeString(postedForm("14", "6", "F"))+`" checked`, "what was marked stays marked")
	assert.Contains(t, a.body, `name="at" value="12:04"`)
	packet := juryForm("posted")
	packet.Del("word")
	a = p.send("/packet", packet)
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "Ask the referee, and mark it if this line goes out all the same.")
	answers, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	assert.Empty(t, answers, "nothing was kept")

	form = postingForm("posted", "12:04", "all", "1", "shown", postedForm("14", "6", "F"), "shown", postedForm("30", "25", "F"))
	a = p.send("/posting", form)
	assert.Contains(t, a.body, "Made public at 12:04:00: 2 lines.")
	assert.Equal(t, 1, strings.Count(a.body, "14 girls, 30 girls: made public on the referee's word while the list was incomplete: 4 entries wait, no card is in for gates 30-34;"), "once, with the bibs it is said of")
}

// Where the clock is on another day than the race, minutes left mean nothing. Source: our own logic.
func TestPosting_OnAnotherDay_SaysSoAndCountsNoMinutes(t *testing.T) {
	for _, c := range []struct {
		now, says string
		today     string
	}{
		{"2027-01-23T12:10:30+01:00", "8 min 30 s left", ""},
		{"2027-01-23T12:19:00+01:00", "0 min 00 s left", ""},
		{"2027-01-23T12:19:01+01:00", "the protest period is over", ""},
		{"2027-01-23T12:03:59+01:00", "the protest period has not begun", ""},
		{"2027-01-24T12:10:00+01:00", "the protest period is over", "2027-01-24"},
		{"2026-11-26T12:10:00+01:00", "the protest period has not begun: it is on 2027-01-23", "2026-11-26"},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		require.NoError(t, err)
		now = now.Add(63 * time.Second) // the demo race's laptop is ahead of official time
		b := afternoon(t)
		p := sit(t, openAt(t, b, now), "Cleo")
		page := p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).body
		assert.Contains(t, page, clockCells("12:04:00", "12:19:00")+` <span class="quiet off-paper">`+c.says+`</span>`, c.now)
		if c.today == "" {
			assert.NotContains(t, page, "By this computer", c.now)
		} else {
			assert.Contains(t, page, `today is <span class="unbroken">`+c.today+`</span>, and the race is on <span class="unbroken">2027-01-23</span>`, c.now)
		}
	}
}

// A decision of the jury without its members comes back with what was typed, and says at the field what is missing.
func TestPacket_DecisionWithoutMembers_ComesBack(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	p.send("/packet", juryForm("posted"))
	a := p.send("/packet", juryForm("upheld", "reason", "tracks show both feet", "at", "12:31"))
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Regexp(t, `(?s)role="alert">Not kept: mark who of the jury was present and decided, by function\.</p><fieldset>`, a.body)
	assert.Contains(t, a.body, `value="tracks show both feet"`)
	assert.Contains(t, a.body, `name="at" value="12:04:00" maxlength="8"`)
	a = p.send("/packet", juryForm("upheld", "present", "referee", "reason", "tracks"))
	assert.Contains(t, a.body, "Jury: upheld")
}

// A protest period that the race file changes while lines hang on the board doesn't move their clocks; what is made public
// afterwards has the new length, and a corrected time keeps its line's. Expected times: our own logic.
func TestPosting_PeriodChangedMeanwhile_LeavesRunningClocks(t *testing.T) {
	b := afternoon(t)
	b.Race.Rules.ProtestMinutes = 15
	p := sit(t, open(t, b), "Lou")
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:00", "line", postedForm("14", "6", "F"))).status)
	require.Contains(t, p.get("/posting").body, clockCells("12:00:00", "12:15:00"))
	changed := *b.Race
	changed.Rules.ProtestMinutes = 30
	b.Race = &changed
	assert.Contains(t, p.get("/posting").body, clockCells("12:00:00", "12:15:00"))
	assert.Contains(t, p.get("/draft/draft.json").body, `T12:15:00`)
	p.send("/posting", postingForm("corrected", "12:02", "group", "girls", "bib", "14"))
	assert.Contains(t, p.get("/posting").body, clockCells("12:02:00", "12:17:00"))
	assert.Contains(t, p.get("/draft/draft.json").body, `T12:17:00`)
	p.send("/posting", postingForm("withdrawn", "12:05", "group", "girls", "bib", "14", "why", "a slip"))
	p.send("/posting", postingForm("posted", "12:06", "line", postedForm("14", "6", "F")))
	assert.Contains(t, p.get("/posting").body, clockCells("12:06:00", "12:36:00"))
}

// The start list gives the bib to another child after the line was made public: looks and line stay, for they are the
// paper's, and every page and file of the line says that the list was changed. Source: our own logic.
func TestPosting_StartListChangedSince_IsSaid(t *testing.T) {
	const said = "The start list was changed since this line was made public"
	b := afternoon(t)
	p := sit(t, open(t, b), "Lou")
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:00", "line", postedForm("14", "6", "F"))).status)
	pages := []string{"/posting", "/draft", "/packet?bib=14&group=girls"}
	for _, path := range pages {
		require.NotContains(t, p.get(path).body, said, path)
	}
	changed := *b.Race
	changed.Starters = slices.Clone(b.Race.Starters)
	i := slices.IndexFunc(changed.Starters, func(s sheetmodel.Starter) bool { return s.Number == "14" && s.Group == "girls" })
	require.GreaterOrEqual(t, i, 0)
	changed.Starters[i].Name = "Another Child"
	b.Race = &changed
	for _, path := range pages {
		assert.Contains(t, p.get(path).body, said, path)
	}
	assert.Contains(t, p.get("/draft/draft.json").body, `"start_list_changed": true`)
	const keepsOut = "make sure that the bib is still the same racer&#39;s.</td>"
	assert.Contains(t, p.get("/posting").body, keepsOut, "run 2's list would keep out another child")
	assert.Contains(t, p.get("/draft").body, `<span class="bib">14</span>`, "the line stays")
	// A time that is corrected is no new posting; posted anew, the line is by today's list.
	p.send("/posting", postingForm("corrected", "12:01", "group", "girls", "bib", "14"))
	assert.Contains(t, p.get("/posting").body, said)
	p.send("/posting", postingForm("withdrawn", "12:05", "group", "girls", "bib", "14", "why", "another racer"))
	assert.Contains(t, p.get("/posting").body, keepsOut, "or let one in")
	p.send("/posting", postingForm("posted", "12:06", "line", postedForm("14", "6", "F")))
	assert.NotContains(t, p.get("/posting").body, said)
	assert.NotContains(t, p.get("/posting").body, keepsOut)
	// Without names nobody can say that it was changed.
	for i := range changed.Starters {
		changed.Starters[i].Name = ""
	}
	assert.NotContains(t, p.get("/draft").body, said)
}
