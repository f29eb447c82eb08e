package review_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/jury"
	"gatefold/review/store"
)

// onPage14 is a form about bib 14's line as the packet had it: with the mark of what was known of the line.
func onPage14(page, do, clock string, more ...string) url.Values {
	form := juryForm(do, more...)
	form.Set("at", clock)
	for _, mark := range []string{"public", "said"} {
		if found := regexp.MustCompile(`name="` + mark + `" value="([^"]+)"`).FindStringSubmatch(page); found != nil {
			form.Set(mark, found[1])
		}
	}
	return form
}

// A button that is pressed twice enters one protest, and one decision. Source: common practice, no source; what people said isn't said twice.
func TestPacket_PressedTwice_IsKeptOnce(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	require.Equal(t, http.StatusOK, at14(p, "posted", "12:04").status)
	form := onPage14(p.get("/packet?bib=14").body, "protest", "12:10", "from", "team official of Ash")
	require.Equal(t, http.StatusOK, p.send("/packet", form).status)
	again := p.send("/packet", form)
	assert.Equal(t, http.StatusOK, again.status)
	assert.Equal(t, 1, strings.Count(again.body, "Protest at 12:10:00"))
	form = onPage14(again.body, "upheld", "12:30", "present", "referee")
	require.Equal(t, http.StatusOK, p.send("/packet", form).status)
	again = p.send("/packet", form)
	assert.Equal(t, http.StatusOK, again.status)
	assert.Equal(t, 1, strings.Count(again.body, "upheld at 12:30:00"))

	// Another page, loaded since, on which the first is to be seen: that one is meant.
	form = onPage14(p.get("/packet?bib=14").body, "protest", "12:10", "from", "team official of Ash")
	assert.Equal(t, 2, strings.Count(p.send("/packet", form).body, "Protest at 12:10:00"))
}

// A protest is entered in one browser while the jury's decision is typed in another, whose page doesn't show it: the decision doesn't answer
// what nobody at that page has seen. Nor does it answer another protest in place of the one it was about. Source: our own logic.
func TestPacket_ProtestSinceThePageWasLoaded_IsNotAnsweredUnseen(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	require.Equal(t, http.StatusOK, at14(p, "posted", "12:04").status)
	for _, do := range []string{"upheld", "overruled"} {
		form := onPage14(p.get("/packet?bib=14").body, do, "12:30", "present", "referee")
		require.Equal(t, http.StatusOK, at14(p, "protest", "12:12", "from", do).status)
		back := p.send("/packet", form)
		assert.Equal(t, http.StatusConflict, back.status)
		assert.Contains(t, back.body, "What was protested or decided on this line has changed since this page was loaded")
		assert.Contains(t, p.get("/posting").body, "May start under protest.")
		assert.NotContains(t, p.get("/packet?bib=14").body, "at 12:30:00")
		require.Equal(t, http.StatusOK, p.send("/packet", juryForm("no-protest", "reason", "taken back")).status)
	}
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:12", "from", "Ash").status)
	form := onPage14(p.get("/packet?bib=14").body, "upheld", "12:30", "present", "referee")
	require.Equal(t, http.StatusOK, p.send("/packet", juryForm("no-protest", "reason", "taken back")).status)
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:14", "from", "Elm").status)
	assert.Equal(t, http.StatusConflict, p.send("/packet", form).status)
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
}

// The jury decided of itself, and a protest comes after that; two copies of the race have it at another minute. It is open, as it is where
// they have it alike. Source: our own logic.
func TestPosting_DisputedProtestAfterADecision_KeepsTheRacerIn(t *testing.T) {
	for _, later := range []bool{true, false} {
		b := afternoon(t)
		at, keep := aboutBib14(t)
		keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
		keep(b.Store, jury.Decision{Verdict: jury.Upheld, At: at.Add(6 * time.Minute), Present: []string{"referee"}, Gate: "6", Code: "F"})
		since := 8 * time.Minute
		if !later {
			since = time.Minute
		}
		joinTwin(t, b, at, func(s *store.Store) { keep(s, jury.Protest{At: at.Add(since), No: 1}) },
			func(s *store.Store) { keep(s, jury.Protest{At: at.Add(since + time.Minute), No: 1}) })
		assert.Equal(t, later, strings.Contains(sit(t, open(t, b), "Cleo").get("/posting").body, "May start under protest."))
	}
}

// Two copies of the race have another decision on one line, each on the protest that it knew, or on none: which of them holds is not told by
// the clock. Source: our own logic, as where both answer the same protest.
func TestPacket_TwoCopiesDecideOneLineOnOtherProtests_IsAsked(t *testing.T) {
	b := afternoon(t)
	at, keep := aboutBib14(t)
	keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
	decide := func(v jury.Verdict, minute, no int) jury.Decision {
		return jury.Decision{Verdict: v, At: at.Add(time.Duration(minute) * time.Minute), Present: []string{"referee"}, Gate: "6", Code: "F", Protest: no}
	}
	joinTwin(t, b, at, func(s *store.Store) {
		keep(s, jury.Protest{At: at.Add(2 * time.Minute), No: 1})
		keep(s, decide(jury.Overruled, 10, 1))
	}, func(s *store.Store) { keep(s, decide(jury.Upheld, 11, 0)) })
	p := sit(t, open(t, b), "Cleo")
	assert.Contains(t, p.get("/draft").body, "Two copies of this race")
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:08").status)
	// The first is decided; the second, which came before that decision, stays open.
	require.Equal(t, http.StatusOK, at14(p, "upheld", "12:20", "present", "referee", "answers", "1").status)
	assert.NotContains(t, p.get("/draft").body, "Two copies of this race")
	page := p.get("/packet?bib=14").body
	assert.Equal(t, 1, strings.Count(page, "upheld at 12:20:00"))
	assert.NotContains(t, page, "at 12:14:00")
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	assert.NotContains(t, p.get("/posting").body, "verruled by the jury")
}
