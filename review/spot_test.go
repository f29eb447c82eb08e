package review_test

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// complete is a race of one run, one course and one card, whose two rows propose nothing and wait for nobody.
func complete(t testing.TB) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	none := sheetmodel.BibList{Given: sheetmodel.ListNone}
	b.Race.Courses = []string{"Blue"}
	b.Race.Runs = []sheetmodel.Run{{
		Number: 1, DidNotStart: none, DidNotEnd: none, Reruns: none,
		Courses: []sheetmodel.CourseRun{{Course: "Blue", Gates: []string{"1", "2"}, Places: []sheetmodel.Place{{Card: 1, Name: "B1", Gates: []string{"1", "2"}}}}},
	}}
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "U", Gate: "1", Panel: "B"}, stacktest.Row{Bib: "9", Code: "U", Gate: "2", Panel: "B"})
	return b
}

// A bib that a line of the draft names goes to somebody who has not seen the draft; one that is only recorded stays typable
// for whoever has. Source: design 5.6, and our own logic for where it begins (decisions/0005).
func TestSpotCheck_GoesToSomebodyWhoHasNotSeenTheDraft(t *testing.T) {
	b := withLine(t)
	b.Race.SpotCheck = 1
	s := open(t, b)
	ada := sit(t, s, "Ada")
	require.Contains(t, ada.get("/").body, "Spot check: lot has drawn 2 bibs that you can type unseen")
	page := ada.get("/draft").body
	assert.Contains(t, page, "lot drew 2 of 2 bibs that the reader alone is certain of; 0 typed unseen, 0 as read.")
	assert.Contains(t, page, "Let somebody who has not seen this page type 1 bib of its lines unseen")
	assert.Contains(t, page, "Type 1 bib of it, which this page does not tell")
	assert.Contains(t, page, `<span class="bib">14</span>`, "a line names its racer")
	assert.Contains(t, ada.get("/").body, "lot has drawn 1 bib that you can type unseen")
	assert.NotContains(t, ada.get("/card/run1/Blue/card-1").body, "<strong>14</strong>", "a card shows its ink alone")
	ada.filled(ada.get("/spot"), url.Values{"text": {""}, "do": {"later"}, "spot": {"1"}})
	assert.Contains(t, ada.get("/spot").body, "Somebody who has not seen the draft types it.", "Ada has seen the line")

	bo := sit(t, s, "Bo")
	entry := bo.get("/spot")
	assert.Contains(t, entry.body, "Spot check: drawn by lot")
	assert.NotContains(t, entry.body, ">14<", "nothing of what was read")
	assert.NotContains(t, entry.body, "the judge reads it aloud", "the check is of the ink")
	next := bo.filled(entry, url.Values{"text": {"14"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}})
	assert.Contains(t, next.path, "/entry/", "the next one of the lot")
	assert.NotEqual(t, entry.path, next.path)
	done := bo.filled(next, url.Values{"text": {"9"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}})
	assert.Equal(t, "/", done.path)
	assert.Contains(t, done.body, "The spot check is done.")
	assert.Contains(t, bo.get("/draft").body, "2 typed unseen, 2 as read.")
	st, _ := b.Load()
	typed, wrong := st.SpotCheck().Typed()
	assert.Equal(t, []int{2, 0}, []int{typed, wrong})
}

// withLine is complete, with a first row that is written twice and proposes.
func withLine(t testing.TB) *stacktest.Table {
	t.Helper()
	b := complete(t)
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		if r.Number == 1 {
			r.Code.Text = "F"
		}
	})
	st, _ := b.Load()
	c := st.Cards[0]
	require.NoError(t, b.Store.AddTies(t.Context(), store.CardTies{
		Front: c.Front.ID, Back: c.Back.ID, Reader: "test reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Second: "14", Text: "14", Clear: true}},
	}))
	st, result := b.Load()
	require.Len(t, result.Calls, 1)
	require.False(t, result.Calls[0].Waiting)
	require.Empty(t, result.Incomplete)
	require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
	return b
}

// A bib that lot has drawn and nobody has typed shows its ink and nothing else on every route, unless a line of the draft
// stands on it: the draft page, its files, the packet, why. Typed unseen, it is told. Source: our own logic.
func TestSpotCheck_DrawnBib_ShowsItsInkAlone_OnEveryRoute(t *testing.T) {
	inFull(t)
	b := complete(t)
	b.Race.SpotCheck = 1
	for i, bib := range []string{"7489", "8597"} {
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: bib, Group: "girls"}, Course: "Blue"})
		readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
			if r.Number == i+1 {
				r.Bib.Text = bib
			}
		})
	}
	st, result := b.Load()
	require.Empty(t, result.Incomplete)
	require.Len(t, st.SpotCheck().Drawn, 2)
	p := sit(t, open(t, b), "Cleo")
	got := crawl(t, p, st, "/posting", "/why?bib=14", "/packet?bib=14&group=girls", "/live?once", "/card/run1/Blue/card-1")
	require.Greater(t, len(got), 40)
	for path, a := range got {
		for _, secret := range []string{"7489", "8597"} {
			assert.Empty(t, leak(a, secret), "%s in %s", secret, path)
		}
	}
	assert.Contains(t, got["/draft"].body, "2 rows are shown as ink only")
	// Asked for by its number, it says no more than for one that nobody wrote.
	b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "7938", Group: "girls"}, Course: "Blue"})
	for _, path := range []string{"/packet?group=girls&bib=", "/why?group=girls&bib="} {
		assert.Equal(t, p.get(path+"7938").body, strings.ReplaceAll(p.get(path+"7489").body, "7489", "7938"), path)
	}
	p.filled(p.get("/spot"), url.Values{"text": {"7489"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}})
	st, _ = b.Load()
	typed, wrong := st.SpotCheck().Typed()
	require.Equal(t, []int{1, 0}, []int{typed, wrong}, "after all that was sent it is still typed unseen")
	body := p.get("/draft").body
	assert.Contains(t, body, "7489")
	assert.NotContains(t, body, "8597")
}

