package review_test

import (
	"crypto/sha256"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack/stacktest"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

const struckKey = "struck-row/1/Blue/2/1"

// folded is a stack with a line through row 1 of card 2, whose judge counted two rows that stand: the
// line is a fold of the card.
func folded(t testing.TB) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 2, stacktest.Row{Bib: "4871", Code: "F", Gate: "9", Panel: "B"}, stacktest.Row{Bib: "30", Code: "F", Gate: "10", Panel: "C"})
	readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) { r.Struck = r.Number == 1 })
	b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "4871", Group: "girls"}, Course: "Blue"})
	return b
}

func says(p *person, value string) answer {
	p.t.Helper()
	return p.send("/questions", url.Values{"question": {struckKey}, "answer": {value}, "note": {"the judge"}})
}

func gapsOf(result rules.Result) string {
	all := ""
	for _, g := range result.Incomplete {
		all += g.Why + "\n"
	}
	return all
}

func TestStruck_FootCountsTheRow_IsAskedWithItsInkAndHoldsTheDraft(t *testing.T) {
	b := folded(t)
	p := sit(t, open(t, b), "Cleo")
	_, result := b.Load()
	assert.True(t, waits(result.Standings, ref(2, 1)))
	assert.Contains(t, gapsOf(result), "row 1 waits: it may be struck out by its judge")
	page := p.get("/questions")
	assert.Regexp(t, `Is row 1 of card 2 \(Blue, [^)]+\) struck out by its judge\?`, page.body)
	assert.Contains(t, page.body, "Photo of card 2, row 1")
	assert.NotContains(t, page.body, "Are the rows on this card all there are?", "which rows are struck comes first")
	assert.Contains(t, p.get("/draft").body, "it may be struck out by its judge")
	assert.NotEqual(t, bibPage(2, 1), p.get(bibPage(2, 1)).path, "nothing is typed of it yet")
}

func TestStruck_No_TheRowCountsAndWaitsForItsLooks(t *testing.T) {
	b := folded(t)
	p := sit(t, open(t, b), "Cleo")
	a := says(p, "stands")
	require.Equal(t, http.StatusOK, a.status)
	s, result := b.Load()
	row := s.Row(ref(2, 1))
	assert.Equal(t, sheetmodel.BibWaiting, row.BibState, "nothing that was read through the line is clear")
	assert.False(t, row.CodeSure)
	assert.False(t, row.GateSure)
	assert.True(t, waits(result.Standings, ref(2, 1)))
	assert.Equal(t, look.NeedJudge, row.BibSeen.Seen.Next)

	page := p.get(bibPage(2, 1))
	require.Equal(t, bibPage(2, 1), page.path, "the entry is there")
	p.typed(page, "4871", "asked")
	for part, text := range map[sheetmodel.Part]string{sheetmodel.PartCode: "F", sheetmodel.PartGate: "9"} {
		p.typed(p.get("/entry/"+stacktest.Key("Blue", 2, 1, part)), text, "asked")
	}
	_, result = b.Load()
	require.NotEmpty(t, result.Calls)
	assert.Equal(t, "4871", result.Calls[len(result.Calls)-1].Bib)
	assert.NotContains(t, gapsOf(result), "row 1 waits")
	assert.NotContains(t, gapsOf(result), "the number at its foot", "which agrees now")
}

func TestStruck_Yes_IsRecordedByNameAndCanBeTakenBack(t *testing.T) {
	b := folded(t)
	p := sit(t, open(t, b), "Cleo")
	says(p, "struck")
	_, result := b.Load()
	assert.False(t, waits(result.Standings, ref(2, 1)))
	assert.Contains(t, p.get("/draft").body, "Struck out by the judge, said by Cleo")
	assert.Contains(t, p.get("/draft/draft.json").body, "struck out by its judge, said by Cleo")
	page := p.get("/questions")
	assert.Contains(t, page.body, "not counting 1 that is struck out", "the foot counts two")
	assert.Contains(t, page.body, "yes: it is struck out")
	p.send("/questions", url.Values{"question": {struckKey}, "do": {"again"}})
	_, result = b.Load()
	assert.True(t, waits(result.Standings, ref(2, 1)))
	assert.Contains(t, p.get("/questions").body, "struck out by its judge?")
}

func TestStruck_FootLeavesTheRowOut_NothingIsAsked(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 2, stacktest.Row{Bib: "4871", Code: "F", Gate: "9", Struck: true}, stacktest.Row{Bib: "30", Code: "F", Gate: "10"})
	p := sit(t, open(t, b), "Cleo")
	assert.NotContains(t, p.get("/questions").body, "struck out by its judge?")
	body := p.get("/draft").body
	assert.Contains(t, body, "Struck out by the judge, as the number at the card")
	assert.NotContains(t, body, "4871")
}

// Before, between and after the answers no page tells what was read in the row, for somebody may still
// have to type it: another text read off the same ink gives the very same bytes.
func TestStruck_Secrecy_NothingThatIsSentDependsOnWhatWasRead(t *testing.T) {
	inFull(t)
	const other = "4970"
	crawlAll := func(text string) []map[string]answer {
		b := folded(t)
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: other, Group: "girls"}, Course: "Blue"})
		readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
			if r.Number == 1 {
				r.Bib.Text = text
			}
		})
		server := open(t, b)
		cleo := sit(t, server, "Cleo")
		var all []map[string]answer
		round := func() {
			st, _ := b.Load()
			all = append(all, crawl(t, sit(t, server, "Dora"), st))
		}
		round()
		says(cleo, "struck")
		round()
		cleo.send("/questions", url.Values{"question": {struckKey}, "do": {"again"}})
		says(cleo, "stands")
		round()
		return all
	}
	one, two := crawlAll("4871"), crawlAll(other)
	require.Len(t, one, 3)
	for i, when := range []string{"asked", "struck", "stands"} {
		require.Len(t, two[i], len(one[i]))
		assert.Contains(t, one[i], "/draft/draft.pdf")
		for path, a := range one[i] {
			assert.NotEqual(t, http.StatusInternalServerError, a.status, path)
			assert.Equal(t, a.path, two[i][path].path, "%s: %s", when, path)
			assert.Equal(t, sha256.Sum256([]byte(a.body)), sha256.Sum256([]byte(two[i][path].body)), "%s: %s differs", when, path)
			assert.Empty(t, leak(a, "4871"), "%s: %s", when, path)
		}
	}
}
