package review_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// All expected values in this file: our own logic.

func readBackPage(card int) string {
	return "/readback/" + store.CardName(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card})
}

var openRow = regexp.MustCompile(`<input id="(row-\d\d)"`)

// openRows are the rows that a page lets somebody type.
func openRows(a answer) []string {
	var rows []string
	for _, m := range openRow.FindAllStringSubmatch(a.body, -1) {
		rows = append(rows, m[1])
	}
	return rows
}

var sheetField = regexp.MustCompile(`name="sheet" value="(\d+)"`)

// hears types what a judge reads of a card: names of rows and bibs in turn.
func (p *person) hears(card int, pairs ...string) answer {
	p.t.Helper()
	sheet := sheetField.FindStringSubmatch(p.get(readBackPage(card)).body)
	require.NotNil(p.t, sheet)
	form := formOf(pairs...)
	form.Set("sheet", sheet[1])
	return p.send(readBackPage(card), form)
}

// onCard is card 1 with rows that were read clearly, or not.
func onCard(t testing.TB) *stacktest.Table {
	b := stacktest.New(t)
	b.Card("Blue", 1,
		stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"},
		stacktest.Row{Bib: "46", Code: "F", Gate: "3", Panel: "C", State: sheetmodel.Doubtful, Rivals: []string{"40"}},
		stacktest.Row{Bib: "52", Code: "F", Gate: "5", Panel: "B"})
	return b
}

func bibOf(t testing.TB, b *stacktest.Table, row int) (sheetmodel.BibState, string) {
	t.Helper()
	s, _ := b.Load()
	r := s.Row(ref(1, row))
	require.NotNil(t, r)
	return r.BibState, r.Bib
}

func noCallStands(t testing.TB, b *stacktest.Table, bibs ...string) {
	t.Helper()
	_, r := b.Load()
	for _, c := range r.Calls {
		assert.False(t, !c.Waiting && slices.Contains(bibs, c.Bib), "a call stands: %+v", c)
	}
}

func TestReadBack_AgreesWithOneWriting_IsTwoLooks(t *testing.T) {
	b := onCard(t)
	p := openHut(t, b).pair("Ida", "hear")
	page := p.get(readBackPage(1))
	assert.Equal(t, []string{"row-01", "row-02", "row-03"}, openRows(page))
	a := p.hears(1, "row-01", " 14 ", "row-02", "46", "row-03", "052")
	assert.Equal(t, "/readback", a.path)
	assert.Contains(t, a.body, "Rows 1, 2: two looks agree.")
	for row, bib := range map[int]string{1: "14", 2: "46"} {
		state, text := bibOf(t, b, row)
		assert.Equal(t, sheetmodel.BibTwoLooks, state)
		assert.Equal(t, bib, text)
	}
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	require.Len(t, decisions, 3)
	for _, d := range decisions {
		assert.True(t, d.Blind && d.ReadBack, d)
		assert.Equal(t, "Ida", d.By)
	}
}

// What was heard is not what was read: no call, whatever Ida does next. Only somebody else can end it.
func TestReadBack_Mismatch_NeverBecomesACall(t *testing.T) {
	b := onCard(t)
	h := openHut(t, b)
	p := h.pair("Ida", "hear")
	a := p.hears(1, "row-01", "19")
	assert.Contains(t, a.body, "Row 1: kept, not settled.")
	assert.NotContains(t, a.body, "14")
	state, _ := bibOf(t, b, 1)
	assert.Equal(t, sheetmodel.BibWaiting, state)
	noCallStands(t, b, "14", "19")

	// She takes it back and tries the other bib: the page doesn't offer it, and sent all the same it is refused.
	id := undoID.FindStringSubmatch(a.body)
	require.NotNil(t, id)
	a = p.send("/undo", url.Values{"decision": {id[1]}})
	assert.Equal(t, http.StatusOK, a.status, a.body)
	assert.Equal(t, readBackPage(1), a.path)
	assert.NotContains(t, openRows(a), "row-01")
	assert.Equal(t, http.StatusConflict, p.hears(1, "row-01", "14").status)
	state, _ = bibOf(t, b, 1)
	assert.NotEqual(t, sheetmodel.BibTwoLooks, state)
	noCallStands(t, b, "14", "19")

	// Nor at the desk, as a word of the judge's.
	desk := h.pair("Ida", "settle")
	sheet := sheetField.FindStringSubmatch(desk.get("/entry/" + stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)).body)
	require.NotNil(t, sheet)
	for _, how := range []string{"aloud", "asked", "paper"} {
		desk.send("/entry/"+stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), url.Values{"sheet": {sheet[1]}, "do": {"settle"}, "how": {how}, "text": {"14"}})
		state, _ = bibOf(t, b, 1)
		assert.NotEqual(t, sheetmodel.BibTwoLooks, state, how)
		noCallStands(t, b, "14", "19")
	}
}

var undoID = regexp.MustCompile(`name="decision" value="(\d+)"`)

