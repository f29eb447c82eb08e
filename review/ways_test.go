package review_test

import (
	"net/url"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

var offered = regexp.MustCompile(`<input type="radio" name="how" value="([^"]+)"`)

// hows are the sources of a text that a page offers.
func hows(a answer) []string {
	all := []string{}
	for _, m := range offered.FindAllStringSubmatch(a.body, -1) {
		all = append(all, m[1])
	}
	return all
}

// unread is a card with strong ink of which no number can be made.
func unread(t testing.TB) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "30", Code: "F", Gate: "3", Panel: "C"})
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
		if r.Number == 1 {
			r.Bib.Text, r.Bib.State = "", sheetmodel.Doubtful
			r.Bib.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtNotInGrammar, Detail: "no number can be made of this ink"}}
			r.Bib.Rivals = []sheetmodel.Rival{{Text: "17", Prob: 0.1}}
		}
	})
	return b
}

func TestEntry_Offers_OnlyWhatCanCount(t *testing.T) {
	server := open(t, unread(t))
	cleo := sit(t, server, "Cleo")
	page := cleo.get(bibPage(1, 1))
	assert.Equal(t, []string{"aloud", "asked"}, hows(page), "reading this ink settles nothing")
	assert.Contains(t, page.body, "Only the judge&#39;s own word counts")
	refused := cleo.typed(page, "17", "")
	assert.Contains(t, refused.body, "Not kept yet. Choose below where it comes from")
	assert.NotContains(t, refused.body, "the ink, or the judge", "the ink is no choice here")
	assert.Equal(t, []string{"aloud", "asked"}, hows(refused))
	page = cleo.get(bibPage(1, 2))
	assert.Equal(t, []string{"paper", "aloud", "asked"}, hows(page))
	assert.Contains(t, page.body, "What you read off the ink counts")

	cleo.typed(page, "31", "paper")
	page = cleo.get(bibPage(1, 2))
	assert.Equal(t, []string{"asked"}, hows(page), "whoever has typed it doesn't read it unseen")
	assert.NotContains(t, page.body, "Nothing is written in this row")
	assert.Contains(t, page.body, "You have typed this one.")
}

func TestEntry_JudgeReadsAloudWhatTheInkDoesNotShow_IsNotAskedAgain(t *testing.T) {
	b := unread(t)
	server := open(t, b)
	cleo := sit(t, server, "Cleo")
	next := cleo.typed(cleo.get(bibPage(1, 1)), "99", "aloud")
	assert.Contains(t, next.body, "99 kept, as the judge named it. The judge is not asked again")
	page := cleo.get(bibPage(1, 1))
	assert.Empty(t, hows(page))
	assert.NotContains(t, page.body, "ask the judge")

	dora := sit(t, server, "Dora")
	page = dora.get(bibPage(1, 1))
	assert.Equal(t, []string{"paper"}, hows(page))
	assert.Contains(t, page.body, "The judge has named it. What counts now is what you read off the ink.")
	assert.NotRegexp(t, `\b99\b`, page.body)
	assert.Contains(t, dora.typed(page, "99", "paper").body, "99 settled, two looks agree.")
}

// The judge's word is the judge's, also when whoever types it has tried to read the ink before.
func TestEntry_TypedAndThenReadAloud_IsTheJudgesWord(t *testing.T) {
	b := unread(t)
	p := sit(t, open(t, b), "Cleo")
	p.typed(p.get(bibPage(1, 1)), "11", "paper")
	assert.Contains(t, p.typed(p.get(bibPage(1, 1)), "17", "aloud").body, "17 settled, two looks agree.")
	s, _ := b.Load()
	assert.Equal(t, sheetmodel.LookJudgeAsked, s.Row(ref(1, 1)).BibSeen.Seen.Looks[1].Kind)
}

// Law: undo reopens an entry as not blind. What is said of it depends on what was shown.
func TestUndo_OfAnOwnSlip_SaysWhatIsTrueAndLetsTypeAgain(t *testing.T) {
	b := unread(t)
	server := open(t, b)
	cleo := sit(t, server, "Cleo")
	next := cleo.typed(cleo.get(bibPage(1, 2)), "31", "paper")
	undo := func(a answer) answer {
		id := regexp.MustCompile(`name="decision" value="(\d+)"`).FindStringSubmatch(a.body)
		require.NotNil(t, id)
		return cleo.send("/undo", url.Values{"decision": {id[1]}})
	}
	page := undo(next)
	assert.Equal(t, bibPage(1, 2), page.path)
	assert.NotContains(t, page.body, "seen it now")
	assert.NotContains(t, page.body, "been shown")
	assert.Contains(t, page.body, "Mistyped? Type it again")
	assert.Equal(t, []string{"paper", "asked"}, hows(page))

	// Typed again it is no look, but no word against the ink any more: one other person is enough.
	next = cleo.typed(page, "30", "paper")
	assert.Contains(t, next.body, "It is kept as your word and no look")
	s, _ := b.Load()
	assert.Equal(t, sheetmodel.BibOneLook, s.Row(ref(1, 2)).BibState)
	dora := sit(t, server, "Dora")
	assert.Contains(t, dora.typed(dora.get(bibPage(1, 2)), "30", "paper").body, "30 settled, two looks agree.")

	// With the settled bib on the draft, taking back is another thing.
	cleo.get("/draft")
	for _, d := range s.Decisions {
		if d.Undone == nil {
			page = cleo.send("/undo", url.Values{"decision": {strconv.FormatInt(d.ID, 10)}})
		}
	}
	assert.Contains(t, page.body, "You have been shown what was read or typed there")
}
