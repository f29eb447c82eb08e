package review_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// Two rows are counted and typed from the paper, then one: the second is asked about on its page.
func TestQuestions_RowTypedBefore_IsAskedWithoutAPicture(t *testing.T) {
	b := stacktest.New(t)
	p := sit(t, open(t, b), "Cleo")
	p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"2"}})
	p.typed(p.get("/entry/"+stacktest.Key("Blue", 6, 2, sheetmodel.PartBib)), "19", "paper")
	p.send("/paper/run1/Blue/card-6", url.Values{"rows": {"1"}})
	body := p.get("/questions").body
	assert.Contains(t, body, "Row 2 of card 6 was entered before")
	assert.NotContains(t, body, "/ink/0/")
	st, _ := b.Load()
	a := p.send("/questions", url.Values{"question": {st.Questions[0].Key}, "answer": {stack.AnswerNotThere}})
	assert.Equal(t, 200, a.status, a.body)
	st, _ = b.Load()
	assert.Equal(t, sheetmodel.BibSetAside, st.Row(ref(6, 2)).BibState)
}
