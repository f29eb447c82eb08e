package review_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/jury"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
)

// twoFirstProtests is a line that is public, on which each of two copies has another team's first protest.
func twoFirstProtests(t *testing.T, also ...jury.Decision) *stacktest.Table {
	t.Helper()
	b := afternoon(t)
	at := time.Date(2027, 1, 23, 12, 4, 0, 0, time.FixedZone("", 3600))
	line := jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}
	keep := func(s *store.Store, what any) {
		require.NoError(t, s.Answer(t.Context(), store.Answer{Question: jury.Key(line, what), Value: jury.Value(what), By: "Cleo"}))
	}
	keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
	joinTwin(t, b, at, func(s *store.Store) {
		keep(s, jury.Protest{At: at.Add(5 * time.Minute), No: 1, From: "Ash"})
		for _, d := range also {
			d.At = at.Add(6 * time.Minute)
			keep(s, d)
		}
	}, func(s *store.Store) { keep(s, jury.Protest{At: at.Add(7 * time.Minute), No: 1, From: "Elm"}) })
	return b
}

// Two desks each took another team's first protest: the page shows both, and keeps both where they are two. Source: our own logic; nothing that
// people said is replaced without a word.
func TestPacket_TwoCopiesHaveAFirstProtestEach_NoneIsLost(t *testing.T) {
	for _, how := range []string{"at once", "one by one"} {
		p := sit(t, open(t, twoFirstProtests(t)), "Cleo")
		page := p.get("/packet?bib=14").body
		assert.Contains(t, page, "12:09:00, Ash")
		assert.Contains(t, page, "12:11:00, Elm")
		if how == "at once" {
			page = at14(p, "two-protests", "").body
		} else {
			page = at14(p, "protest", "12:11", "from", "Elm").body
			assert.Contains(t, page, "12:09:00, Ash", "what the other copy said isn't gone without a word")
			page = at14(p, "protest", "12:09", "from", "Ash").body
		}
		assert.Contains(t, page, "Protest at 12:09:00 by Ash.", how)
		assert.Contains(t, page, "Protest at 12:11:00 by Elm.", how)
		assert.NotContains(t, p.get("/draft").body, "Two copies of this race", how)
		assert.Contains(t, p.get("/posting").body, "May start under protest.")
		assert.Equal(t, http.StatusConflict, at14(p, "two-protests", "").status, "pressed twice, nothing is kept twice")
		assert.NotContains(t, p.get("/packet?bib=14").body, "each otherwise")
	}
}

// One of the two copies has the jury's decision on its own first protest: of the other team's nothing is decided, and the racer isn't kept from run 2
// as if it were. Source: our own logic.
func TestPosting_OneOfTwoFirstProtestsIsDecided_TheOtherKeepsTheRacerIn(t *testing.T) {
	upheld := jury.Decision{Verdict: jury.Upheld, Present: []string{"referee"}, Gate: "6", Code: "F", Protest: 1}
	p := sit(t, open(t, twoFirstProtests(t, upheld)), "Cleo")
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	assert.Contains(t, p.get("/packet?bib=14").body, "Enter first the one that the jury has decided on")
	assert.Equal(t, http.StatusConflict, at14(p, "two-protests", "").status)
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:09", "from", "Ash").status)
	assert.Contains(t, p.get("/posting").body, "May not start.")
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:11", "from", "Elm").status)
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
}
