package review_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

func juryForm(do string, more ...string) url.Values {
	v := url.Values{"run": {"1"}, "course": {"Blue"}, "group": {"girls"}, "bib": {"14"}, "do": {do}, "at": {"12:04:00"}}
	if do == "posted" {
		v.Set("word", "1") // most lists of the tests are incomplete
	}
	for i := 0; i+1 < len(more); i += 2 {
		v.Add(more[i], more[i+1])
	}
	return v
}

// From posting to the jury's decision, as referee and jury do it on the page.
func TestPacket_PostedProtestedOverruled(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	page := p.get("/packet?bib=14")
	assert.Contains(t, page.body, "The gates as this judge set them down")
	assert.Equal(t, http.StatusConflict, p.send("/packet", juryForm("protest")).status, "no posting, no protest period")
	page = p.send("/packet", juryForm("posted"))
	assert.Contains(t, page.body, "Made public at 12:04:00; protests until 12:19:00.")
	bad := juryForm("protest")
	bad.Set("at", "soon")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/packet", bad).status)
	late := juryForm("protest", "from", "team official")
	late.Set("at", "12:19:01")
	assert.Contains(t, p.send("/packet", late).body, "Protest at 12:19:01 by team official, after the protest period: the jury decides whether it is heard.")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/packet", juryForm("overruled", "present", "a passer-by")).status, "nobody of the jury was there")
	page = p.send("/packet", juryForm("overruled", "present", "referee", "present", "chief of race", "reason", "tracks at the gate"))
	assert.Contains(t, page.body, "Jury: overruled at 12:04:00, present referee, chief of race. Reason: tracks at the gate.")
	assert.NotContains(t, page.body, `value="posted"`, "a struck line can't be made public")
	assert.Equal(t, http.StatusConflict, p.send("/packet", juryForm("posted")).status, "nor by a page opened before")
	draft := p.get("/draft").body
	assert.Contains(t, draft, "Overruled by the jury")
	assert.Contains(t, draft, `<span class="bib"><s>14</s></span>`)
	assert.NotContains(t, draft, `<span class="bib">14</span>`)
	assert.Contains(t, p.send("/packet", juryForm("upheld", "present", "referee")).body, "Jury: upheld at 12:04:00, present referee.")
	assert.Contains(t, p.get("/draft").body, `<span class="bib">14</span>`)
	none := juryForm("posted")
	none.Set("bib", "22")
	assert.Equal(t, http.StatusConflict, p.send("/packet", none).status)
}

// A decision that was entered at the wrong racer's line, or the wrong one of two, is no word of the jury's on it: entered as it was, or taken off with a
// reason, the line hangs on the board as before, with its own clock, and run 2's list knows nothing of what was entered. The log keeps all.
// Source: our own logic; a notice board on which nothing was struck shows nothing struck.
func TestPacket_DecisionEnteredAtTheWrongLine_StrikesNothing(t *testing.T) {
	for _, mend := range []string{"upheld", "no-decision"} {
		b := afternoon(t)
		p := sit(t, open(t, b), "Cleo")
		assert.Equal(t, http.StatusConflict, p.send("/packet", juryForm("no-decision", "reason", "it was 41's")).status, "nothing is decided")
		p.send("/packet", juryForm("posted"))
		assert.NotContains(t, p.get("/packet?bib=14").body, `value="no-decision"`)
		p.send("/packet", juryForm("protest", "from", "team official"))
		page := p.send("/packet", juryForm("overruled", "present", "referee"))
		require.Contains(t, page.body, `value="no-decision"`)
		require.Contains(t, p.get("/posting").body, "<s>14</s>")
		if mend == "no-decision" {
			bare := p.send("/packet", juryForm(mend))
			assert.Equal(t, http.StatusUnprocessableEntity, bare.status)
			assert.Contains(t, bare.body, "say under Reason why")
		}
		page = p.send("/packet", juryForm(mend, "present", "referee", "reason", "it was 41's"))
		require.Equal(t, http.StatusOK, page.status)
		board := p.get("/posting").body
		assert.NotContains(t, board, "<s>14</s>", mend)
		assert.NotContains(t, board, "overruled by the jury", mend)
		assert.Contains(t, board, clockCells("12:04:00", "12:19:00"), mend)
		if mend == "upheld" {
			assert.Contains(t, board, "Upheld by the jury.")
		} else {
			assert.NotContains(t, page.body, "Jury:")
			assert.Contains(t, board, "May start under protest.", "it is open again")
		}
		assert.Contains(t, p.get("/draft").body, `<span class="bib">14</span>`, mend)
		all, err := b.Store.Answers(t.Context())
		require.NoError(t, err)
		assert.Len(t, all, 4, mend)
	}
}

