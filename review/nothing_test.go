package review_test

import (
	"net/url"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// grain makes faint specks of a row's fields, as grainy paper is read: no number, and boxes that are a
// little darker than their neighbours.
func grain(r *sheetmodel.Row) {
	speck := func(e *sheetmodel.Reading, text string) {
		e.Text, e.State, e.Certainty = text, sheetmodel.Doubtful, sheetmodel.Certainty{}
		e.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtFaintInk, Detail: "hardly darker than the paper"}}
		if text != "" {
			e.Rivals = []sheetmodel.Rival{{Text: "", Prob: 0.2}}
		}
	}
	speck(&r.Bib, "")
	speck(&r.Gate, "")
	speck(&r.Code, "F")
	speck(&r.Panel, "B")
}

// grainy is a stack with a row of specks on card 2 and faint ink on card 3 that may be a number.
func grainy(t testing.TB) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Card("Blue", 2, stacktest.Row{Bib: "30", Code: "F", Gate: "9", Panel: "B"}, stacktest.Row{Bib: "31", Code: "F", Gate: "9", Panel: "B"})
	b.Card("Blue", 3, stacktest.Row{Bib: "5983", Code: "F", Gate: "15", Panel: "C", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtFaintInk})
	readAgain(t, b, func(c sheetmodel.CardKey, r *sheetmodel.Row) {
		switch {
		case c.Card == 2 && r.Number == 2:
			grain(r)
		case c.Card == 3:
			bib := r.Bib
			grain(r)
			r.Bib = bib
		}
	})
	return b
}

func nothing(p *person, card, row int) answer {
	p.t.Helper()
	return p.filled(p.get(bibPage(card, row)), url.Values{"do": {"nothing"}})
}

func TestNothing_SpecksOnly_OnePersonsWordSettlesTheRow(t *testing.T) {
	b := grainy(t)
	p := sit(t, open(t, b), "Cleo")
	before, result := b.Load()
	require.Len(t, before.Facts().Rows, 4)
	require.True(t, waits(result.Standings, ref(2, 2)))

	next := nothing(p, 2, 2)
	assert.Contains(t, next.body, "Card 2 row 2: no writing, under your name.")
	s, result := b.Load()
	assert.Equal(t, []string{"Cleo"}, s.Row(ref(2, 2)).Nothing)
	assert.Len(t, s.Facts().Rows, 3, "for the rules it is a row without ink")
	for _, g := range result.Incomplete {
		assert.NotContains(t, g.Why, "card 2 row 2")
	}
	for _, d := range s.Decisions {
		assert.Equal(t, sheetmodel.BasisNoWriting, d.Basis)
		assert.True(t, d.Blind, d.Reading)
	}
	assert.Len(t, s.Decisions, 4, "every box with specks")
	// Nothing is dropped silently: page and files list it.
	assert.Contains(t, p.get("/draft").body, "no writing, said by Cleo")
	assert.Regexp(t, `set aside,none,.*no writing, said by Cleo`, p.get("/draft/draft.csv").body)
	assert.Contains(t, p.get("/draft/draft.json").body, "no writing, said by Cleo")
}

func TestNothing_TakenBack_TheWholeRowWaitsAgainAndAllStaysInTheLog(t *testing.T) {
	b := grainy(t)
	server := open(t, b)
	p := sit(t, server, "Cleo")
	next := nothing(p, 2, 2)
	id := regexp.MustCompile(`name="decision" value="(\d+)"`).FindStringSubmatch(next.body)
	require.NotNil(t, id)
	assert.Equal(t, bibPage(2, 2), p.send("/undo", url.Values{"decision": {id[1]}}).path)
	s, _ := b.Load()
	assert.Empty(t, s.Row(ref(2, 2)).Nothing)
	assert.Equal(t, sheetmodel.BibWaiting, s.Row(ref(2, 2)).BibState)
	require.Len(t, s.Decisions, 4)
	for _, d := range s.Decisions {
		assert.NotNil(t, d.Undone, d.Reading)
	}
	// Said once more by the same person it isn't blind; another person's word counts.
	nothing(p, 2, 2)
	s, _ = b.Load()
	assert.Empty(t, s.Row(ref(2, 2)).Nothing)
	nothing(sit(t, server, "Dora"), 2, 2)
	s, _ = b.Load()
	assert.Equal(t, []string{"Dora"}, s.Row(ref(2, 2)).Nothing)
}

func TestNothing_WhereANumberMayStand_ASecondPersonIsAskedAndToldNothing(t *testing.T) {
	b := grainy(t)
	server := open(t, b)
	cleo := sit(t, server, "Cleo")
	next := nothing(cleo, 3, 1)
	assert.Contains(t, next.body, "A second person looks at it too before the row goes.")
	s, _ := b.Load()
	assert.Empty(t, s.Row(ref(3, 1)).Nothing)
	assert.Equal(t, sheetmodel.BibWaiting, s.Row(ref(3, 1)).BibState)

	dora := sit(t, server, "Dora")
	for path, a := range crawl(t, dora, s) {
		assert.Empty(t, leak(a, "5983"), path)
		assert.NotContains(t, a.body, "said by Cleo", path)
		assert.NotContains(t, a.body, "seen as no writing", path)
	}
	nothing(dora, 3, 1)
	s, _ = b.Load()
	assert.Equal(t, []string{"Cleo", "Dora"}, s.Row(ref(3, 1)).Nothing)
	assert.Contains(t, dora.get("/draft").body, "no writing, said by Cleo and Dora")
	for _, d := range s.Decisions {
		assert.True(t, d.Blind, d.Reading)
	}
}