// A drawn bib that a question names isn't covered: nothing may stay open because lot has drawn it. Source: our own logic.
func TestSpotCheck_DrawnBibThatAQuestionNames_HoldsNothingUp(t *testing.T) {
	b := complete(t)
	b.Race.SpotCheck = 1
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		if r.Number == 1 {
			r.Bib.Text = "7489" // on no start list
		}
	})
	_, result := b.Load()
	require.NotEmpty(t, result.Findings)
	page := sit(t, open(t, b), "Cleo").get("/draft").body
	assert.Contains(t, page, "7489")
	assert.Contains(t, page, "1 row is shown as ink only", "the other one")
}

func TestSpotCheck_AnotherBib_MakesTheRowWait(t *testing.T) {
	b := complete(t)
	b.Race.SpotCheck = 1
	s := open(t, b)
	bo := sit(t, s, "Bo")
	bo.filled(bo.get("/spot"), url.Values{"text": {"19"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}})
	st, _ := b.Load()
	check := st.SpotCheck()
	typed, wrong := check.Typed()
	assert.Equal(t, []int{1, 1}, []int{typed, wrong})
	assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)

	// Somebody else reads the ink as the machine did: the reader was right, the first typist wrong.
	b.Type("Cy", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	st, _ = b.Load()
	require.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState)
	_, wrong = st.SpotCheck().Typed()
	assert.Zero(t, wrong)
}

// Before the draft is out nobody is asked, and a race that wants no check is never asked.
func TestSpotCheck_HoldsNothingUp(t *testing.T) {
	b := complete(t)
	s := open(t, b)
	b.Race.SpotCheck = 0
	bo := sit(t, s, "Bo")
	assert.Contains(t, bo.get("/spot").body, "No bib was drawn for the spot check.")
	assert.NotContains(t, bo.get("/draft").body, "Spot check")

	b = complete(t)
	b.Race.SpotCheck = 1
	b.Race.Runs[0].DidNotStart.Given = sheetmodel.ListUnknown
	assert.Contains(t, sit(t, open(t, b), "Cy").get("/spot").body, "The spot check has not begun for 2 bibs drawn")
}

func TestWhy_SaysStepByStep_AndGivesAsMuchAwayAsTheDraft(t *testing.T) {
	b := complete(t)
	b.Race.SpotCheck = 1
	s := open(t, b)
	ada := sit(t, s, "Ada")
	assert.NotContains(t, ada.get("/why").body, "Not on the list", "no bib was asked for")
	assert.Contains(t, ada.get("/spot").path, "/entry/", "and nothing was given away")
	assert.NotContains(t, ada.get("/why?bib=14").body, "row 1", "lot has drawn it")
	b.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	page := ada.get("/why?bib=14").body
	assert.Contains(t, page, "Not on the list: 1 row names it, and none proposes anything.")
	assert.Contains(t, page, "Card 1, row 1, place B1: U at gate 1.")
	assert.Contains(t, ada.get("/spot").path, "/entry/", "the other one stays covered")
	assert.Contains(t, ada.get("/why?bib=999").body, "The start list has no such bib.")
}

// A row that somebody set aside stays so: lot asks nobody for it, for whatever is typed after it would be the newest
// word and make the row stand again.
func TestSpotCheck_RowSetAside_IsNotAskedFor(t *testing.T) {
	b := complete(t)
	b.Race.SpotCheck = 1
	bo := sit(t, open(t, b), "Bo")
	early := bo.get("/spot")
	require.Contains(t, early.path, "/entry/")
	for row := 1; row <= 2; row++ {
		b.SetAside("Ada", stacktest.Key("Blue", 1, row, sheetmodel.PartBib), "the judge says it was another racer")
	}
	assert.Equal(t, "/", bo.get("/spot").path)
	// Nor does a page help that was open before.
	bo.filled(early, url.Values{"text": {"14"}, "how": {"paper"}, "do": {"settle"}, "spot": {"1"}})
	st, _ := b.Load()
	for i := range st.Rows {
		assert.Equal(t, sheetmodel.BibSetAside, st.Rows[i].BibState)
	}
}

// Whoever had the entry open before a row was set aside doesn't make it stand again by typing.
func TestEntry_RowSetAsideMeanwhile_IsNotBroughtBack(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	bo := sit(t, open(t, b), "Bo")
	early := bo.get("/entry/" + key)
	b.SetAside("Ada", key, "the judge says it was another racer")
	late := bo.typed(early, "14", "paper")
	assert.Equal(t, 409, late.status)
	assert.Contains(t, late.body, "Somebody has set this row aside")
	st, _ := b.Load()
	assert.Equal(t, sheetmodel.BibSetAside, st.Rows[0].BibState)
}
