package review_test

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/jury"
	"gatefold/review/store"
)

// A line went out with gaps on the referee's word. That its time was entered wrongly changes nothing of that, on any page.
// Source: our own logic.
func TestPosting_TimeCorrected_StillWentOutWithGaps(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	const gaps = "Made public on the referee&#39;s word while the list was incomplete"
	p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F")))
	require.Contains(t, p.get("/packet?bib=14").body, gaps)
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("corrected", "12:03", "group", "girls", "bib", "14")).status)
	assert.Contains(t, p.get("/posting").body, "made public on the referee's word while the list was incomplete")
	assert.Contains(t, p.get("/packet?bib=14").body, gaps)
}

// Two copies of the race have the jury's decision otherwise: until it is entered again nobody is back in by one of them.
// Source: our own logic.
func TestPosting_DecisionThatTwoCopiesHaveOtherwise_CountsNowhere(t *testing.T) {
	b := afternoon(t)
	line := jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}
	at := time.Date(2027, 1, 23, 12, 4, 0, 0, time.FixedZone("", 3600))
	keep := func(s *store.Store, what any) {
		t.Helper()
		require.NoError(t, s.Answer(t.Context(), store.Answer{Question: jury.Key(line, what), Value: jury.Value(what), By: "Cleo"}))
	}
	keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
	keep(b.Store, jury.Protest{At: at.Add(5 * time.Minute)})
	other := filepath.Join(t.TempDir(), "other")
	require.NoError(t, os.CopyFS(other, os.DirFS(b.Store.Dir())))
	opt := store.Options{Now: func() time.Time { return at.Add(time.Hour) }}
	o, err := store.Open(t.Context(), other, opt)
	require.NoError(t, err)
	decided := jury.Decision{Verdict: jury.Overruled, At: at.Add(20 * time.Minute), Present: []string{"referee"}, Gate: "6", Code: "F"}
	keep(o, decided)
	require.NoError(t, o.Close())
	decided.Verdict = jury.Upheld
	keep(b.Store, decided)
	c, err := store.OpenCopy(t.Context(), other, t.TempDir(), opt)
	require.NoError(t, err)
	joined, err := b.Store.Join(t.Context(), c)
	require.NoError(t, errors.Join(err, c.Close()))
	require.NotEmpty(t, joined.Disputes)
	p := sit(t, open(t, b), "Cleo")
	page := p.get("/posting").body
	assert.NotContains(t, page, "Back in.")
	assert.NotContains(t, page, "overruled by the jury")
	assert.Contains(t, page, "May start under protest.")
	again := juryForm("overruled", "present", "referee")
	require.Equal(t, http.StatusOK, p.send("/packet", again).status)
	assert.Contains(t, p.get("/posting").body, "Back in.")
}

// Two people at once say when a line was made public, on two pages: one is kept, and board and packet have one clock.
// Source: our own logic.
func TestPosting_TwoPeopleAtOnce_KeepOneClock(t *testing.T) {
	b := afternoon(t)
	desk := open(t, b)
	var people []*person
	for i := range 6 {
		people = append(people, sit(t, desk, string(rune('K'+i))+"im"))
	}
	var together sync.WaitGroup
	for i, p := range people {
		clock := fmt.Sprintf("12:%02d:00", 4+i)
		together.Go(func() {
			if i%2 == 0 {
				p.post("/posting", postingForm("posted", clock, "line", postedForm("14", "6", "F")))
				return
			}
			form := juryForm("posted")
			form.Set("at", clock)
			p.post("/packet", form)
		})
	}
	together.Wait()
	answers, err := b.Store.Answers(t.Context())
	require.NoError(t, err)
	posted := 0
	for _, a := range answers {
		if jury.IsKey(a.Question) {
			posted++
		}
	}
	assert.Equal(t, 1, posted)
}
