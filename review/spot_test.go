package review_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
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

func TestSpotCheck_GoesToSomebodyWhoHasNotSeenTheDraft(t *testing.T) {
	b := complete(t)
	b.Race.SpotCheck = 1
	s := open(t, b)
	ada := sit(t, s, "Ada")
	page := ada.get("/draft").body
	assert.Contains(t, page, "lot drew 2 of 2 bibs that the reader alone is certain of; 0 typed unseen, 0 as read.")
	assert.Contains(t, ada.get("/spot").body, "Somebody who has not seen the draft types it.", "Ada has seen it")

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
	page := ada.get("/why?bib=14").body
	assert.Contains(t, page, "Not on the list: 1 row names it, and none proposes anything.")
	assert.Contains(t, page, "Card 1, row 1, place B1: U at gate 1.")
	assert.Equal(t, "/", ada.get("/spot").path, "she can type none of it unseen any more")
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