// Somebody else reads the ink unseen, as the machine did: the judge's other word still speaks against it.
func TestReadBack_Mismatch_GoesTheOrdinaryWay(t *testing.T) {
	b := onCard(t)
	h := openHut(t, b)
	h.pair("Ida", "hear").hears(1, "row-01", "19", "row-03", "59")
	bo := sit(t, h.here, "Bo")
	page := bo.get(bibPage(1, 1))
	bo.typed(page, "14", "paper")
	state, _ := bibOf(t, b, 1)
	assert.Equal(t, sheetmodel.BibWaiting, state, "the witness said otherwise")
	bo.typed(bo.get(bibPage(1, 3)), "59", "paper")
	state, text := bibOf(t, b, 3)
	assert.Equal(t, sheetmodel.BibTwoLooks, state, "the witness and a second person who reads the ink")
	assert.Equal(t, "59", text)
}

// Whoever was shown what was read types no read-back, on the page or past it.
func TestReadBack_ByWhoeverWasTold_IsNoLook(t *testing.T) {
	b := onCard(t)
	h := openHut(t, b)
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	h.pair("Ida", "hear")
	require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: "elsewhere", Person: "ida", Readings: []string{key}, Reveals: true, What: "test"}))
	// What a desk that was opened before has told counts as well.
	h = openHut(t, b)
	p := h.pair("Ida", "hear")
	page := p.get(readBackPage(1))
	assert.Equal(t, []string{"row-02", "row-03"}, openRows(page))
	assert.Contains(t, page.body, "Row 1: you were shown it or have typed it; somebody else hears it.")
	assert.Equal(t, http.StatusConflict, p.hears(1, "row-01", "14").status)

	d, err := b.Store.Settle(t.Context(), store.Entry{Reading: key, Text: "14", Basis: sheetmodel.BasisOnPaper, ReadBack: true, By: "Ida", Session: "x"})
	require.NoError(t, err)
	assert.False(t, d[0].Blind)
	state, _ := bibOf(t, b, 1)
	assert.Equal(t, sheetmodel.BibOneLook, state)
	noCallStands(t, b, "14")
}

func TestReadBack_CountsOnceForARowAndJudge(t *testing.T) {
	b := stacktest.New(t)
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, Rows: 1, By: "Lou"}))
	h := openHut(t, b)
	ida, jo := h.pair("Ida", "hear"), h.pair("Jo", "hear")
	early := jo.get(readBackPage(1)) // open on both phones at once
	require.Equal(t, []string{"row-01"}, openRows(early))
	ida.hears(1, "row-01", "14")
	a := jo.send(readBackPage(1), formOf("sheet", "0", "row-01", "14"))
	assert.Equal(t, http.StatusConflict, a.status)
	assert.Contains(t, a.body, "The judge has read it already")
	assert.Empty(t, openRows(jo.get(readBackPage(1))))
	// Past the page, too: one judge, one look.
	d, err := b.Store.Settle(t.Context(), store.Entry{Reading: stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), Text: "14", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Jo", Session: "x"})
	require.NoError(t, err)
	require.True(t, d[0].ReadBack)
	state, _ := bibOf(t, b, 1)
	assert.Equal(t, sheetmodel.BibOneLook, state)
	noCallStands(t, b, "14")
}

// The answer got lost, the same form comes again: no double and no fault.
func TestReadBack_SentTwice_IsNoDouble(t *testing.T) {
	b := onCard(t)
	p := openHut(t, b).pair("Ida", "hear")
	sheet := sheetField.FindStringSubmatch(p.get(readBackPage(1)).body)[1]
	for range 2 {
		a := p.send(readBackPage(1), formOf("sheet", sheet, "row-01", "14", "row-03", "52"))
		assert.Equal(t, http.StatusOK, a.status, a.body)
		assert.Contains(t, a.body, "Rows 1, 3: two looks agree.")
	}
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	assert.Len(t, decisions, 2)
}

// Taken back at once: both rows wait again, and somebody else hears them.
func TestReadBack_TakenBack_IsHeardBySomebodyElse(t *testing.T) {
	b := onCard(t)
	h := openHut(t, b)
	p := h.pair("Ida", "hear")
	a := p.hears(1, "row-01", "14", "row-03", "52")
	a = p.send("/undo", url.Values{"decision": {undoID.FindStringSubmatch(a.body)[1]}})
	assert.Equal(t, readBackPage(1), a.path)
	assert.Equal(t, []string{"row-02"}, openRows(a))
	for _, row := range []int{1, 3} {
		state, _ := bibOf(t, b, row)
		assert.Equal(t, sheetmodel.BibOneLook, state)
	}
	h.pair("Jo", "hear").hears(1, "row-01", "14")
	state, _ := bibOf(t, b, 1)
	assert.Equal(t, sheetmodel.BibTwoLooks, state)
	// A phone that only hears takes back nothing of others, set aside or not.
	b.SetAside("Lou", stacktest.Key("Blue", 1, 3, sheetmodel.PartBib), "torn")
	s, _ := b.Load()
	last := s.Decisions[len(s.Decisions)-1]
	assert.Equal(t, http.StatusForbidden, p.send("/undo", url.Values{"decision": {strconv.FormatInt(last.ID, 10)}}).status)
}

