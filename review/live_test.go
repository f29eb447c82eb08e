package review_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// Two people never get the same entry: each is led to one of their own, and who comes to one that is taken is
// led on. What is left, given up or forgotten is free again. Expected values: our own logic.
func TestHold_TwoPeople_NeverGetTheSameEntry(t *testing.T) {
	h := openHut(t, afternoon(t))
	ada, bo := sit(t, h.here, "Ada"), sit(t, h.here, "Bo")
	first := ada.get("/next").path
	require.True(t, strings.HasPrefix(first, "/entry/"), first)
	second := bo.get("/next").path
	require.True(t, strings.HasPrefix(second, "/entry/"), second)
	assert.NotEqual(t, first, second)
	a := bo.get(first)
	assert.Equal(t, second, a.path)
	assert.Contains(t, a.body, "Somebody else is at that entry now.")
	assert.NotContains(t, a.body, "Ada")

	// The same person at a second browser takes it along.
	assert.Equal(t, first, sit(t, h.here, "ada").get(first).path)

	// Whoever leaves gives it up; whoever walks away does after two minutes.
	ada.send("/who", url.Values{"name": {"Ada"}})
	h.wait(2*time.Minute + time.Second)
	assert.Equal(t, first, bo.get(first).path)
	assert.Equal(t, second, ada.get("/next").path)
}

// With one entry left, a second person is told that it is in front of somebody, and not who.
func TestHold_AllTaken_IsSaid(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", State: sheetmodel.Doubtful, Code: "F", Gate: "6"})
	h := openHut(t, b)
	ada, bo := sit(t, h.here, "Ada"), sit(t, h.here, "Bo")
	require.True(t, strings.HasPrefix(ada.get("/next").path, "/entry/"))
	a := bo.get("/next")
	assert.False(t, strings.HasPrefix(a.path, "/entry/"), a.path)
	assert.Contains(t, a.body, "in front of other people just now")
}

// event reads the next piece of news of a stream.
func event(t *testing.T, r *bufio.Scanner) map[string]any {
	t.Helper()
	for r.Scan() {
		if data, is := strings.CutPrefix(r.Text(), "data: "); is {
			var n map[string]any
			require.NoError(t, json.Unmarshal([]byte(data), &n))
			return n
		}
	}
	require.Fail(t, "the stream has ended", r.Err())
	return nil
}

// What somebody settles is told to every open page, without a word of what was typed. Format: WHATWG HTML, 9.2.
func TestLive_ADecision_IsToldToTheOthers(t *testing.T) {
	h := openHut(t, afternoon(t))
	ada, bo := sit(t, h.here, "Ada"), sit(t, h.here, "Bo")
	at := ada.get("/next")
	ctx, hangUp := context.WithCancel(t.Context())
	defer hangUp()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, bo.base+"/live?here=stack&at=-1&entry="+url.QueryEscape(strings.TrimPrefix(at.path, "/entry/")), nil)
	require.NoError(t, err)
	res, err := bo.http.Do(r)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	require.Equal(t, "text/event-stream", res.Header.Get("Content-Type"))
	lines := bufio.NewScanner(res.Body)
	lines.Buffer(nil, 1<<20)
	before := event(t, lines)
	assert.Equal(t, false, before["gone"])
	assert.Contains(t, before["nav"], `aria-current="page">Stack`)
	text := "7713"
	ada.filled(at, url.Values{"text": {text}, "how": {"paper"}, "do": {"settle"}, "sure": {text}})
	after := event(t, lines)
	assert.Greater(t, after["moment"], before["moment"])
	all, err := json.Marshal(after)
	require.NoError(t, err)
	assert.NotContains(t, string(all), text)
	h.desk.HangUp()
	for lines.Scan() {
	}
	assert.NoError(t, lines.Err(), "the desk has hung up")
}

