package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

var label = regexp.MustCompile(`<text x="4" y="3.15">([^<]*)</text>`)

func labels(body string) []string {
	var all []string
	for _, m := range label.FindAllStringSubmatch(body, -1) {
		all = append(all, m[1])
	}
	return all
}

// What is settled or clear lies over its ink, the number of looks in marks and in words; what waits shows only ink.
func TestCard_SettledIsLaidOver_WaitingShowsInkOnly(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	body := p.get("/card/run1/Blue/card-1").body
	assert.Contains(t, labels(body), "14", "two looks")
	assert.NotContains(t, labels(body), "9", "it still needs a look")
	assert.Contains(t, body, `<strong>14</strong> <span class="quiet">two looks</span>`)
	assert.NotContains(t, body, `<strong>9</strong>`)
	// Whoever was shown it is told it: taken back, it isn't typed unseen by them.
	log, err := b.Store.ServedLog(t.Context())
	require.NoError(t, err)
	told := map[string]bool{}
	for _, v := range log {
		if v.Person == "Cleo" && v.Reveals {
			told[v.Readings[0]] = true
		}
	}
	assert.True(t, told[stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)])
	assert.False(t, told[stacktest.Key("Blue", 1, 2, sheetmodel.PartBib)])
}

// A bib that lot has drawn and nobody has typed shows its ink only, however sure its reader is.
func TestCard_DrawnByLot_ShowsInkOnly(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 5, stacktest.Row{Bib: "52", Code: "H", Gate: "27"})
	path := "/card/run1/Blue/card-5"
	b.Race.SpotCheck = 0
	assert.Contains(t, labels(sit(t, open(t, b), "Cleo").get(path).body), "52")
	b.Race.SpotCheck = 1
	body := sit(t, open(t, b), "Cleo").get(path).body
	assert.NotContains(t, labels(body), "52")
	assert.NotContains(t, body, `<strong>52</strong>`)
	assert.Contains(t, labels(body), "27", "the lot falls on bibs")
}

func addRow(t *testing.T, b *stacktest.Table, card int, form url.Values) url.Values {
	t.Helper()
	st, _ := b.Load()
	c := st.Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card})
	require.NotNil(t, c)
	form.Set("front", fmt.Sprint(c.Front.ID))
	return form
}

// A row that the reader missed is added without any text, and two people must type it unseen: no reader's look
// stands beside theirs. Source: our own logic.
func TestCard_AddedRow_NeedsTwoPeople(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	server := open(t, b)
	cleo := sit(t, server, "Cleo")
	path := "/addrow/run1/Blue/card-1"
	for _, bad := range []url.Values{{"row": {"1"}}, {"row": {"99"}}, {}, {"box": {"1,1,NaN,4"}}, {"box": {"0,0,5,2"}}, {"row": {"3"}, "do": {"away"}}} {
		assert.Equal(t, http.StatusUnprocessableEntity, cleo.send(path, addRow(t, b, 1, bad)).status, "%v", bad)
	}
	// A box over row 3, as the mouse draws it.
	field := b.Layout.Side(sheetmodel.Front).Field("row-03.bib")
	require.NotNil(t, field)
	box := fmt.Sprintf("%.1f,%.1f,60.0,%.1f", float64(field.Rect.X), float64(field.Rect.Y), float64(field.Rect.H))
	a := cleo.send(path, addRow(t, b, 1, url.Values{"box": {box}}))
	assert.Contains(t, a.body, "Row 3 is added.")
	st, _ := b.Load()
	row := st.Row(ref(1, 3))
	require.NotNil(t, row)
	assert.Equal(t, sheetmodel.BibWaiting, row.BibState)

	bib := stacktest.Key("Blue", 1, 3, sheetmodel.PartBib)
	for _, part := range []struct {
		part sheetmodel.Part
		text string
	}{{sheetmodel.PartBib, "9"}, {sheetmodel.PartCode, "F"}, {sheetmodel.PartGate, "5"}} {
		cleo.typed(cleo.get("/entry/"+stacktest.Key("Blue", 1, 3, part.part)), part.text, "paper")
	}
	st, result := b.Load()
	assert.Equal(t, sheetmodel.BibOneLook, st.Row(ref(1, 3)).BibState)
	for _, c := range result.Calls {
		assert.False(t, c.Bib == "9" && !c.Waiting, "one person's entry carries no call")
	}
	assert.NotContains(t, labels(cleo.get("/card/run1/Blue/card-1").body), "9")
	assert.Contains(t, cleo.get("/entry/"+bib).body, "You have typed this one.")

	dora := sit(t, server, "Dora")
	page := dora.get("/entry/" + bib)
	assert.NotContains(t, page.body, ">9<")
	dora.typed(page, "9", "paper")
	for _, part := range []sheetmodel.Part{sheetmodel.PartCode, sheetmodel.PartGate} {
		st, result = b.Load()
		for _, w := range st.Waiting(result) {
			if w.Entry.Key == stacktest.Key("Blue", 1, 3, part) {
				dora.typed(dora.get("/entry/"+w.Entry.Key), map[sheetmodel.Part]string{sheetmodel.PartCode: "F", sheetmodel.PartGate: "5"}[part], "paper")
			}
		}
	}
	st, result = b.Load()
	row = st.Row(ref(1, 3))
	assert.Equal(t, sheetmodel.BibTwoLooks, row.BibState)
	for _, l := range row.BibSeen.Seen.Looks {
		assert.Equal(t, sheetmodel.LookBlind, l.Kind, "there is a picture")
	}
	assert.Contains(t, labels(dora.get("/card/run1/Blue/card-1").body), "9")

	// Taken out again, what was typed isn't lost: somebody is asked.
	cleo.send(path, url.Values{"row": {"3"}, "do": {"away"}})
	st, _ = b.Load()
	require.NotNil(t, st.Row(ref(1, 3)))
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, 3)).BibState)
	assert.Contains(t, cleo.get("/questions").body, "Row 3 of card 1 was entered before")
}