// A slip of the keyboard is asked about, and nothing that was typed is lost.
func TestReadBack_WhatIsNoBib_IsAskedAbout(t *testing.T) {
	b := onCard(t)
	p := openHut(t, b).pair("Ida", "hear")
	a := p.hears(1, "row-01", "14", "row-03", "5 2!")
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, `name="row-01" value="14"`)
	assert.Contains(t, a.body, `name="row-03" value="5 2!"`)
	assert.Equal(t, http.StatusUnprocessableEntity, p.hears(1).status)
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	assert.Empty(t, decisions)
	assert.Contains(t, a.body, `name="anyway" value="5 2!"`)
	a = p.hears(1, "row-03", "5 2!", "anyway", "5 2!")
	assert.Contains(t, a.body, "Row 3: kept, not settled.")
}

// The card was photographed again meanwhile: what was typed stays, for one more look at which row is which.
func TestReadBack_PhotographedAgain_KeepsWhatWasTyped(t *testing.T) {
	b := onCard(t)
	p := openHut(t, b).pair("Ida", "hear")
	a := p.send(readBackPage(1), formOf("sheet", "9999", "row-01", "14"))
	assert.Equal(t, http.StatusConflict, a.status)
	assert.Contains(t, a.body, `name="row-01" value="14"`)
	state, _ := bibOf(t, b, 1)
	assert.Equal(t, sheetmodel.BibOneLook, state)
}

// The judge reads a row in which the reader saw nothing: it becomes a question, never a call.
func TestReadBack_OfARowThatWasNotSeen_IsAsked(t *testing.T) {
	b := onCard(t)
	h := openHut(t, b)
	p := h.pair("Ida", "hear")
	assert.NotContains(t, openRows(p.get(readBackPage(1))), "row-05")
	assert.Contains(t, p.get(readBackPage(1)).body, `name="more-row"`)
	a := p.hears(1, "more-row", "row-05", "more", "33")
	assert.Equal(t, http.StatusOK, a.status, a.body)
	assert.Contains(t, a.body, "Row 5: kept, not settled.")
	s, r := b.Load()
	assert.True(t, slices.ContainsFunc(s.Questions, func(q stack.PhotoQuestion) bool { return slices.Contains(q.Rows, 5) && !q.Answered }))
	for _, c := range r.Calls {
		assert.False(t, !c.Waiting && c.Bib == "33")
	}
	assert.Equal(t, http.StatusUnprocessableEntity, p.hears(1, "more-row", "row-77", "more", "33").status, "the card has no such row")
}

// Struck out, set aside, or two photos that differ: nothing to type.
func TestReadBack_RowsThatAreNotOpen_AreNotTyped(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1,
		stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B", Struck: true},
		stacktest.Row{Bib: "46", Code: "F", Gate: "3", Panel: "C"},
		stacktest.Row{Bib: "52", Code: "F", Gate: "5", Panel: "B"})
	b.SetAside("Lou", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "torn")
	p := openHut(t, b).pair("Ida", "hear")
	page := p.get(readBackPage(1))
	assert.Equal(t, []string{"row-03"}, openRows(page))
	assert.Equal(t, http.StatusConflict, p.hears(1, "row-01", "14").status)
	assert.Equal(t, http.StatusConflict, p.hears(1, "row-02", "46").status)
}

// The page says which rows are there, and nothing of what was read in them: other readings of the same ink
// give the same bytes.
func TestReadBack_OtherReadings_GiveTheSameBytes(t *testing.T) {
	show := func(state sheetmodel.State, rivals []string, bibs ...string) string {
		b := stacktest.New(t)
		b.Card("Blue", 1,
			stacktest.Row{Bib: bibs[0], Code: "F", Gate: "6", Panel: "B", State: state, Rivals: rivals},
			stacktest.Row{Bib: bibs[1], Code: "F", Gate: "6", Panel: "C", State: state, Rivals: rivals})
		p := openHut(t, b).pair("Ida", "hear")
		return p.get("/readback").body + p.get(readBackPage(1)).body
	}
	first := show(sheetmodel.Clear, nil, "14", "15")
	require.Contains(t, first, "Row 2")
	assert.Equal(t, first, show(sheetmodel.Clear, nil, "15", "15"))
	assert.Equal(t, first, show(sheetmodel.Doubtful, []string{"27"}, "4871", "9"))
}

// The list names the cards whose rows can still be heard, the newest first.
func TestReadBack_List_SaysWhatIsLeft(t *testing.T) {
	b := afternoon(t)
	p := openHut(t, b).pair("Ida", "photos", "hear")
	body := p.get("/readback").body
	assert.Contains(t, body, "Card 3")
	assert.NotContains(t, body, "Card 4<", "nothing was written on it")
	assert.Less(t, strings.Index(body, "Card 3"), strings.Index(body, "Card 1"))
	assert.Contains(t, p.get("/photos?part").body, `href="`+readBackPage(3)+`"`, "the way there from the photos")
	p.hears(1, "row-01", "14", "row-02", "9")
	assert.NotContains(t, p.get("/photos?part").body, `href="`+readBackPage(1)+`"`)
}