// Who only looks at pages makes no news.
func TestLive_LookingAtPages_IsNoNews(t *testing.T) {
	h := openHut(t, afternoon(t))
	ada, bo := sit(t, h.here, "Ada"), sit(t, h.here, "Bo")
	moment := func() any {
		var n map[string]any
		require.NoError(t, json.Unmarshal([]byte(bo.get("/live?once").body), &n))
		return n["moment"]
	}
	before := moment()
	for _, path := range []string{"/", "/draft", "/card/run1/Blue/card-3", "/why?bib=14"} {
		ada.get(path)
	}
	assert.Equal(t, before, moment())
}

// In a browser: the stack shows what others did without being loaded again, and what somebody is typing stays.
func TestLive_InChromium_TheStackMovesAndTypingStays(t *testing.T) {
	h := openHut(t, afternoon(t))
	air := openAir(t, h.here.URL)
	b := startBrowser(t)
	at := "http://127.0.0.1:" + air.port()
	bo := sit(t, h.here, "Bo")
	b.do(chromedp.EmulateViewport(1280, 860), chromedp.Navigate(at+"/who"))
	b.settle()
	b.keys("Ada" + kb.Enter)
	b.on("/")
	b.do(chromedp.Evaluate[chromedp.Void](`window.same = true; undefined`))
	gap := func(reason string) {
		form := url.Values{"reason": {reason}}
		if reason == "" {
			form.Set("do", "open")
		}
		bo.send("/gap/run1/Blue/card-6", form)
	}
	gap("the card is lost")
	require.Eventually(t, func() bool {
		return eval[bool](b, `document.getElementById('main').textContent.includes('the card is lost')`)
	}, 30*time.Second, 100*time.Millisecond)
	assert.True(t, eval[bool](b, `window.same === true`), "the page was not loaded again")

	b.do(chromedp.Navigate(at + "/next"))
	b.settle()
	b.do(chromedp.SendKeys(`#text`, "12"))
	missing := eval[string](b, `document.querySelector('section.left').textContent`)
	gap("")
	require.Eventually(t, func() bool {
		return eval[string](b, `document.querySelector('section.left').textContent`) != missing
	}, 30*time.Second, 100*time.Millisecond)
	assert.Equal(t, "12", eval[string](b, `document.getElementById('text').value`))
	assert.True(t, eval[bool](b, `document.activeElement.id === 'text'`), "and the cursor with it")

	// The line goes down: what was typed stays, and the page hears again once the line is back.
	air.breakNow()
	gap("nobody stood there")
	time.Sleep(2 * time.Second)
	air.mend()
	require.Eventually(t, func() bool {
		return eval[string](b, `document.querySelector('section.left').textContent`) == missing
	}, 60*time.Second, 200*time.Millisecond)
	assert.Equal(t, "12", eval[string](b, `document.getElementById('text').value`))
}

// Four people at once, each in another order: every page is made while another is made, and while decisions come in. The
// race detector looks at it. Each is answered, and what each typed is kept.
func TestDesk_FourAtOnce_EveryoneIsAnswered(t *testing.T) {
	b := afternoon(t)
	server := open(t, b)
	var everyone []*person
	for _, name := range []string{"Cleo", "Dora", "Edda", "Finn"} {
		everyone = append(everyone, sit(t, server, name))
	}
	before, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	wrong := make([][]string, len(everyone))
	var all sync.WaitGroup
	for i, p := range everyone {
		all.Go(func() {
			for n := range pages {
				path := pages[(n*(i+1)+i)%len(pages)]
				if n == len(pages)/2 {
					p.typed(p.get(bibPage(1, 2)), fmt.Sprint(60+i), "paper")
				}
				if a := p.get(path); a.status != http.StatusOK {
					wrong[i] = append(wrong[i], fmt.Sprint(path, " ", a.status))
				}
			}
		})
	}
	all.Wait()
	assert.Equal(t, make([][]string, len(everyone)), wrong)
	after, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	assert.Len(t, after, len(before)+len(everyone))
}