// A protest that was entered at the wrong racer, or that its team takes back, keeps nobody in: whoever takes it off says why, and both stay
// in the log. What the jury has decided on stays. Source: our own logic.
func TestPacket_ProtestTakenBack_KeepsNobodyIn(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	p.send("/packet", juryForm("posted"))
	assert.Equal(t, http.StatusConflict, p.send("/packet", juryForm("no-protest", "reason", "it was 41's")).status, "there is none")
	assert.NotContains(t, p.get("/packet?bib=14").body, `value="no-protest"`)
	page := p.send("/packet", juryForm("protest", "from", "team official"))
	assert.Contains(t, page.body, `value="no-protest"`)
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	bare := p.send("/packet", juryForm("no-protest"))
	assert.Equal(t, http.StatusUnprocessableEntity, bare.status)
	assert.Contains(t, bare.body, "say why")
	page = p.send("/packet", juryForm("no-protest", "reason", "it was 41's"))
	require.Equal(t, http.StatusOK, page.status)
	assert.NotContains(t, page.body, "Protest at")
	assert.NotContains(t, p.get("/posting").body, "May start under protest.")
	all, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 3)
	assert.Equal(t, "it was 41's", all[2].Note)
	assert.Equal(t, all[1].Question, all[2].Question)

	p.send("/packet", juryForm("protest"))
	p.send("/packet", juryForm("overruled", "present", "referee"))
	assert.Equal(t, http.StatusConflict, p.send("/packet", juryForm("no-protest", "reason", "late")).status, "the jury has decided")
}

// The sheet to show a coach comes only with the referee's leave, and each time it is shown is logged.
func TestCoach_OnlyWithLeave_AndLogged(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	query := "?run=1&course=Blue&group=girls&bib=14"
	for _, path := range []string{"/coach" + query, "/coach/sheet.pdf" + query, "/coach/row-0.png" + query} {
		assert.Equal(t, http.StatusForbidden, p.get(path).status, path)
	}
	assert.Contains(t, p.send("/packet", juryForm("coach")).body, "To show a coach")
	page := p.get("/coach" + query)
	assert.Equal(t, http.StatusOK, page.status)
	assert.NotContains(t, page.body, "/ink/", "the plain ink shows what is another's")
	for _, path := range []string{"/coach/sheet.pdf", "/coach/row-0.png", "/coach/drawing-0.png"} {
		got := p.get(path + query)
		assert.Equal(t, http.StatusOK, got.status, path)
	}
	assert.Equal(t, http.StatusNotFound, p.get("/coach/row-9.png"+query).status)
	p.send("/packet", juryForm("no-coach"))
	assert.Equal(t, http.StatusForbidden, p.get("/coach"+query).status)
	answers, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	leave, shown := 0, 0
	for _, a := range answers {
		if strings.HasPrefix(a.Question, "jury/coach/") {
			leave++
			assert.Equal(t, "Cleo", a.By)
		}
		if strings.HasPrefix(a.Question, "jury/shown/") {
			shown++
			assert.Equal(t, "Cleo", a.By)
		}
	}
	assert.Equal(t, 2, leave, "leave and its end both stay")
	assert.Equal(t, 2, shown, "the page and the file")
}

// The referee's leave is for the line that was asked about: once the draft has the racer with another fault, its row is shown to no coach without
// another word. Source: our own logic.
func TestCoach_LeaveIsForOneLine(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "14", Code: "F", Gate: "3", Panel: "C"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	query := "?run=1&course=Blue&group=girls&bib=14"
	require.Equal(t, http.StatusOK, p.send("/packet", juryForm("coach")).status)
	require.Equal(t, http.StatusOK, p.get("/coach"+query).status)
	b.Type("Ada", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "14")
	require.Contains(t, p.get("/draft").body, "Gate 3")
	for _, path := range []string{"/coach", "/coach/sheet.pdf", "/coach/row-0.png"} {
		assert.Equal(t, http.StatusForbidden, p.get(path+query).status, path)
	}
	page := p.get("/packet?bib=14").body
	assert.NotContains(t, page, "To show a coach")
	assert.Contains(t, page, `value="coach"`)
	p.send("/packet", juryForm("coach"))
	assert.Equal(t, http.StatusOK, p.get("/coach"+query).status)
}

// The other bib of a remark is kept for a row of the race, and for nothing else.
func TestPacket_OtherBibOfARemark_IsKept(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	page := p.send("/packet", url.Values{"other": {"other-bib/1/Blue/1/1"}, "other_bib": {"22"}, "back": {"/packet?bib=14"}})
	assert.Contains(t, page.body, "Another racer in the remark: 22, a reference, no call.")
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/packet", url.Values{"other": {"other-bib/1/Blue/9/9"}, "other_bib": {"22"}}).status)
	assert.Equal(t, http.StatusUnprocessableEntity, p.send("/packet", url.Values{"other": {"other-bib/1/Blue/1/1"}, "other_bib": {"x y"}}).status)
}