// Two people who see different bibs in an added row settle nothing.
func TestCard_AddedRow_TwoBibs_AsksTheJudge(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1)
	server := open(t, b)
	cleo, dora := sit(t, server, "Cleo"), sit(t, server, "Dora")
	cleo.send("/addrow/run1/Blue/card-1", addRow(t, b, 1, url.Values{"row": {"2"}}))
	bib := "/entry/" + stacktest.Key("Blue", 1, 2, sheetmodel.PartBib)
	cleo.typed(cleo.get(bib), "9", "paper")
	dora.typed(dora.get(bib), "4", "paper")
	st, result := b.Load()
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, 2)).BibState)
	assert.Contains(t, cleo.get(bib).body, "Only the judge knows what was meant")
	assert.Empty(t, result.Calls)
}

// A row marked as struck out stays and carries no call; the mark comes off again.
func TestCard_MarkedAsStruckOut_CarriesNoCall(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	_, before := b.Load()
	require.Len(t, before.Calls, 1)
	// One click strikes nothing: somebody says who says so.
	assert.Contains(t, p.get("/card/run1/Blue/card-1").body, "Who says so, and how is it known?")
	a := p.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "do": {"on"}})
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "say who says so and how it is known")
	_, same := b.Load()
	assert.Equal(t, before.Calls, same.Calls)
	strike := func(do, note string) answer {
		return p.send("/strike/run1/Blue/card-1", url.Values{"row": {"1"}, "do": {do}, "note": {note}})
	}
	a = strike("on", "the judge of card 1, at the finish")
	assert.Contains(t, a.body, "struck by Cleo: the judge of card 1, at the finish")
	st, result := b.Load()
	assert.Empty(t, result.Calls)
	require.NotNil(t, st.Row(ref(1, 1)))
	found := false
	for _, f := range result.Findings {
		found = found || strings.Contains(f.Sentence, "row 1 is struck out by its judge, said by Cleo.")
	}
	assert.True(t, found, "%v", result.Findings)
	questions := p.get("/questions").body
	assert.Contains(t, questions, "Card 1 row 1 is struck out by its judge, and no reader saw it.")
	assert.Contains(t, questions, "struck by Cleo: the judge of card 1, at the finish")
	assert.NotContains(t, questions, "looks struck out", "no reader saw a line")
	assert.Equal(t, http.StatusConflict, strike("on", "again").status)
	strike("off", "the judge, asked again")
	_, after := b.Load()
	assert.Equal(t, before.Calls, after.Calls)
	// Taken back among the answers, the mark goes too: nothing looks struck out that no reader saw so.
	strike("on", "the judge")
	key, _ := rules.StruckAnswer(ref(1, 1))
	a = p.send("/questions", url.Values{"question": {key}, "do": {"again"}})
	assert.NotContains(t, a.body, "looks struck out")
	_, after = b.Load()
	assert.Equal(t, before.Calls, after.Calls)
}
