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
	"gatefold/review/stack/stacktest"
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
	const caution = "two copies of this race say differently what was posted, protested or decided: enter it again"
	assert.Contains(t, page, caution, "on run 2's list, too")
	again := juryForm("overruled", "present", "referee")
	require.Equal(t, http.StatusOK, p.send("/packet", again).status)
	page = p.get("/posting").body
	assert.Contains(t, page, "Back in.")
	assert.NotContains(t, page, caution)
}

// Two copies of the race say differently when a line was made public, or one of them that it was withdrawn: the board has no
// clock for it and strikes nothing, whichever copy was joined into which, until somebody enters it again, on either page.
// Source: our own logic.
func TestPosting_TwoCopiesPostedOtherwise_NoClockUntilEnteredAgain(t *testing.T) {
	at := time.Date(2027, 1, 23, 12, 4, 0, 0, time.FixedZone("", 3600))
	line := jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}
	posted := func(clock time.Time) jury.Posting { return jury.Posting{At: clock, Gate: "6", Code: "F", Minutes: 15} }
	withdrawn := posted(at.Add(20 * time.Minute))
	withdrawn.Withdrawn, withdrawn.Why = true, "wrong gate"
	corrected := posted(at.Add(6 * time.Minute))
	corrected.Corrected = true
	later := posted(at.Add(26 * time.Minute))
	for name, c := range map[string]struct{ before, here, there *jury.Posting }{
		"both made it public":            {nil, new(posted(at)), &later},
		"the other way round":            {nil, &later, new(posted(at))},
		"withdrawn here":                 {new(posted(at)), &withdrawn, &corrected},
		"withdrawn in the other copy":    {new(posted(at)), &corrected, &withdrawn},
		"withdrawn there, entered there": {nil, new(posted(at)), &withdrawn},
	} {
		for page, enter := range map[string]func(p *person) answer{
			"posting": func(p *person) answer {
				return p.send("/posting", postingForm("corrected", "12:11:00", "group", "girls", "bib", "14"))
			},
			"packet": func(p *person) answer {
				form := juryForm("posted")
				form.Set("at", "12:11:00")
				return p.send("/packet", form)
			},
		} {
			t.Run(name+", entered on "+page, func(t *testing.T) {
				b := afternoon(t)
				keep := func(s *store.Store, what *jury.Posting) {
					t.Helper()
					if what != nil {
						require.NoError(t, s.Answer(t.Context(), store.Answer{Question: jury.Key(line, *what), Value: jury.Value(*what), By: "Cleo"}))
					}
				}
				keep(b.Store, c.before)
				joinTwin(t, b, at, func(s *store.Store) { keep(s, c.there) }, func(s *store.Store) { keep(s, c.here) })

				p := sit(t, open(t, b), "Cleo")
				board := p.get("/posting").body
				assert.Contains(t, board, "Two copies of this race say differently when this line was made public")
				for _, clock := range []string{"12:04:00", "12:10:00", "12:19:00", "12:30:00", "12:45:00", "Back in.", "wrong gate"} {
					assert.NotContains(t, board, clock)
				}
				assert.Contains(t, board, "May not start.")
				assert.Regexp(t, `href="/posting">Two copies of this race`, p.get("/draft").body)

				require.Equal(t, http.StatusOK, enter(p).status)
				board = p.get("/posting").body
				assert.NotContains(t, board, "Two copies of this race")
				assert.Contains(t, board, "12:11:00")
				assert.Contains(t, board, "12:26:00")
				assert.Contains(t, board, "May not start.")
				assert.Contains(t, p.get("/packet?bib=14").body, "12:11:00; protests until 12:26:00")
			})
		}
	}
}

// joinTwin copies a race, lets both copies say something, joins the copy, and asks for something that waits.
func joinTwin(t *testing.T, b *stacktest.Table, at time.Time, there, here func(*store.Store)) {
	t.Helper()
	other := filepath.Join(t.TempDir(), "other")
	require.NoError(t, os.CopyFS(other, os.DirFS(b.Store.Dir())))
	opt := store.Options{Now: func() time.Time { return at.Add(time.Hour) }}
	o, err := store.Open(t.Context(), other, opt)
	require.NoError(t, err)
	there(o)
	require.NoError(t, o.Close())
	here(b.Store)
	twin, err := store.OpenCopy(t.Context(), other, t.TempDir(), opt)
	require.NoError(t, err)
	joined, err := b.Store.Join(t.Context(), twin)
	require.NoError(t, errors.Join(err, twin.Close()))
	require.NotEmpty(t, joined.Disputes)
}

// aboutBib14 is 12:04 on the day of the race, and keeps in a store what was said of bib 14's line.
func aboutBib14(t *testing.T) (at time.Time, keep func(*store.Store, any)) {
	t.Helper()
	line := jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}
	return time.Date(2027, 1, 23, 12, 4, 0, 0, time.FixedZone("", 3600)), func(s *store.Store, what any) {
		t.Helper()
		require.NoError(t, s.Answer(t.Context(), store.Answer{Question: jury.Key(line, what), Value: jury.Value(what), By: "Cleo"}))
	}
}

// Two copies have a protest at another time: that one was handed in is sure, and the racer isn't kept from run 2 as if there were
// none. Entered again, or decided, it is as ever. Source: our own logic.
func TestPosting_ProtestThatTwoCopiesHaveOtherwise_StillKeepsTheRacerIn(t *testing.T) {
	b := afternoon(t)
	at, keep := aboutBib14(t)
	keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
	joinTwin(t, b, at, func(s *store.Store) { keep(s, jury.Protest{At: at.Add(5 * time.Minute)}) },
		func(s *store.Store) { keep(s, jury.Protest{At: at.Add(7 * time.Minute), From: "team official"}) })
	p := sit(t, open(t, b), "Cleo")
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	assert.Contains(t, p.get("/draft").body, `href="/packet?bib=14&amp;group=girls">Two copies of this race`)
	form := juryForm("protest")
	form.Set("at", "12:10")
	require.Equal(t, http.StatusOK, p.send("/packet", form).status)
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	assert.NotContains(t, p.get("/draft").body, "Two copies of this race")
	form = juryForm("upheld", "present", "referee")
	form.Set("at", "12:20")
	require.Equal(t, http.StatusOK, p.send("/packet", form).status)
	assert.Contains(t, p.get("/posting").body, "May not start.")
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