// overruledOneOfTwo is a racer with two faults in a run, of which the jury has overruled the first.
func overruledOneOfTwo(t *testing.T) (*stacktest.Table, *person) {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Card("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	b.Type("Ada", stacktest.Key("Blue", 5, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	p.send("/packet", juryForm("posted"))
	p.send("/packet", juryForm("protest", "from", "team official"))
	require.Contains(t, p.send("/packet", juryForm("overruled", "present", "referee", "reason", "tracks")).body, "The jury&#39;s decision is kept")
	return b, p
}

// answerNot says that the jury has not decided on the racer's other fault.
func answerNot(t *testing.T, p *person) {
	t.Helper()
	page := p.get("/questions").body
	assert.Contains(t, page, "yes: this fault is overruled too")
	key := regexp.MustCompile(`name="question" value="(jury/[^"]+)"`).FindStringSubmatch(page)
	require.NotNil(t, key)
	p.send("/questions", url.Values{"question": {html.UnescapeString(key[1])}, "answer": {"not"}, "note": {"the referee"}})
}

// After a line was overruled, the racer's other fault in that run is asked about by itself. Left standing, it is a line of
// its own: made public, protested against and decided, while the first stays struck. Source: our own logic.
func TestPacket_OverruledLineAndAnotherFault_EachDecidedByItself(t *testing.T) {
	b, p := overruledOneOfTwo(t)
	answerNot(t, p)

	lines := func() map[string]string {
		_, result := b.Load()
		all := map[string]string{}
		for _, c := range result.Calls {
			all[c.Gate] = map[bool]string{true: "overruled", false: "stands"}[c.Overruled]
		}
		return all
	}
	assert.Equal(t, map[string]string{"6": "overruled", "25": "stands"}, lines())
	packet := p.get("/packet?bib=14&group=girls").body
	assert.Contains(t, packet, `name="gate" value="25"`, "the jury is asked about what stands")
	assert.NotContains(t, packet, "Jury: overruled", "that was the other line")
	second := func(do string, more ...string) url.Values {
		v := juryForm(do, append(more, "gate", "25", "code", "F")...)
		v.Set("at", "13:05:00")
		return v
	}
	assert.Equal(t, http.StatusConflict, p.send("/packet", second("protest")).status, "it isn't public yet")
	assert.Contains(t, p.get("/posting").body, "14 girls, gate 25")
	assert.Contains(t, p.get("/posting").body, "yet the draft has another line of run 1, which is not public", "who is back in isn't told too early")
	require.Contains(t, p.send("/packet", second("posted")).body, "Made public at 13:05:00")
	board := p.get("/posting").body
	assert.Contains(t, board, "<s>14</s>")
	assert.Contains(t, board, clockCells("13:05:00", "13:20:00"))
	p.send("/packet", second("protest"))
	require.Contains(t, p.send("/packet", second("upheld", "present", "referee", "reason", "film")).body, "Jury: upheld")
	assert.Equal(t, map[string]string{"6": "overruled", "25": "stands"}, lines(), "the first decision still holds")
	assert.NotContains(t, p.get("/questions").body, "this fault is overruled too")
	draft := p.get("/draft").body
	assert.Contains(t, draft, "Jury: overruled")
	assert.Contains(t, draft, "Jury: upheld")
	// The board shows the second line, and only the first is struck.
	assert.Equal(t, 1, strings.Count(p.get("/posting").body, "<s>14</s>"))
}

// The jury decides about what hangs on the board. From a page that was loaded before that was corrected, or made public anew, no protest and
// no decision is kept. Source: our own logic.
func TestPacket_PublicSomethingElseSinceThePageWasLoaded_NothingIsKept(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	public := regexp.MustCompile(`name="public" value="([^"]*)"`)
	p.send("/packet", juryForm("posted"))
	was := public.FindStringSubmatch(p.get("/packet?bib=14").body)
	require.NotNil(t, was)
	require.NotEmpty(t, was[1])
	corrected := juryForm("corrected")
	corrected.Set("at", "12:10")
	require.Equal(t, http.StatusOK, p.send("/posting", corrected).status)
	for _, do := range []string{"protest", "upheld", "overruled"} {
		late := p.send("/packet", juryForm(do, "present", "referee", "public", was[1]))
		assert.Equal(t, http.StatusConflict, late.status, do)
		assert.Contains(t, late.body, "What is public of this line has changed")
	}
	now := public.FindStringSubmatch(p.get("/packet?bib=14").body)
	require.NotEqual(t, was[1], now[1])
	assert.Equal(t, http.StatusOK, p.send("/packet", juryForm("upheld", "present", "referee", "public", now[1])).status)
}
