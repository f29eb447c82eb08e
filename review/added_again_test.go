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
	"gatefold/review/store"
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

// The photo on which a row was added comes in before an older one of the same card, as from a phone that was out of reach: on the
// older one the judge hasn't mended the row yet. Whoever sees that says so, and the newer photo counts with what was typed of it; the
// old ink is never typed in its place. Source: our own logic.
func TestAddedRow_OlderPhotoComesLate_TheOneItWasTypedFromMayCount(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "6"}
	newer := coded(t, b, "newer.jpg", front, row)[0]
	desk := open(t, b)
	ada, bo := sit(t, desk, "Ada"), sit(t, desk, "Bo")
	require.Equal(t, http.StatusOK, ada.send("/addrow/run1/Blue/card-2", url.Values{"row": {"2"}, "front": {fmt.Sprint(newer.ID)}}).status)
	for _, p := range []*person{ada, bo} {
		p.typed(p.get(bibPage(2, 2)), "37", "paper")
	}
	older := coded(t, b, "older.jpg", front, row)[0]
	st, _ := b.Load()
	q := open2(st)
	require.NotNil(t, q)
	require.Equal(t, older.ID, st.Row(ref(2, 2)).Sheet.ID)
	assert.Contains(t, ada.get("/questions").body, "no, and the earlier photo shows the card as it was handed in: that one counts")
	require.Equal(t, http.StatusOK, ada.send("/questions", url.Values{"question": {q.Key}, "answer": {stack.AnswerEarlier}, "note": {"I, from the paper"}}).status)
	st, _ = b.Load()
	assert.Nil(t, open2(st))
	r := st.Row(ref(2, 2))
	assert.Equal(t, newer.ID, r.Sheet.ID, "the whole card counts as on that photo")
	assert.Equal(t, newer.ID, st.Row(ref(2, 1)).Sheet.ID)
	assert.Equal(t, sheetmodel.BibTwoLooks, r.BibState)
	assert.Equal(t, "37", r.Bib)

	// What somebody types of the older photo all the same is no look at the row on the newer one.
	key := stacktest.Key("Blue", 2, 2, sheetmodel.PartBib)
	for _, by := range []string{"Cy", "Di"} {
		require.NoError(t, b.Store.Serve(t.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, Sheet: older.ID, What: "test"}))
		_, err := b.Store.Settle(t.Context(), store.Entry{Reading: key, Text: "31", Basis: sheetmodel.BasisOnPaper, By: by, Session: by, Sheet: older.ID})
		require.NoError(t, err)
	}
	st, _ = b.Load()
	assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 2)).BibState, "%+v", st.Row(ref(2, 2)).BibSeen.Seen)
	q = open2(st)
	require.NotNil(t, q)
	assert.Len(t, q.Answers, 2, "which photo counts has been said")

	// A word about which photo counts that is taken back counts no more.
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: strings.Replace(q.Key, older.Paper()+"/"+newer.Paper(), newer.Paper()+"/"+older.Paper(), 1), By: "Ada"}))
	st, _ = b.Load()
	assert.Equal(t, older.ID, st.Row(ref(2, 2)).Sheet.ID)
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(2, 2)).BibState)
}
