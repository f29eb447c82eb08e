package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A row that people added is seen by no reader, so no reader tells whether its judge has mended it on a newer photo of the card: what
// was typed of it counts there only once a person has held the two photos beside each other. Source: our own logic.
func TestAddedRow_NewerPhoto_ItsLooksAreAskedAbout(t *testing.T) {
	for _, newer := range []string{"unseen", "seen"} {
		for _, says := range []string{stack.AnswerSame, stack.AnswerOther} {
			name := newer + ", " + says
			b := stacktest.New(t)
			rows := []stacktest.Row{{Bib: "14", Code: "F", Gate: "6"}}
			first := coded(t, b, "one.jpg", front, rows...)[0]
			desk := open(t, b)
			ada, bo := sit(t, desk, "Ada"), sit(t, desk, "Bo")
			require.Equal(t, http.StatusOK, ada.send("/addrow/run1/Blue/card-2", url.Values{"row": {"2"}, "front": {fmt.Sprint(first.ID)}}).status)
			for _, p := range []*person{ada, bo} {
				p.typed(p.get(bibPage(2, 2)), "37", "paper")
			}
			st, _ := b.Load()
			require.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 2)).BibState, name)
			require.Nil(t, open2(st), name)

			if newer == "seen" {
				rows = append(rows, stacktest.Row{Bib: "37", Code: "F", Gate: "6", State: sheetmodel.Doubtful})
			}
			coded(t, b, "two.jpg", front, rows...)
			st, _ = b.Load()
			r := st.Row(ref(2, 2))
			assert.Equal(t, sheetmodel.BibWaiting, r.BibState, name)
			var q *stack.PhotoQuestion
			for i := range st.Questions {
				if strings.HasPrefix(st.Questions[i].Key, "row-again/") {
					q = &st.Questions[i]
				}
			}
			require.NotNil(t, q, name)
			assert.Contains(t, ada.get("/questions").body, "Row 2 of card 2 was added by hand and typed from another photo than the one that counts now.", name)
			for _, other := range st.Questions { // that the newer photo shows ink where the older showed none
				if !other.Answered && other.Key != q.Key {
					require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {other.Key}, "answer": {stack.AnswerLater}, "note": {"I, from the paper"}}).status)
				}
			}
			require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {q.Key}, "answer": {says}, "note": {"I, from the paper"}}).status)
			st, _ = b.Load()
			r = st.Row(ref(2, 2))
			assert.Nil(t, open2(st), name)
			assert.Equal(t, says == stack.AnswerSame, r.BibState == sheetmodel.BibTwoLooks, "%s: %+v", name, r.BibSeen.Seen)
			if says == stack.AnswerOther {
				assert.Equal(t, sheetmodel.BibWaiting, r.BibState, name)
				assert.Equal(t, stack.NewerInk, r.BibSeen.Seen.Reason, name)
			}
		}
	}
}