func TestNothing_AnotherPersonSeesWriting_TheRowWaitsAgain(t *testing.T) {
	b := grainy(t)
	server := open(t, b)
	nothing(sit(t, server, "Cleo"), 2, 2)
	dora := sit(t, server, "Dora")
	page := dora.get("/draft")
	require.Contains(t, page.body, "I see writing there")
	assert.NotContains(t, page.body, "Take it back", "only Cleo takes her own word back")
	page = dora.get(bibPage(2, 2))
	assert.Contains(t, page.body, "Somebody has said that nothing is written here.")
	dora.typed(page, "31", "paper")
	s, _ := b.Load()
	assert.Empty(t, s.Row(ref(2, 2)).Nothing)
	assert.Equal(t, sheetmodel.BibWaiting, s.Row(ref(2, 2)).BibState)
}

// A row whose bib is read clearly isn't empty because two people say so.
func TestNothing_AgainstAClearReading_TheJudgeIsAsked(t *testing.T) {
	b := grainy(t)
	server := open(t, b)
	for _, name := range []string{"Cleo", "Dora"} {
		nothing(sit(t, server, name), 1, 1)
	}
	s, _ := b.Load()
	assert.Empty(t, s.Row(ref(1, 1)).Nothing)
	assert.Contains(t, sit(t, server, "Emil").get(bibPage(1, 1)).body, "Only the judge knows what was meant")
}

// The bib's specks are settled by one person, but a mark beside them isn't: the row is asked of another
// person as a whole, not of the judge.
func TestNothing_OneBoxMayHoldAMark_ASecondPersonLooksAtTheRow(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		grain(r)
		r.Code.Doubts = append(r.Code.Doubts, sheetmodel.Doubt{Kind: sheetmodel.DoubtTwoMarks, Detail: "marked: F, W"})
	})
	server := open(t, b)
	a := nothing(sit(t, server, "Cleo"), 1, 1)
	assert.Contains(t, a.body, "A second person looks at it too before the row goes.")
	dora := sit(t, server, "Dora")
	assert.Contains(t, dora.get(bibPage(1, 1)).body, "Another person&#39;s eyes are needed.")
	nothing(dora, 1, 1)
	s, _ := b.Load()
	assert.Equal(t, []string{"Cleo", "Dora"}, s.Row(ref(1, 1)).Nothing)
}

// One box may be empty and the row not.
func TestNothing_OneBox_LeavesTheRow(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		bib, code := r.Bib, r.Code
		grain(r)
		r.Bib, r.Code = bib, code
	})
	p := sit(t, open(t, b), "Cleo")
	page := p.get("/entry/" + stacktest.Key("Blue", 1, 1, sheetmodel.PartGate))
	require.Contains(t, page.body, "Only this box is empty")
	a := p.filled(page, url.Values{"do": {"nothing-here"}})
	assert.Contains(t, a.body, "no writing in that box")
	s, _ := b.Load()
	row := s.Row(ref(1, 1))
	assert.Empty(t, row.Nothing)
	assert.True(t, row.GateSure)
	assert.Empty(t, row.Row.Gate)
}

// A card typed from the paper has no reader: two people say so.
func TestNothing_OnAPaperCard_NeedsTwoPeople(t *testing.T) {
	b := stacktest.New(t)
	server := open(t, b)
	cleo := sit(t, server, "Cleo")
	cleo.send("/paper/run1/Blue/card-6", url.Values{"rows": {"2"}})
	nothing(cleo, 6, 2)
	s, _ := b.Load()
	assert.Empty(t, s.Row(ref(6, 2)).Nothing)
	nothing(sit(t, server, "Dora"), 6, 2)
	s, _ = b.Load()
	assert.Equal(t, []string{"Cleo", "Dora"}, s.Row(ref(6, 2)).Nothing)
	assert.Empty(t, s.Row(ref(6, 1)).Nothing)
}

func TestNothing_WithATextTyped_IsAskedAbout(t *testing.T) {
	p := sit(t, open(t, grainy(t)), "Cleo")
	a := p.filled(p.get(bibPage(1, 1)), url.Values{"do": {"nothing"}, "text": {"14"}})
	assert.Contains(t, a.body, "You have typed something, and said that nothing is written.")
	assert.Contains(t, a.body, `value="14"`)
}

func waits(standings []rules.RowStanding, at sheetmodel.RowRef) bool {
	return slices.ContainsFunc(standings, func(s rules.RowStanding) bool {
		return s.Ref == at && s.Standing == sheetmodel.StandsWaiting
	})
}
